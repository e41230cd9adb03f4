"""The pieces of SVG: well-formed, escaped, presentation attributes only."""

import math
import xml.etree.ElementTree as ET

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from groutjobs import svg


def read(markup: str) -> ET.Element:
    return ET.fromstring(markup)  # noqa: S314


def test_an_attribute_name_gets_hyphens_and_none_is_left_out() -> None:
    assert svg.element("line", stroke_width=2, fill=None, x1=0.5) == '<line stroke-width="2" x1="0.5"/>'


@pytest.mark.parametrize(("value", "shown"), [(0, "0"), (-0.001, "0"), (1.005, "1"), (2.5, "2.5"), (-3.456, "-3.46")])
def test_a_length_keeps_a_hundredth_of_a_unit(value: float, shown: str) -> None:
    assert svg.number(value) == shown


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_number_that_is_none_is_not_drawn(value: float) -> None:
    with pytest.raises(ValueError, match="cannot be drawn"):
        svg.circle(value, 0, 1)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.text(alphabet=st.characters(min_codepoint=32, max_codepoint=0xFFFD, exclude_categories=["Cs"]), min_size=1))
def test_any_words_come_back_as_they_were(words: str) -> None:
    assert read(svg.text(0, 0, words)).text == words


def test_hostile_words_stay_words() -> None:
    markup = svg.text(0, 0, "</text><script>alert(1)</script>", font_weight='"><x')
    assert "<script" not in markup
    assert read(markup).attrib["font-weight"] == '"><x'


def test_a_picture_names_itself_and_carries_no_style() -> None:
    root = read(svg.picture([svg.rect(0, 0, 2, 1)], width=10, height=5, label="A & B", described="one box"))
    assert root.attrib["viewBox"] == "0 0 10 5"
    assert root.attrib["aria-label"] == "A & B"
    assert not {"style", "class"} & {name for piece in root.iter() for name in piece.attrib}


def test_a_group_of_nothing_is_nothing() -> None:
    assert svg.group([]) == ""
