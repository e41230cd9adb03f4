"""The picture of placed volume: to scale, well formed, readable without colour."""

import xml.etree.ElementTree as ET

import pytest

from groutjobs.pours.drawing import fill_picture
from groutjobs.pours.log import Fill
from tests.pours.facts import START

NS = "{http://www.w3.org/2000/svg}"


def fill(name: str, placed_l: float, *, is_full: bool = False) -> Fill:
    return Fill(name, 120.0, 4.0, placed_l, START if is_full else None, None, ())


def bars(*fills: Fill) -> list[float]:
    picture = ET.fromstring(fill_picture(fills, system="metric"))  # noqa: S314  our own text
    ink = [rect for rect in picture.iter(f"{NS}rect") if rect.get("fill") == "#14213d"]
    return [float(rect.get("width", "nan")) for rect in ink[:-1]]


def test_bars_are_as_long_as_the_volumes() -> None:
    """Lengths are printed to a hundredth of a unit, hence the tolerance."""
    first, second = bars(fill("A", 120.0), fill("B", 60.0))
    assert first == pytest.approx(2 * second, abs=0.02)


def test_a_bar_far_over_the_takeoff_stays_in_the_picture() -> None:
    assert bars(fill("A", 900.0)) == [pytest.approx(480.0 - 12.0)]


def test_it_says_in_words_what_it_shows() -> None:
    text = fill_picture([fill("A", 113.2, is_full=True)], system="metric")
    assert "A: 113.2 L of 120.0 L, full" in text
    assert "4.00" not in fill_picture([fill("A", 113.2)], system="us")
    assert "3.998 ft³" in fill_picture([fill("A", 113.2)], system="us")


def test_names_are_escaped_and_nothing_needs_a_style_sheet() -> None:
    text = fill_picture([fill("<b>", 1.0)], system="metric")
    assert "<b>" not in text
    assert "style" not in text
    assert "class" not in text
