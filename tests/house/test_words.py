"""Every source key that the program prints is in the bibliography, and files speak of the job only."""

import re
import tomllib
from pathlib import Path

from groutjobs import units
from groutjobs.limits import LIMITS
from groutjobs.sources import sources

ROOT = Path(__file__).resolve().parents[2]
TEXT_FILES = [
    path
    for folder in ("groutjobs", "templates", "static", "tests", "fixtures")
    for path in (ROOT / folder).rglob("*")
    if path.is_file()
    and "vendor" not in path.parts
    and path.suffix in {".py", ".html", ".css", ".js", ".toml", ".md", ".json", ".txt", ".csv"}
] + [ROOT / name for name in ("README.md", "DEVELOPERS.md", "pyproject.toml", "manage.py")]
KEY = re.compile(r"\[([A-Z][A-Z0-9.]*(?:-[A-Z0-9]+)*)(?:[ ,][^\]]*)?\]")


def test_every_limit_names_a_known_source_and_unit() -> None:
    assert {key for key, limit in LIMITS.items() if limit.source not in sources()} == set()
    assert {key for key, limit in LIMITS.items() if limit.suffix and limit.suffix not in units.UNITS_OF} == set()


def test_every_limit_is_ordered() -> None:
    wrong = [k for k, x in LIMITS.items() if not x.low <= x.likely_low < x.likely_high <= x.high]
    assert wrong == []


def test_every_source_key_in_engineering_docstrings_is_in_the_bibliography() -> None:
    cited = set()
    for folder in ("engineering", "scheduling"):
        for path in (ROOT / "groutjobs" / folder).glob("*.py"):
            for section in re.findall(r"Source\n\s*-+\n(.*?)(?:\n\s*\n|\"\"\")", path.read_text(), re.S):
                cited |= set(KEY.findall(section))
    assert len(cited) > 10
    assert cited - set(sources()) == set()


def test_every_golden_file_states_its_source_and_tolerance() -> None:
    files = sorted((ROOT / "fixtures" / "golden").glob("*.toml"))
    assert len(files) >= 5
    for path in files:
        text = path.read_text(encoding="utf-8")
        tomllib.loads(text)
        assert "source" in text, path
        assert "toler" in text, path


def test_no_file_carries_a_path_of_a_machine_or_a_registry() -> None:
    forbidden = re.compile(r"/root/|/home/\w+/|/tmp/|/work/|files\.pythonhosted|registry\.npmjs|pypi\.org/simple")
    own = Path(__file__)
    found = [
        f"{path.relative_to(ROOT)}: {match.group()}"
        for path in TEXT_FILES
        if path != own and (match := forbidden.search(path.read_text(encoding="utf-8")))
    ]
    assert found == []
