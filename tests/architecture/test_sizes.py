"""Nothing grows past what one can read in one sitting."""

import ast
from pathlib import Path

import pytest

from tests.architecture.sources import PACKAGES, name_of, python_files, tree_of

MODULE_LINES, CLASS_LINES, FUNCTION_LINES = 400, 150, 50
FILES = python_files(*PACKAGES, "tests")


def length(node: ast.stmt) -> int:
    return (node.end_lineno or node.lineno) - node.lineno + 1


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_a_module_its_classes_and_its_functions_stay_small(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= MODULE_LINES
    nodes = list(ast.walk(tree_of(path)))
    classes = [one for one in nodes if isinstance(one, ast.ClassDef)]
    functions = [one for one in nodes if isinstance(one, ast.FunctionDef | ast.AsyncFunctionDef)]
    too_long = {one.name: length(one) for one in classes if length(one) > CLASS_LINES}
    too_long |= {one.name: length(one) for one in functions if length(one) > FUNCTION_LINES}
    assert too_long == {}
