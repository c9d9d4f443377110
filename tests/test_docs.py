"""The docs promise what there is: generated pages are compared, links are followed."""

import json
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from seamwalk.cli import app

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
COMMANDS = [
    [],
    ["card"],
    ["measure"],
    ["plan"],
    ["resume"],
    ["looks"],
    ["settings"],
    ["scene"],
    ["benchmark"],
    ["benchmark", "photos"],
    ["benchmark", "speed"],
    ["benchmark", "motifs"],
    ["benchmark", "sizes"],
    ["benchmark", "seams"],
    ["benchmark", "routes"],
]


def _compare(path, text, rewrite):
    if rewrite:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    assert path.read_text(encoding="utf-8") == text, f"run pytest {__name__} --rewrite"


def test_command_line_reference(rewrite):
    runner = CliRunner(env={"COLUMNS": "100", "TERMINAL_WIDTH": "100", "NO_COLOR": "1"})
    parts = ["# Command line", "", "Made from `--help`; a test compares it.", ""]
    for words in COMMANDS:
        shown = runner.invoke(app, [*words, "--help"], prog_name="seamwalk")
        assert shown.exit_code == 0
        lines = [line.rstrip() for line in shown.output.strip().splitlines()]
        parts += [f"## `{' '.join(['seamwalk', *words])}`", "", "```text", *lines, "```", ""]
    _compare(ROOT / "docs" / "cli.md", "\n".join(parts), rewrite)


def test_every_command_is_in_the_reference():
    text = (ROOT / "docs" / "cli.md").read_text(encoding="utf-8")
    for command in app.registered_commands:
        assert f"## `seamwalk {command.callback.__name__}`" in text


def test_every_setting_is_on_its_page():
    from seamwalk.files.settings_schema import entries

    text = (ROOT / "docs" / "settings.md").read_text(encoding="utf-8")
    for name in entries():
        assert f"| `{name}` |" in text, name


@pytest.mark.parametrize("name", ["top", "plan", "done"])
def test_published_schemas(name, rewrite):
    from seamwalk.files import done_file, plan_file, top_file

    schema = {"top": top_file, "plan": plan_file, "done": done_file}[name].schema()
    text = json.dumps(schema, indent=1, ensure_ascii=False) + "\n"
    _compare(ROOT / "docs" / "schemas" / f"{name}.schema.json", text, rewrite)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", page.read_text(encoding="utf-8")):
        if not re.match(r"[a-z]+:", target):
            assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_readme_has_its_two_commands():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for name in ("sample", "tests"):
        block = re.search(rf"<!-- {name} -->\n```bash\n(.+)\n```\n<!-- end -->", text)
        assert block, name
        assert "\n" not in block[1]
