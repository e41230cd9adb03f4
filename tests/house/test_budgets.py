"""Sizes that keep the code readable. The numbers are budgets of the house, measured on code bases that read well."""

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CODE = sorted(path for path in (ROOT / "groutjobs").rglob("*.py") if "migrations" not in path.parts)
TESTS = sorted((ROOT / "tests").rglob("*.py"))
Definition = ast.FunctionDef | ast.AsyncFunctionDef


def functions(paths: list[Path]) -> Iterator[tuple[str, Definition]]:
    for path in paths:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, Definition):
                yield f"{path.relative_to(ROOT)}:{node.lineno} {node.name}", node


def body_lines(node: Definition) -> int:
    """Lines of the body without the docstring."""
    body = node.body[1:] if ast.get_docstring(node) and len(node.body) > 1 else node.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1


def test_no_function_is_over_sixty_lines_and_few_are_over_thirty() -> None:
    lengths = {name: body_lines(node) for name, node in functions(CODE)}
    assert [name for name, lines in lengths.items() if lines > 60] == []
    long = [name for name, lines in lengths.items() if lines > 30]
    assert len(long) <= 0.02 * len(lengths), long


def test_no_file_is_over_six_hundred_lines() -> None:
    sizes = {str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines()) for path in CODE + TESTS}
    assert {name: lines for name, lines in sizes.items() if lines > 600} == {}


def test_views_are_short() -> None:
    views = [path for path in CODE if path.name == "views.py"]
    assert [name for name, node in functions(views) if body_lines(node) > 25] == []


def test_templates_are_short() -> None:
    sizes = {
        path.name: len(path.read_text(encoding="utf-8").splitlines()) for path in (ROOT / "templates").rglob("*.html")
    }
    assert {name: lines for name, lines in sizes.items() if lines > 120} == {}


def test_docstrings_are_short() -> None:
    too_long = [name for name, node in functions(CODE) if len((ast.get_docstring(node) or "").splitlines()) > 45]
    assert too_long == []


def test_every_test_asserts_something() -> None:
    """A test holds an assert, an expected error, or a helper whose name starts with assert or expect."""

    def can_fail(node: Definition) -> bool:
        for inner in ast.walk(node):
            if isinstance(inner, ast.Assert):
                return True
            if isinstance(inner, ast.Call):
                text = ast.unparse(inner.func)
                if text.endswith("raises") or "assert" in text or text.rsplit(".", 1)[-1].startswith("expect"):
                    return True
        return False

    tests = [(name, node) for name, node in functions(TESTS) if node.name.startswith("test_")]
    assert len(tests) > 100
    assert [name for name, node in tests if not can_fail(node)] == []


def test_no_test_is_skipped() -> None:
    words = ("mark.skip", "pytest.skip(", "mark.xfail", "importorskip")
    own = Path(__file__)
    assert [str(path) for path in TESTS if path != own and any(word in path.read_text() for word in words)] == []


def test_every_action_is_wrapped_by_the_record() -> None:
    bare = [
        f"{path.parent.name}.{node.name}"
        for path in CODE
        if path.name.startswith("actions") and path.parent.name != "audit"
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, Definition) and not node.name.startswith("_") and writes(node)
        if not any(ast.unparse(mark) == "action" for mark in node.decorator_list)
    ]
    assert bare == []


def writes(node: Definition) -> bool:
    text = ast.unparse(node)
    return any(word in text for word in (".save(", ".create(", ".bulk_create(", ".delete(", ".update("))
