"""The house's own sources, read as trees."""

import ast
import subprocess
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("curehouse", "inventory", "api")
# Where requests, tasks and commands come in.
DOORS = ("curehouse/web", "api", "curehouse/jobs", "curehouse/commands")


@cache
def python_files(*tops: str) -> tuple[Path, ...]:
    """Return the Python files below *tops*, without migrations, which Django writes."""
    found = (path for top in tops for path in sorted((ROOT / top).rglob("*.py")))
    return tuple(path for path in found if "migrations" not in path.parts)


@cache
def tree_of(path: Path) -> ast.Module:
    """Return *path* parsed."""
    return ast.parse(path.read_text(encoding="utf-8"))


def name_of(path: Path) -> str:
    """Return *path* as seen from the top of the repository."""
    return path.relative_to(ROOT).as_posix()


def calls_of(path: Path) -> Iterator[ast.Call]:
    """Yield every call in *path*."""
    return (node for node in ast.walk(tree_of(path)) if isinstance(node, ast.Call))


def method_of(call: ast.Call) -> str:
    """Return the name of the method or function that is called, or nothing."""
    if isinstance(call.func, ast.Attribute):
        return call.func.attr
    return call.func.id if isinstance(call.func, ast.Name) else ""


def chain_of(call: ast.Call) -> list[str]:
    """Return the methods called one on the other, the last first."""
    names = []
    node: ast.expr = call
    while isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        names.append(node.func.attr)
        node = node.func.value
    return names


def committed() -> list[Path]:
    """Return the files of the git tree that are there."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, check=True, capture_output=True, text=True)
    return [path for name in listed.stdout.split("\0") if name and (path := ROOT / name).is_file()]
