"""The fold in Python and the fold on the phone say the same of the same entries: this is the half in Python."""

import json
from typing import Any

import pytest

from tests.pours import facts as made
from tests.pours import fold_cases

GOLDEN: dict[str, Any] = json.loads(fold_cases.PATH.read_text(encoding="utf-8"))


def test_the_file_holds_tidy_and_untidy_pours() -> None:
    assert len(GOLDEN["cases"]) > 25
    assert {case["said"]["state"] for case in GOLDEN["cases"].values()} == {
        "prepared", "released", "poured", "placed", "settled"
    }  # fmt: skip


@pytest.mark.parametrize("name", sorted(GOLDEN["cases"]))
def test_python_says_of_each_case_what_the_file_says(name: str) -> None:
    case = GOLDEN["cases"][name]
    log = made.log_from([fold_cases.fact_read(one) for one in case["facts"]])
    assert json.loads(json.dumps(fold_cases.said(log))) == case["said"]


def test_the_snapshot_of_the_file_is_the_basis_of_the_cases() -> None:
    assert json.loads(json.dumps(fold_cases.snapshot())) == GOLDEN["snapshot"]
