"""Writing equipment: what is kept, what is recorded, what is refused."""

import datetime as dt
import json
from typing import Any

import pytest

from groutjobs.accounts.models import Membership, Role, User
from groutjobs.audit.models import Event
from groutjobs.equipment import actions
from groutjobs.equipment.layout import Rectangle
from groutjobs.equipment.models import AnchorBolt, Baseplate, Foundation, Machine, PartKind, PlatePart, SurveyPoint
from groutjobs.errors import NotAllowed, OutOfRange, Unusable
from tests.factories import make_approved_plan, make_machine, make_person, make_site

pytestmark = pytest.mark.django_db

SITE: dict[str, Any] = {
    "name": "Works of the test", "owner": "Nobody", "zone": "Europe/Oslo", "latitude_deg": 60.0, "longitude_deg": 5.0,
    "elevation_m": 12.0, "emergency_contact": "gate", "environmental_contact": "desk", "shift_starts": dt.time(7),
    "shift_ends": dt.time(15), "working_days": [0, 1, 2],
}  # fmt: skip
MACHINE: dict[str, Any] = {
    "tag": "P-9", "service": "pump", "kind": "pump", "driver_kw": 10.0, "speed_rpm": 1500.0, "mass_kg": 900.0,
    "level_class": "api_pump",
}  # fmt: skip
BLOCK: dict[str, Any] = {
    "length_mm": 2000.0, "width_mm": 1000.0, "height_mm": 900.0, "concrete_mpa": 28.0, "placed_on": dt.date(2026, 1, 1),
    "exposure": "open", "roughness_mm": 13.0,
}  # fmt: skip
BOLT: dict[str, Any] = {
    "label": "B1", "x_mm": 200.0, "y_mm": 200.0, "thread": "M20", "grade": "8.8", "free_length_mm": 300.0,
}  # fmt: skip
PLATE: dict[str, Any] = {
    "outline": [[100, 100], [1900, 100], [1900, 900], [100, 900]], "underside_elevation_mm": 150.0,
    "thickness_mm": 20.0, "mass_kg": 200.0,
}  # fmt: skip
COMPARTMENT: dict[str, Any] = {"name": "A", "outline": PLATE["outline"]}
HOLE: dict[str, Any] = {
    "kind": PartKind.FILL_HOLE, "label": "F1", "x_mm": 1000.0, "y_mm": 500.0, "diameter_mm": 110.0,
}  # fmt: skip


def engineer(machine: Machine) -> User:
    return make_person(site=machine.site, roles=(Role.ENGINEER,))


def save_block(machine: Machine, **more: Any) -> Foundation:
    given: dict[str, Any] = {"columns": BLOCK, "survey_points": [], "bolts": [BOLT]}
    return actions.save_foundation(machine=machine, by=engineer(machine), **given | more)


def save_plate(machine: Machine, **more: Any) -> Baseplate:
    given: dict[str, Any] = {"columns": PLATE, "compartments": [COMPARTMENT], "parts": [HOLE]}
    return actions.save_plate(machine=machine, by=engineer(machine), **given | more)


def newest(kind: str) -> dict[str, Any]:
    body: dict[str, Any] = json.loads(Event.objects.filter(kind=kind).latest("seq").body)
    return body


def test_who_adds_a_site_becomes_its_administrator() -> None:
    person = make_person()
    site = actions.add_site(by=person, columns=SITE)
    assert Membership.objects.get(site=site, user=person).role == Role.ADMINISTRATOR
    assert Event.objects.filter(kind__in=["site.added", "role.given"], site_id=site.pk).count() == 2


def test_the_first_site_of_an_installation_is_added_by_nobody() -> None:
    site = actions.add_site(by=None, columns=SITE)
    assert not site.memberships.exists()


def test_a_site_is_changed_and_recorded_with_old_and_new() -> None:
    site = make_site(owner="Old")
    actions.change_site(site=site, by=make_person(), columns={"owner": "New"}, reason="sold")
    assert newest("site.changed")["changed"] == {"owner": {"old": "Old", "new": "New"}}
    assert Event.objects.get(kind="site.changed").reason == "sold"


def test_a_column_that_does_not_exist_is_refused() -> None:
    with pytest.raises(TypeError, match="no column color"):
        actions.change_site(site=make_site(), by=make_person(), columns={"color": "red"})


def test_a_tag_is_used_once_at_a_site_in_capitals_or_not() -> None:
    machine = make_machine(bare=True, tag="p-9")
    with pytest.raises(NotAllowed, match="already used"):
        actions.add_machine(site=machine.site, by=engineer(machine), columns=MACHINE)
    assert actions.add_machine(site=make_site(), by=engineer(machine), columns=MACHINE).tag == "P-9"


def test_a_machine_keeps_its_own_tag_when_it_is_changed() -> None:
    machine = make_machine(bare=True, tag="P-9")
    actions.change_machine(machine=machine, by=engineer(machine), columns={"tag": "P-9", "mass_kg": 1000.0})
    assert newest("machine.changed")["changed"]["mass_kg"] == {"old": "3200.0", "new": "1000.0"}


def test_a_foundation_is_entered_with_points_and_bolts_in_one_record() -> None:
    machine = make_machine(bare=True)
    foundation = save_block(machine, survey_points=[{"x_mm": 0.0, "y_mm": 0.0, "elevation_mm": 100.0}])
    bolt = foundation.bolts.get()
    assert (bolt.thread, bolt.grade, bolt.sleeve_diameter_mm) == ("M20×2.5", "ISO 898-1 class 8.8", None)
    body = newest("foundation.added")
    assert body["changed"]["length_mm"]["new"] == "2000.0"
    assert body["extra"]["survey points"]["new"] == [{"x_mm": "0.0", "y_mm": "0.0", "elevation_mm": "100.0"}]
    assert body["extra"]["anchor bolts"]["old"] == []


def test_a_bolt_that_stays_keeps_its_row_and_one_left_out_goes() -> None:
    machine = make_machine(bare=True)
    save_block(machine, bolts=[BOLT, {**BOLT, "label": "B2"}])
    kept = AnchorBolt.objects.get(label="B1").pk
    save_block(machine, bolts=[{**BOLT, "x_mm": 250.0}, {**BOLT, "label": "B3"}])
    assert dict(AnchorBolt.objects.values_list("label", "x_mm")) == {"B1": 250.0, "B3": 200.0}
    assert AnchorBolt.objects.get(label="B1").pk == kept


def test_saving_the_same_again_changes_nothing_and_records_nothing() -> None:
    machine = make_machine(bare=True)
    points = [{"x_mm": 0.0, "y_mm": 0.0, "elevation_mm": 100.0}]
    save_block(machine, survey_points=points)
    save_plate(machine)
    row = SurveyPoint.objects.get().pk
    events = Event.objects.count()
    save_block(machine, survey_points=points)
    save_plate(machine)
    assert Event.objects.count() == events
    assert SurveyPoint.objects.get().pk == row


@pytest.mark.parametrize(
    ("more", "error", "words"),
    [
        ({"bolts": [{**BOLT, "x_mm": 2002.0}]}, OutOfRange, "bolt B1, x 2002 mm is above 2000 mm"),
        ({"survey_points": [{"x_mm": 0.0, "y_mm": -2.0, "elevation_mm": 0.0}]}, OutOfRange, "survey point, y -2 mm"),
        ({"bolts": [BOLT, BOLT]}, NotAllowed, "Two anchor bolts have the same label"),
        ({"bolts": [{**BOLT, "thread": "M25"}]}, Unusable, "M25"),
        ({"bolts": [{**BOLT, "colour": "red"}]}, TypeError, "no column colour"),
    ],
)
def test_a_foundation_that_cannot_be_is_refused_whole(more: dict[str, Any], error: type[Exception], words: str) -> None:
    with pytest.raises(error, match=words):
        save_block(make_machine(bare=True), **more)
    assert not Foundation.objects.exists()


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"columns": PLATE | {"outline": [[0, 0], [9, 9], [9, 0], [0, 9]]}}, "crosses or touches itself"),
        ({"compartments": [COMPARTMENT, {**COMPARTMENT, "name": "B"}]}, "overlaps"),
        ({"compartments": [{**COMPARTMENT, "outline": [[0, 0], [500, 0], [500, 500]]}]}, "outside the plate"),
        ({"parts": [{**HOLE, "x_mm": 50.0}]}, "fill hole F1: its centre lies 50 mm off the plate"),
        (
            {"parts": [{**HOLE, "kind": PartKind.MOUNTING_PAD, "x_mm": 150.0, "length_mm": 200.0, "width_mm": 100.0}]},
            "mounting pad F1: lies up to 50 mm outside the plate",
        ),
    ],
)
def test_a_plate_that_contradicts_itself_is_refused_whole(more: dict[str, Any], words: str) -> None:
    with pytest.raises(Unusable, match=words):
        save_plate(make_machine(bare=True), **more)
    assert not Baseplate.objects.exists()


def test_a_plate_is_entered_with_compartments_and_parts_in_one_record() -> None:
    plate = save_plate(make_machine(bare=True))
    compartment = plate.compartments.get()
    assert (compartment.fill_above_mm, compartment.open_edge) == (0.0, False)
    assert set(newest("plate.added")["extra"]) == {"compartments", "plate parts"}


def test_the_plate_of_an_approved_plan_may_change_and_the_plan_keeps_what_it_had() -> None:
    plan = make_approved_plan()
    before = dict(plan.result)
    save_plate(plan.machine, reason="re-measured on site")
    plan.refresh_from_db()
    assert plan.result == before
    event = Event.objects.get(kind="plate.changed")
    assert event.reason == "re-measured on site"
    assert "plate parts" in json.loads(event.body)["extra"]


def test_a_plate_starts_from_a_rectangle_once() -> None:
    machine = make_machine(bare=True)
    rectangle = Rectangle(
        x_mm=100, y_mm=100, length_mm=1800, width_mm=800, compartments_along=2, fill_hole_mm=110, vent_mm=13
    )
    columns = {name: value for name, value in PLATE.items() if name != "outline"}
    plate = actions.start_from_rectangle(machine=machine, by=engineer(machine), columns=columns, rectangle=rectangle)
    assert plate.outline == PLATE["outline"]
    assert PlatePart.objects.filter(baseplate=plate).count() == 10
    with pytest.raises(NotAllowed, match="has a plate already"):
        actions.start_from_rectangle(machine=machine, by=engineer(machine), columns=columns, rectangle=rectangle)
