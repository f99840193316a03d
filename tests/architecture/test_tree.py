"""What lies in the repository, and what it loads."""

import ast
import re
from pathlib import Path

import pytest
from celery import Task

from curehouse.jobs import tasks
from tests.architecture.sources import PACKAGES, ROOT, calls_of, committed, name_of, python_files, tree_of

TOP = {
    "pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE", "manage.py", "docker-compose.yml",
    "curehouse", "inventory", "api", "tests",
}  # fmt: skip
_LOADS = re.compile(
    r"""(?:\bsrc(?:set)?\s*=|\bhref\s*=|\baction\s*=|url\(|@import|\bimport\b[^;\n]*?|\bfetch\(|\bimportScripts\()\s*["']?\s*(?:https?:)?//[a-z0-9]""",
    re.IGNORECASE,
)
# Settings read it, commands prepare it, and the two entrances name the settings in it.
_READ_IT = ("curehouse/settings/", "curehouse/commands/", "curehouse/celery.py", "curehouse/wsgi.py")
READS_NO_ENVIRONMENT = [path for path in python_files(*PACKAGES) if not name_of(path).startswith(_READ_IT)]
PAGES = [path for path in committed() if path.suffix in {".html", ".css", ".js", ".svg", ".webmanifest"}]


def test_the_top_level_holds_what_the_design_lists_and_dot_files() -> None:
    names = {name_of(path).partition("/")[0] for path in committed()}
    assert {name for name in names if not name.startswith(".")} == TOP


@pytest.mark.parametrize("path", PAGES, ids=name_of)
def test_nothing_is_loaded_from_another_host(path: Path) -> None:
    found = _LOADS.search(path.read_text(encoding="utf-8"))
    assert found is None, found


@pytest.mark.parametrize("path", [path for path in PAGES if path.suffix == ".html"], ids=name_of)
def test_no_script_or_style_stands_in_a_page(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    scripts = re.findall(r"<script\b[^>]*>(.*?)</script>", text, re.DOTALL | re.IGNORECASE)
    assert [script for script in scripts if script.strip()] == []
    assert not re.search(r"<style\b|\sstyle\s*=|\son[a-z]+\s*=|javascript:", text, re.IGNORECASE)


def test_what_would_load_from_another_host_is_found() -> None:
    for bad in (
        '<script src="https://other.example/x.js">', "<link href='//other.example/x.css'>", "@import url(http://other.example/a.css)",
        'import x from "https://other.example/x.js"', "fetch('https://other.example')",
    ):  # fmt: skip
        assert _LOADS.search(bad), bad
    for good in ('<svg xmlns="http://www.w3.org/2000/svg">', '<a href="/racks/">', "url(plain.woff2)"):
        assert not _LOADS.search(good), good


def settings_from_outside() -> set[str]:
    """Return the names that settings read through the helpers of ``env``."""
    calls = (ast.unparse(call) for path in python_files("curehouse") for call in calls_of(path))
    found = (re.match(r"env\.\w+\('(\w+)'", call) for call in calls)
    return {one[1] for one in found if one}


def test_every_setting_from_outside_is_explained() -> None:
    said = "".join((ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md"))
    names = settings_from_outside()
    assert "DATABASE_URL" in names
    assert sorted(name for name in names if not re.search(rf"\b{name}\b", said)) == []


def test_every_task_is_explained() -> None:
    said = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    names = [one.name for one in vars(tasks).values() if isinstance(one, Task)]
    assert "jobs.tick" in names
    assert [name for name in names if name not in said] == []


@pytest.mark.parametrize("path", READS_NO_ENVIRONMENT, ids=name_of)
def test_the_environment_is_read_in_settings_and_commands_only(path: Path) -> None:
    found = {ast.unparse(node) for node in ast.walk(tree_of(path)) if isinstance(node, ast.Attribute)}
    assert not {"os.environ", "os.getenv"} & found
