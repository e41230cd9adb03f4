"""What a phone is told is enough to work without signal, and changes only when something changed."""

import json

import pytest

from groutjobs.limits import LIMITS
from groutjobs.pours.actions import add_entry
from groutjobs.pours.bodies import BODIES
from tests.factories import make_person
from tests.sync.calling import Wire, note, pour_and_phone

pytestmark = pytest.mark.django_db


def test_a_snapshot_holds_plan_forms_and_limits() -> None:
    pour, phone = pour_and_phone()
    told = Wire(phone).get(f"records/{pour.pk}/snapshot").json()
    assert told["takeoff"]["net_l"] == 240.0
    assert [point["code"] for point in told["points"]] == ["H", "W", "H"]
    assert told["grout"]["working_life"] == [[10.0, 180.0], [23.0, 90.0], [32.0, 48.0]]
    assert set(told["kinds"]) == set(BODIES) - {"struck", "resolved"}
    temp = next(slot for slot in told["kinds"]["reading"]["slots"] if slot["name"] == "temp_c")
    assert (temp["limit"]["low"], temp["limit"]["high"]) == (LIMITS["surface_c"].low, LIMITS["surface_c"].high)
    fahrenheit = next(unit for unit in temp["units"] if unit["key"] == "degF")
    # 23.5 °C = 74.3 °F, NIST SP 811
    assert 74.3 * fahrenheit["scale"] + fahrenheit["offset"] == pytest.approx(23.5)
    assert told["first_lot"] == told["lots"][0]["lot_no"]
    assert "Gloves" in told["kinds"]["liquids_started"]["caution"]


def test_working_life_is_told_at_every_half_degree_within_the_data_sheet() -> None:
    pour, phone = pour_and_phone()
    lives = Wire(phone).get(f"records/{pour.pk}/snapshot").json()["grout"]["life_by_tenth"]
    at = {lives["from_c"] + place * lives["step_k"]: minutes for place, minutes in enumerate(lives["minutes"])}
    assert (at[10.0], at[23.0], at[32.0]) == (180.0, 90.0, 48.0)
    assert at[9.5] is None
    assert at[32.5] is None


def test_nothing_new_is_304_and_an_entry_makes_it_new() -> None:
    pour, phone = pour_and_phone()
    wire = Wire(phone)
    for url in (f"records/{pour.pk}", f"records/{pour.pk}/snapshot", "records"):
        tag = wire.get(url)["ETag"]
        assert wire.get(url, **{"If-None-Match": tag}).status_code == 304
    tag = wire.get(f"records/{pour.pk}")["ETag"]
    wire.send(note(phone, pour))
    assert wire.get(f"records/{pour.pk}", **{"If-None-Match": tag}).status_code == 200


def test_entries_since_a_revision() -> None:
    pour, phone = pour_and_phone()
    wire = Wire(phone)
    add_entry(pour=pour, kind="note", body={"text": "at the desk"}, by=pour.opened_by)
    seen = wire.get(f"records/{pour.pk}").json()["rev"]
    made = note(phone, pour, "on the phone")
    wire.send(made)
    told = wire.get(f"records/{pour.pk}?since={seen}").json()
    assert [entry["id"] for entry in told["entries"]] == [made.op_id]
    assert told["entries"][0]["clock_grade"] == "A"
    assert told["rev"] == seen + 1
    assert len(wire.get(f"records/{pour.pk}?since=nonsense").json()["entries"]) == 2


def test_people_are_those_of_the_site() -> None:
    pour, phone = pour_and_phone()
    stranger = make_person(name="Nobody Here")
    told = Wire(phone).get("people").json()
    assert stranger.name not in json.dumps(told)
    assert {one["name"]: one["may_record"] for one in told["people"]}[pour.opened_by.name] is True
