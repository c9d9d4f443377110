"""Options of the whole suite."""

import pytest


def pytest_addoption(parser):
    parser.addoption(
        "--rewrite",
        action="store_true",
        help="write generated pages (docs/cli.md, docs/schemas) anew instead of comparing them",
    )


@pytest.fixture(autouse=True, scope="session")
def _nobody_s_own_settings(tmp_path_factory):
    """Keep the settings of whoever runs the tests out of them (on Linux and macOS)."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield


@pytest.fixture
def rewrite(request):
    return request.config.getoption("--rewrite")
