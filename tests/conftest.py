"""Options of the whole suite."""

import pytest


def pytest_addoption(parser):
    parser.addoption(
        "--rewrite",
        action="store_true",
        help="write generated pages (docs/cli.md, docs/schemas) anew instead of comparing them",
    )


@pytest.fixture
def rewrite(request):
    return request.config.getoption("--rewrite")
