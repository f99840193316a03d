"""The house is walked one way, and its cores know nothing of it."""

import ast
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture.sources import PACKAGES, ROOT, name_of, python_files, tree_of

CORES = [path for path in python_files("curehouse/core") if path.name != "__init__.py"]


def test_imports_go_down_only() -> None:
    lint = shutil.which("lint-imports", path=str(Path(sys.executable).parent))
    assert lint, "import-linter is among the development dependencies"
    done = subprocess.run([lint, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_importing_every_core_loads_neither_django_nor_celery() -> None:
    names = [name_of(path).removesuffix(".py").replace("/", ".") for path in CORES]
    program = f"import sys, {', '.join(names)}; print(*sorted({{name.partition('.')[0] for name in sys.modules}}))"
    loaded = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)
    assert "curehouse" in loaded.stdout.split()
    assert not {"django", "celery", "kombu", "redis", "rest_framework"} & set(loaded.stdout.split())


@pytest.mark.parametrize("path", CORES, ids=name_of)
def test_a_core_reads_no_clock_and_opens_nothing(path: Path) -> None:
    forbidden = {"os", "pathlib", "time", "random", "socket", "subprocess", "logging", "io", "datetime"}
    for node in ast.walk(tree_of(path)):
        modules = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        modules += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        assert not forbidden & {module.partition(".")[0] for module in modules}, modules
        assert not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in {"open", "print"})


@pytest.mark.parametrize("package", PACKAGES)
def test_a_package_imports_nothing_by_being_there(package: str) -> None:
    assert (ROOT / package / "__init__.py").read_text(encoding="utf-8").strip() == ""


@pytest.mark.parametrize("path", python_files(*PACKAGES, "tests"), ids=name_of)
def test_nothing_is_imported_inside_a_function(path: Path) -> None:
    functions = [node for node in ast.walk(tree_of(path)) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    inside = [node.lineno for one in functions for node in ast.walk(one) if isinstance(node, ast.Import | ast.ImportFrom)]
    assert inside == []


def _imported(path: Path) -> set[tuple[str, str]]:
    """Return what a module imports from where; a module that is imported whole stands as what it holds: ``*``."""
    found = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {(node.module, alias.name) for alias in node.names}
            found |= {(f"{node.module}.{alias.name}", "*") for alias in node.names}
    return found


def _told_further() -> set[tuple[str, str]]:
    """Return the verbs of domains that a flow of the same name calls, for what follows elsewhere in the house."""
    found = set()
    for path in python_files("curehouse/flows"):
        own = {node.name for node in tree_of(path).body if isinstance(node, ast.FunctionDef)}
        modules = {module for module, _name in _imported(path) if ".services" in module}
        found |= {(module, name) for module in modules for name in own}
    return found


@pytest.mark.parametrize("door", ["curehouse/web", "api", "curehouse/jobs", "curehouse/commands"])
def test_no_door_goes_past_a_flow_to_the_verb_it_is_named_after(door: str) -> None:
    told_further = _told_further()
    assert ("inventory.services.offers", "end_offer") in told_further
    past = {f"{name_of(path)}: {name}" for path in python_files(door) for module, name in _imported(path) & told_further}
    assert past == set()


def listeners(tree: ast.Module) -> list[str]:
    """Return what *tree* connects to a signal, of Django or of Celery."""
    imports = [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    signals = {alias.asname or alias.name for one in imports if (one.module or "").endswith("signals") for alias in one.names}
    found = [alias.name for one in imports if (one.module or "").startswith("django.dispatch") for alias in one.names]
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr == "connect" and isinstance(node.value, ast.Name):
            found += [node.value.id] if node.value.id in signals else []
    return found


@pytest.mark.parametrize("path", python_files(*PACKAGES), ids=name_of)
def test_nothing_listens_to_signals(path: Path) -> None:
    """What follows from what is called by name, in a flow."""
    assert listeners(tree_of(path)) == []


def test_a_listener_would_be_found_out() -> None:
    for source in (
        "from django.dispatch import receiver",
        "from django.db.models.signals import post_save\npost_save.connect(print)",
        "from celery.signals import task_failure as failed\n@failed.connect\ndef f(): ...",
    ):
        assert listeners(ast.parse(source)), source
