"""Pictures: well-formed, presentation attributes only, the same from stored JSON as from rows."""

import json
import xml.etree.ElementTree as ET
from typing import Any

import pytest

from groutjobs.curing.actions import record_bolts, record_level, record_sounding
from groutjobs.curing.drawing import cure_picture, inspection_picture
from groutjobs.curing.queries import cure_of
from groutjobs.pours.models import Pour
from tests.curing.rows import bolt_rows, head, level_rows, sounding_rows
from tests.factories import PLACED_AT, make_cure_readings, make_placed_pour, make_pour

pytestmark = pytest.mark.django_db
SVG = "{http://www.w3.org/2000/svg}"
KNOWN = {"svg", "desc", "g", "rect", "line", "polyline", "polygon", "circle", "text"}


def parsed(picture: str) -> ET.Element:
    return ET.fromstring(picture)  # noqa: S314


def words(picture: str) -> list[str]:
    return [element.text or "" for element in parsed(picture).iter(f"{SVG}text")]


def assert_plain(picture: str) -> None:
    """Only shapes and text, no style, class or script: so it passes the content policy and the PDF renderer."""
    for element in parsed(picture).iter():
        assert element.tag.removeprefix(SVG) in KNOWN
        assert not {"style", "class", "onload", "href"} & set(element.attrib)


def cured(**readings: list[tuple[float, float]]) -> Pour:
    pour = make_placed_pour()
    for probe, temps in readings.items():
        make_cure_readings(pour=pour, temps=temps, probe=probe)
    return pour


def drawn(pour: Pour, *, system: str = "metric") -> str:
    """The picture two days after placing, from the state as JSON stores it."""
    state: dict[str, Any] = json.loads(json.dumps(cure_of(pour, at=PLACED_AT.replace(day=2, month=5), system=system)))
    return cure_picture(state, zone="America/New_York", system=system)


def test_the_cure_picture_shows_every_probe_and_milestone() -> None:
    hours = [(float(hour), 20.0 + hour % 5) for hour in range(-4, 45)]
    picture = drawn(cured(grout=hours, concrete=hours, plate=hours, air=hours))
    assert_plain(picture)
    shown = " ".join(words(picture))
    for part in (
        "grout",
        "concrete",
        "plate",
        "air",
        "strip",
        "jackscrews",
        "tension, align",
        "24 h strip",
        "Fri 1 May",
    ):
        assert part in shown


@pytest.mark.parametrize(
    "grout", [[], [(0.0, 23.0)], [(5.0, 5.0)], [(0.0, 23.0), (30.0, 9.0)], [(hour / 60, 40.0) for hour in range(3_000)]]
)
def test_it_can_be_drawn_from_any_readings(grout: list[tuple[float, float]]) -> None:
    assert_plain(drawn(cured(grout=grout)))


def test_a_gap_and_the_limits_of_the_clock_are_marked() -> None:
    shown = words(drawn(cured(grout=[(0.0, 23.0), (1.0, 24.0), (20.0, 22.0), (21.0, 7.0)])))
    assert {"gap", "age if gaps ran cold", "stands still below", "8.0 °C"} <= set(shown)


def test_a_us_reader_gets_a_fahrenheit_axis() -> None:
    shown = words(drawn(cured(grout=[(0.0, 23.0), (1.0, 24.0)]), system="us"))
    assert "°F" in shown
    assert "°C" not in " ".join(shown)


def test_before_placing_there_is_nothing_to_draw() -> None:
    assert cure_picture(cure_of(make_pour()), zone="UTC") == ""


@pytest.mark.parametrize("system", ["metric", "us"])
def test_inspections_are_drawn_from_what_was_stored(system: str) -> None:
    pour = make_placed_pour()
    by = pour.opened_by
    rows = [
        record_level(pour=pour, head=head(remarks="x"), rows=level_rows(0.0, 0.3, 0.0, 0.0), by=by),
        record_sounding(
            pour=pour, head=head(verdict="refused"), rows=sounding_rows(pour, hollow=("A2.3", "A2.4")), by=by
        ),
        record_bolts(pour=pour, head=head(), rows=bolt_rows(pour), by=by),
    ]
    for row, part in zip(rows, ("level reading", "hollow area", "order of tightening"), strict=True):
        picture = inspection_picture(row.kind, row.inputs, row.result, system=system)
        assert_plain(picture)
        assert part in " ".join(words(picture))
