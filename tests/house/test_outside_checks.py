"""The promise that the main job is checked against something outside the project: counted, sourced, and in use."""

import ast
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from groutjobs.sources import sources
from tests.golden import GoldenCase, every_golden_case

ROOT = Path(__file__).resolve().parents[2]
TESTS = sorted(path for path in (ROOT / "tests").rglob("test_*.py") if path != Path(__file__))
OUTSIDE = sorted((ROOT / "tests" / "engineering").glob("test_outside_*.py"))
CASES = every_golden_case()
LEAST_PRINTED, LEAST_COMPARISONS, LEAST_LIBRARIES = 30, 5, 5
NOT_NUMBERS = {"source", "basis", "columns"}
"""What stands in a case for people."""


@dataclass(frozen=True)
class Comparison:
    """One test against a library: what its docstring says, and the modules that its file imports."""

    name: str
    libraries: tuple[str, ...]
    text: str
    imports: frozenset[str]


@cache
def text_of(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def readers(case: GoldenCase) -> list[Path]:
    """Test files that read the table of a case, through tests/golden.py or by opening the file themselves."""
    call = re.compile(rf'golden_cases\("{case.file}", "{case.table}"\)')
    any_table = re.compile(rf'golden_cases\("{case.file}", table\)')
    return [
        path
        for path in TESTS
        if call.search(text_of(path))
        or (any_table.search(text_of(path)) and f'"{case.table}"' in text_of(path))
        or (f'"{case.file}.toml"' in text_of(path) and f'GOLDEN["{case.table}"]' in text_of(path))
    ]


def imported(tree: ast.Module) -> frozenset[str]:
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return frozenset(names)


def comparisons() -> list[Comparison]:
    found = []
    for path in OUTSIDE:
        tree = ast.parse(text_of(path))
        for node in tree.body:
            text = " ".join((ast.get_docstring(node) or "").split()) if isinstance(node, ast.FunctionDef) else ""
            if isinstance(node, ast.FunctionDef) and text.startswith("Reference: "):
                libraries = tuple(re.findall(r"\b(?:scipy|numpy)\.\w+|\b(?:psychrolib|pvlib|shapely)\b", text))
                found.append(Comparison(f"{path.stem}.{node.name}", libraries, text, imported(tree)))
    return found


def test_thirty_cases_are_printed_by_somebody_else() -> None:
    printed = [case for case in CASES if case.values["basis"] == "printed"]
    assert len(printed) >= LEAST_PRINTED


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.file}-{case.table}")
def test_each_case_states_source_basis_tolerance_and_its_reason(case: GoldenCase) -> None:
    key = re.match(r"[A-Z][A-Z0-9]*(?:[.-][A-Z0-9]+)*", case.values["source"])
    assert key, case
    assert key.group() in sources(), case
    assert case.values["basis"] in {"printed", "worked"}, case
    assert len(case.values["tolerance_reason"]) > 10, case
    tolerances = {name: value for name, value in case.values.items() if re.search(r"tolerance(_|$)(?!reason)", name)}
    assert any(value > 0 for value in tolerances.values()), case


def test_a_figure_from_memory_says_so() -> None:
    """Where the bibliography knows a source from memory only, the case tells of it beside the value."""
    silent = [
        f"{case.file}.{case.table}"
        for case in CASES
        for key in [case.values["source"].split()[0].strip(":,")]
        if sources()[key].known_by == "memory"
        and case.values["basis"] == "printed"
        and "from memory" not in case.values["source"]
        and "read" not in case.values["source"]
        and "quoted" not in case.values["source"]
    ]
    assert silent == []


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.file}-{case.table}")
def test_no_case_is_dead(case: GoldenCase) -> None:
    """Some test reads the table, and every number of it."""
    files = readers(case)
    assert files, f"no test reads {case.file}.{case.table}"
    texts = "".join(text_of(path) for path in files)
    names = {name for name in case.values if name not in NOT_NUMBERS and not name.endswith("reason")}
    assert {name for name in names if f'"{name}"' not in texts} == set()


def test_the_comparisons_with_libraries_are_many_and_say_range_and_tolerance() -> None:
    found = comparisons()
    assert len(found) >= LEAST_COMPARISONS
    assert len({library for one in found for library in one.libraries}) >= LEAST_LIBRARIES
    assert [one.name for one in found if not one.libraries or "Range: " not in one.text] == []
    assert [one.name for one in found if "Tolerance: " not in one.text] == []


def test_each_comparison_uses_the_library_that_it_names() -> None:
    wrong = [
        (one.name, library)
        for one in comparisons()
        for library in one.libraries
        if library != "numpy.linalg" and library != "numpy.random"
        if not any(name == library or name.startswith(f"{library}.") for name in one.imports)
    ]
    assert wrong == []


def test_the_table_for_developers_names_each_file_of_outside_checks() -> None:
    section = text_of(ROOT / "DEVELOPERS.md").split("## Outside checks")[1].split("\n## ")[0]
    files = [path.name for path in OUTSIDE] + sorted({f"{case.file}.toml" for case in CASES})
    assert [name for name in files if f"`{name}`" not in section] == []
