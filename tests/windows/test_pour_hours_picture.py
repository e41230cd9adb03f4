"""The picture of pour hours: well formed, plain enough for page and PDF, and true to the result."""

import datetime as dt
import itertools
import re
import xml.etree.ElementTree as ET

import pytest
import weasyprint

from groutjobs.windows.drawing import pour_hours_picture
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import start_hour
from tests.windows.asked import planned, searched, spring

pytestmark = pytest.mark.django_db
SVG = "{http://www.w3.org/2000/svg}"
NEW_YORK = "America/New_York"


@pytest.fixture
def found() -> PourHours:
    plan = planned()
    return searched(plan, spring(plan, days=5))


def words_of(picture: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(picture).iter(f"{SVG}text")]  # noqa: S314


def test_it_is_well_formed_without_style_or_script(found: PourHours) -> None:
    root = ET.fromstring(pour_hours_picture(found.result, NEW_YORK))  # noqa: S314
    assert root.tag == f"{SVG}svg"
    assert root.attrib["aria-label"]
    assert {element.tag for element in root.iter()} & {f"{SVG}style", f"{SVG}script"} == set()
    assert not [element for element in root.iter() if "style" in element.attrib]


def test_its_patterns_are_its_own(found: PourHours) -> None:
    """Two pictures on one page must not take each other's patterns."""
    other = searched(found.plan, found.forecast, material_c=24.0)
    ids = [set(re.findall(r' id="([^"]+)"', pour_hours_picture(each.result, NEW_YORK))) for each in (found, other)]
    assert len(ids[0]) == 2
    assert ids[0] & ids[1] == set()
    used = set(re.findall(r"url\(#([^)]+)\)", pour_hours_picture(found.result, NEW_YORK)))
    assert used == ids[0]


def test_limits_stand_with_value_and_source(found: PourHours) -> None:
    words = words_of(pour_hours_picture(found.result, NEW_YORK))
    assert "10.0 °C at least: air, concrete, plate" in words
    assert "[BLOCH-MCM, API686]" in words
    us = words_of(pour_hours_picture(found.result, NEW_YORK, "us"))
    assert "50.0 °F at least: air, concrete, plate" in us
    assert not [word for word in us if "°C" in word]


def test_every_kind_of_rule_has_its_strip(found: PourHours) -> None:
    words = words_of(pour_hours_picture(found.result, NEW_YORK))
    for label in {rule["label"] for rule in found.result["rules"]}:
        assert [word for word in words if word.startswith(label)], label


def test_days_are_those_of_the_site(found: PourHours) -> None:
    words = words_of(pour_hours_picture(found.result, NEW_YORK))
    assert [word for word in words if word.endswith(" Apr")][:2] == ["Mon 5 Apr", "Tue 6 Apr"]


def test_numbers_mark_the_best_runs(found: PourHours) -> None:
    words = words_of(pour_hours_picture(found.result, NEW_YORK))
    shown = min(5, len(found.result["runs"]))
    assert sorted(word for word in words if word in set("12345")) == [str(n) for n in range(1, shown + 1)]


def test_a_chosen_hour_is_marked(found: PourHours) -> None:
    chosen_at = start_hour(found, 30).at
    assert "chosen hour" in words_of(pour_hours_picture(found.result, NEW_YORK, chosen_at=chosen_at))
    beyond = chosen_at + dt.timedelta(days=99)
    assert "chosen hour" not in words_of(pour_hours_picture(found.result, NEW_YORK, chosen_at=beyond))


def test_a_day_of_a_clock_change_keeps_the_hours_evenly_apart() -> None:
    """Midnights about 14 March 2027, when New York skips an hour, lie 24, 23 and 24 hours apart."""
    plan = planned()
    result = searched(plan, spring(plan, first_day=dt.date(2027, 3, 13), days=4)).result
    root = ET.fromstring(pour_hours_picture(result, NEW_YORK))  # noqa: S314
    days = [element for element in root.iter(f"{SVG}text") if re.fullmatch(r"\w{3} 1[3-6] Mar", element.text or "")]
    x = sorted({float(element.attrib["x"]) for element in days})
    steps = [after - before for before, after in itertools.pairwise(x)]
    assert steps[1] / steps[0] == pytest.approx(23 / 24, abs=0.001)
    assert steps[2] / steps[0] == pytest.approx(1.0, abs=0.001)


def test_the_pdf_renderer_draws_it(found: PourHours) -> None:
    page = weasyprint.HTML(string=f"<body>{pour_hours_picture(found.result, NEW_YORK)}</body>").render()
    assert len(page.pages) == 1
