"""Inspections that come from phones: stored first, entered by the actions of the desk, in the name of who made them."""

import datetime as dt
import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from groutjobs.accounts.models import Role, User
from groutjobs.curing import calc
from groutjobs.curing.models import CureInspection, Verdict
from groutjobs.curing.op_bodies import BOLTS, LEVEL, SOUNDING, bolt_rows, head_of, level_rows, sounding_rows
from groutjobs.curing.queries import photos_of
from groutjobs.equipment.geometry import drawing_of
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.faults.phone import Phone
from groutjobs.instruments.actions import add_calibration, add_instrument, retire_instrument
from groutjobs.pours.models import Pour
from groutjobs.sync.actions import accept_by_hand
from groutjobs.sync.models import PhoneOp
from groutjobs.sync.ops import read_op
from tests.curing.asking import fresh_pour, signed_in, site_of
from tests.factories import make_person
from tests.pours.test_photos import jpeg
from tests.sync.calling import Wire, make_phone, now_of

pytestmark = pytest.mark.django_db
FILE = Path(__file__).resolve().parents[2] / "fixtures" / "sync" / "inspections_v1.json"
GOLDEN: list[dict[str, str]] = json.loads(FILE.read_text(encoding="utf-8"))["ops"]
BODIES: dict[str, dict[str, Any]] = {read_op(one["text"]).kind: dict(read_op(one["text"]).body) for one in GOLDEN}
READ: dict[str, Callable[[dict[str, Any]], dict[str, Any]]] = {
    LEVEL: level_rows,
    SOUNDING: sounding_rows,
    BOLTS: lambda body: bolt_rows(body, {}, {"B1", "B3"}),
}


def placed(*roles: Role) -> tuple[Pour, User, Phone, Wire]:
    """A cured pour, a person with these roles and his phone."""
    pour = fresh_pour()
    person = make_person(site=site_of(pour), roles=roles or (Role.INSPECTOR,))
    phone = make_phone(site_of(pour), person)
    return pour, person, phone, Wire(phone)


def whole(pour: Pour, wire: Wire) -> dict[str, Any]:
    told: dict[str, Any] = wire.get(f"records/{pour.pk}/snapshot").json()["inspections"]
    return told


def sounding_of(told: dict[str, Any], sign: str = "s", **more: Any) -> dict[str, Any]:
    """All taps of the widest grid as the phone sends them, with one sound."""
    grid = told["sounding"]["grids"][0]
    rows = [[name, y, x, signs.replace("n", sign)] for name, y, x, signs in grid["rows"]]
    head = {"instrument": "hammer", "calibration_due_on": "2199-01-31", "remarks": "", "replaces_id": None}
    return head | {"spacing_mm": grid["spacing_mm"], "rows": rows, "free": []} | more


def bolts_of(told: dict[str, Any], leave_out: str = "") -> dict[str, Any]:
    targets = next(iter(told["bolts"]["targets"].items()))
    order = [bolt["label"] for bolt in told["bolts"]["bolts"] if bolt["label"] != leave_out]
    rounds = [
        {"share_ratio": share, "values": [[label, round(share * targets[1][label][0], 1), "x"] for label in order]}
        for share in told["bolts"]["shares"]
    ]
    head = {"instrument": "wrench", "calibration_due_on": "2199-01-31", "remarks": "", "replaces_id": None}
    return head | {"method": "torque", "friction": targets[0], "rounds": rounds, "unit": "N·m", "final_round": True}


@pytest.mark.parametrize("one", GOLDEN, ids=lambda one: str(json.loads(one["text"])["kind"]))
def test_a_golden_op_is_read_and_proven(one: dict[str, str]) -> None:
    """Hash and proof stand in the file; they were checked with openssl (HMAC, RFC 2104)."""
    op = read_op(one["text"])
    assert (op.fault, op.sha256, op.proven_by(bytes(range(32)))) == ("", one["sha256"], True)
    assert head_of(op.kind, op.body).instrument
    assert READ[op.kind](dict(op.body))


def test_rows_of_taps_are_unfolded_by_hand() -> None:
    taps = sounding_rows(BODIES[SOUNDING])["taps"]
    found = [(tap["name"], tap["x_mm"], tap["y_mm"], tap["sound"]) for tap in taps]
    assert found[:5] == [
        ("A1.1", 500.0, 1500.0, "solid"), ("A1.2", 650.0, 1500.0, "solid"), ("A1.3", 800.0, 1500.0, "hollow"),
        ("A1.4", 950.0, 1500.0, "unsure"), ("A1.5", 1250.0, 1500.0, "not_reached"),
    ]  # fmt: skip
    assert found[-1] == ("free 1", 900.0, 900.0, "hollow")
    assert taps[5]["compartment"] == "B"


def test_the_instruments_of_the_site_are_told_with_what_their_calibration_says() -> None:
    pour, person, _, wire = placed()
    site = site_of(pour)
    day = timezone.now().astimezone(site.tz).date()
    for kind, name, serial in (("level", "Level", "1"), ("level", "Level", "2"), ("hammer", "Hammer", "3")):
        row = add_instrument(site=site, kind=kind, name=name, serial=serial, span="", by=person)
        if serial == "1":
            add_calibration(
                instrument=row, calibrated_on=day - dt.timedelta(days=9), due_on=day + dt.timedelta(days=9),
                certificate_no="C-1", by_whom="a laboratory", by=person,
            )  # fmt: skip
    gone = add_instrument(site=site, kind="wrench", name="Wrench", serial="4", span="", by=person)
    retire_instrument(instrument=gone, reason="fell from the scaffold", by=person)
    told = whole(pour, wire)
    assert told["level"]["tools"] == [
        ["Level no. 1", (day + dt.timedelta(days=9)).isoformat(), "yes"], ["Level no. 2", "", "yes"],
    ]  # fmt: skip
    assert told["sounding"]["tools"] == [["Hammer no. 3", "", ""]]
    assert told["bolts"]["tools"] == []


WRONG = [
    (LEVEL, {"occasion": "some day"}), (LEVEL, {"points": []}), (LEVEL, {"resolution_mm": True}),
    (LEVEL, {"calibration_due_on": "soon"}), (LEVEL, {"instrument": " "}), (LEVEL, {"more": 1}),
    (LEVEL, {"blobs": ["x"]}),
    (LEVEL, {"resolution_mm": 9.0}), (LEVEL, {"points": [{"label": "M1", "x_mm": 0, "y_mm": 0, "reading_mm": 99}]}),
    (SOUNDING, {"spacing_mm": 33}), (SOUNDING, {"rows": [["A1", 0, 0, "sxs"]]}),
    (SOUNDING, {"rows": [["A", 0, 0, "s"]]}),
    (SOUNDING, {"rows": [["A1", 0, 0, "nn"]], "free": []}), (SOUNDING, {"free": [[1, 2]]}), (SOUNDING, {"rows": "A1"}),
    (BOLTS, {"friction": "sticky"}), (BOLTS, {"final_round": "yes"}), (BOLTS, {"rounds": []}),
    (BOLTS, {"rounds": [{"share_ratio": 2, "values": []}]}), (BOLTS, {"unit": 3}), (BOLTS, {"replaces_id": "17"}),
    (BOLTS, {"rounds": [{"share_ratio": 1, "values": [["B1", 1, ""], ["B1", 1, ""]]}]}),
    (BOLTS, {"rounds": [{"share_ratio": 1, "values": [["B1", 1e9, ""]]}]}),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "change"), WRONG, ids=lambda value: str(value)[:40])
def test_a_wrong_body_is_refused_with_a_sentence(kind: str, change: dict[str, Any]) -> None:
    body = BODIES[kind] | change
    with pytest.raises((Unusable, OutOfRange), match=r"\["):
        READ[kind](body) if head_of(kind, body) else None


def test_an_inspection_is_entered_once_in_the_name_of_who_made_it() -> None:
    pour, person, phone, wire = placed()
    made = phone.op(pour.pk, LEVEL, BODIES[LEVEL])
    for _ in range(2):
        (answer,) = wire.send(made)
        assert (answer["receipt"]["status"], answer["now"]) == ("accepted", "accepted")
    row = CureInspection.objects.get(pour=pour)
    assert (row.made_by, str(row.op_id), row.standing_verdict) == (person, made.op_id, Verdict.OPEN)
    assert row.sent
    assert row.sent["proof"] == "shift_key"
    assert row.result["tilt_along_mm_m"] == pytest.approx(-0.015 / 1.8)  # by hand: means 0.015 and 0.0 over 1.8 m
    assert row.entered_at == read_op(PhoneOp.objects.get().text).entered_corrected
    desk = signed_in(site_of(pour), Role.ENGINEER).get(f"/inspections/{row.pk}/").content.decode()
    assert "Not judged yet" in desk
    assert "times too large" in desk


def test_who_has_no_right_to_inspect_waits_for_a_decision() -> None:
    pour, person, phone, wire = placed(Role.CREW)
    made = phone.op(pour.pk, LEVEL, BODIES[LEVEL])
    assert wire.send(made)[0]["receipt"]["status"] == "quarantined"
    assert not CureInspection.objects.exists()
    engineer = make_person(site=site_of(pour), roles=(Role.ENGINEER,))
    page = signed_in(site_of(pour), Role.ENGINEER).get(f"/devices/at/{site_of(pour).pk}/decisions/")
    assert "Level survey" in page.content.decode()
    accept_by_hand(op=PhoneOp.objects.get(), by=engineer, reason="I stood beside him and read along")
    row = CureInspection.objects.get()
    assert row.sent
    assert (row.made_by, row.sent["vouched_by"], now_of(made)) == (person, engineer.name, "accepted")


def test_a_wrong_one_is_kept_and_waits() -> None:
    pour, _, phone, wire = placed()
    answer = wire.send(phone.op(pour.pk, LEVEL, BODIES[LEVEL] | {"occasion": "some day"}))[0]["receipt"]
    assert (answer["status"], "Occasion" in answer["reason"]) == ("quarantined", True)


def test_the_second_one_replaces_the_first_with_its_reason_and_tells_what_became_of_hollow_places() -> None:
    pour, _, phone, wire = placed()
    told = whole(pour, wire)
    first = sounding_of(told)
    first["rows"][0][3] = "hh" + first["rows"][0][3][2:]
    one = phone.op(pour.pk, SOUNDING, first)
    two = phone.op(pour.pk, SOUNDING, sounding_of(told), replaces=one.op_id, reason="resin was injected")
    assert [answer["receipt"]["status"] for answer in wire.send(one, two)] == ["accepted", "accepted"]
    old, new = CureInspection.objects.order_by("pk")
    assert (new.replaces, new.remarks) == (old, "resin was injected")
    assert old.result["hollow_m2"] == pytest.approx(2 * 0.15**2, rel=1e-6)
    (void,) = new.result["change"]["voids"]
    assert (void["tapped_again"], void["still_hollow"], void["now"]) == (2, 0, "solid")
    holes = old.result["injection"]["voids"][0]["holes"]
    assert [hole["use"] for hole in holes] == ["inject", "vent"]
    desk = signed_in(site_of(pour), Role.ENGINEER).get(f"/inspections/{new.pk}/").content.decode()
    assert "resin was injected" in desk


def test_one_that_did_not_know_of_the_last_one_waits_for_a_decision() -> None:
    pour, _, phone, wire = placed()
    wire.send(phone.op(pour.pk, LEVEL, BODIES[LEVEL]))
    (answer,) = wire.send(phone.op(pour.pk, LEVEL, BODIES[LEVEL]))
    assert answer["receipt"]["status"] == "quarantined"
    assert "Another level survey" in answer["receipt"]["reason"]


def test_bolts_left_out_are_named() -> None:
    pour, _, phone, wire = placed()
    told = whole(pour, wire)
    label = told["bolts"]["bolts"][-1]["label"]
    wire.send(phone.op(pour.pk, BOLTS, bolts_of(told, leave_out=label)))
    row = CureInspection.objects.get()
    messages = " ".join(one["message"] for one in row.result["findings"])
    assert f"Bolt {label}: it was not tightened to the end" in messages
    assert f"The pass at 30% left out {label}" in messages
    assert (row.inputs["in_order"], row.inputs["passes"]) == (True, 0)


def test_the_order_is_that_of_the_entries() -> None:
    pour, _, phone, wire = placed()
    body = bolts_of(whole(pour, wire))
    body["rounds"][1]["values"].reverse()
    wire.send(phone.op(pour.pk, BOLTS, body))
    row = CureInspection.objects.get()
    assert (row.inputs["in_order"], row.inputs["passes"]) == (False, 3)
    assert signed_in(site_of(pour), Role.ENGINEER).get(f"/inspections/{row.pk}/").status_code == 200


def test_a_picture_that_comes_later_is_shown_with_its_inspection() -> None:
    pour, _, phone, wire = placed()
    content = jpeg()
    sha256 = hashlib.sha256(content).hexdigest()
    wire.send(phone.op(pour.pk, LEVEL, BODIES[LEVEL] | {"blobs": [sha256]}))
    row = CureInspection.objects.get()
    assert photos_of(row) == []
    assert wire.put(f"blobs/{sha256}", content).status_code == 201
    assert len(photos_of(row)) == 1


def test_the_grid_on_the_phone_is_that_of_the_desk() -> None:
    """Both unfold to the same names and places, at each spacing."""
    pour, _, _, wire = placed()
    drawing = drawing_of(pour.plan.machine)
    for grid in whole(pour, wire)["sounding"]["grids"]:
        body = sounding_of({"sounding": {"grids": [grid]}})
        found = [(tap["name"], tap["x_mm"], tap["y_mm"]) for tap in sounding_rows(body)["taps"]]
        desk = calc.tap_points(drawing, grid["spacing_mm"])
        assert found == [(tap["name"], tap["x_mm"], tap["y_mm"]) for tap in desk]
