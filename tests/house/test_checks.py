"""The tools that every change must pass, run in the order of a developer's own check."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TOOLS = Path(sys.executable).parent


def run(*command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # noqa: S603
        command, cwd=ROOT, capture_output=True, text=True, check=False, env=os.environ | environment
    )


@pytest.mark.parametrize(
    "command",
    [
        ["ruff", "format", "--check", "."],
        ["ruff", "check", "."],
        ["lint-imports"],
        ["mypy"],
    ],
    ids=["format", "lint", "import contracts", "types"],
)
def test_the_tool_finds_nothing(command: list[str]) -> None:
    outcome = run(str(TOOLS / command[0]), *command[1:])
    assert outcome.returncode == 0, outcome.stdout + outcome.stderr


def test_every_model_change_has_its_migration() -> None:
    outcome = run(sys.executable, "-m", "django", "makemigrations", "--check", "--dry-run", "groutjobs",
                  DJANGO_SETTINGS_MODULE="groutjobs.settings")  # fmt: skip
    assert outcome.returncode == 0, outcome.stdout


def test_the_settings_pass_the_deployment_check() -> None:
    outcome = run(
        sys.executable, "-m", "django", "check", "--deploy", "--fail-level", "WARNING",
        DJANGO_SETTINGS_MODULE="groutjobs.settings", GROUTJOBS_PLAIN_HTTP="0", GROUTJOBS_SECRET_KEY="k3" * 40 + "y!Q#z",
    )  # fmt: skip
    assert outcome.returncode == 0, outcome.stderr


def test_migrations_stand_in_one_line() -> None:
    folder = ROOT / "groutjobs" / "migrations"
    names = sorted(path.stem for path in folder.glob("0*.py"))
    assert (folder / "max_migration.txt").read_text().strip() == names[-1]
    assert [name[:4] for name in names] == [f"{number:04}" for number in range(1, len(names) + 1)]
