"""Threads and grades as people write them are found in the tables."""

import pytest

from groutjobs.engineering.bolt_tables import grades, threads
from groutjobs.equipment.calc import grade_names, read_grade, read_thread, thread_names
from groutjobs.errors import Unusable


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        # [ISO261] coarse pitch is meant where none is written; [ASMEB1.1] a size with its threads per inch names one
        ("M24", "M24×3"),
        ("m24 x 3", "M24×3"),
        ("M 36×4", "M36×4"),
        ("1-8", "1-8 UNC"),
        ("3/4-10 unc", "3/4-10 UNC"),
        ("1 1/8-8 UN", "1 1/8-8 UN"),
        ("2-4 1/2 UNC", "2-4½ UNC"),
        ("2-4.5 UNC", "2-4½ UNC"),
    ],
)
def test_a_thread_is_read_as_it_is_meant(written: str, meant: str) -> None:
    assert read_thread(written) == meant


@pytest.mark.parametrize("written", ["M25", "1", "UNC", "1-7", "M24×2", "18", ""])
def test_a_thread_that_the_table_lacks_is_refused(written: str) -> None:
    with pytest.raises(Unusable, match="not in the table"):
        read_thread(written)


def test_every_name_of_the_tables_reads_as_itself() -> None:
    assert thread_names() == list(threads())
    assert [read_thread(name) for name in thread_names()] == thread_names()
    assert [read_grade(name) for name in grade_names()] == list(grades())


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("F1554-36", "ASTM F1554 grade 36"),
        ("f1554 gr. 105", "ASTM F1554 grade 105"),
        ("A193 B7", "ASTM A193 B7"),
        ("8.8", "ISO 898-1 class 8.8"),
        ("mill certificate 12", "mill certificate 12"),
    ],
)
def test_a_grade_is_known_by_its_short_name_and_others_are_kept(written: str, meant: str) -> None:
    assert read_grade(written) == meant
