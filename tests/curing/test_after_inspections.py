"""Jackscrews out, joints and edges, soft foot, hand-over: forms, findings, and the instrument that was used."""

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.curing.calc import after
from groutjobs.curing.models import CureInspection
from groutjobs.instruments.actions import add_calibration, add_instrument
from groutjobs.instruments.models import Instrument
from groutjobs.pours.models import Pour
from groutjobs.turnover.readiness import readiness
from tests.curing.asking import INSPECTING, errors_of, head_fields, signed_in, site_of, statuses, stranger
from tests.curing.test_release import REASON, cured, released
from tests.factories import make_person

pytestmark = pytest.mark.django_db
ADD = {kind: f"curing:{kind}_add" for kind in ("jackscrews", "joints", "soft_foot", "handover")}


def post(pour: Pour, kind: str, **given: Any) -> Any:
    client = signed_in(site_of(pour), Role.INSPECTOR)
    return client.post(reverse(ADD[kind], args=[pour.pk]), head_fields(pour) | given)


def screws(pour: Pour, **states: str) -> dict[str, str]:
    names = [screw["name"] for screw in after.screws_to_back_out(pour)]
    return {f"screw_{number}": states.get(name, "plugged") for number, name in enumerate(names)}


def feet(pour: Pour, *moved: str) -> dict[str, str]:
    data = {"limit_mm": "0.05", "limit_mm_unit": "mm", "limit_source": "PRACTICE"}
    for number in range(len(after.feet_to_read(pour))):
        text = moved[number] if number < len(moved) else "0.01"
        for when, value in (("before", "0"), ("after", text)):
            data |= {f"{when}_{number}": value, f"{when}_{number}_unit": "mm"}
    return data


def edges(**given: str) -> dict[str, str]:
    data = {f"edge_{name}": "yes" for name in after.EDGES} | {"cracks": "", "cracks_unit": "metric"}
    return data | {"crack_limit_mm": "", "crack_limit_mm_unit": "mm", "crack_source": ""} | given


def codes(row: CureInspection) -> set[str]:
    return {item["code"] for item in row.result["findings"]}


def test_jackscrews_are_out_and_plugged_on_a_released_milestone() -> None:
    pour = cured()
    released(pour, "jackscrews")
    post(pour, "jackscrews", **screws(pour))
    row = CureInspection.objects.get()
    assert (row.kind, row.result["counts"]["left"], codes(row)) == ("jackscrews", 0, set())
    assert row.instrument == "none needed, by eye"


def test_one_left_in_stands_in_the_way_and_a_missing_release_is_told() -> None:
    pour = cured()
    first = after.screws_to_back_out(pour)[0]["name"]
    response = post(pour, "jackscrews", **screws(pour, **{first: "left"}))
    assert "on what grounds" in errors_of(response)
    post(pour, "jackscrews", **(screws(pour, **{first: "left"}) | {"verdict": "refused"}))
    assert codes(CureInspection.objects.get()) == {"after.jackscrew.left", "after.release.jackscrews"}


def test_before_the_strip_milestone_jackscrews_stay_in_unless_released_with_a_reason() -> None:
    pour = cured(hours=12)
    response = post(pour, "jackscrews", **screws(pour))
    assert "jackscrews stay in" in errors_of(response)
    released(pour, "jackscrews", REASON)
    assert post(pour, "jackscrews", **screws(pour)).status_code == 302


def test_a_foot_that_moves_more_than_the_limit_stands_in_the_way_either_way() -> None:
    """0.05 mm (0.002 in) is common practice, no source; the movement is the difference of two readings."""
    pour = cured()
    post(pour, "soft_foot", **(feet(pour, "0.05", "-0.05") | {"remarks": "read twice"}))
    assert codes(CureInspection.objects.get()) == set()
    other = cured()
    post(other, "soft_foot", **(feet(other, "0.051", "-0.06") | {"verdict": "refused"}))
    row = CureInspection.objects.get(pour=other)
    assert [item["level"] for item in row.result["findings"]] == ["blocker", "blocker"]
    assert "0.051 mm" in row.result["findings"][0]["message"]


def test_a_foot_with_one_reading_is_asked_for_the_other() -> None:
    pour = cured()
    response = post(pour, "soft_foot", **(feet(pour) | {"after_1": ""}))
    assert "needs both readings" in errors_of(response, "after_1")


def test_cracks_are_judged_by_a_limit_with_a_source_and_asked_about_without() -> None:
    pour = cured()
    crack = "corner; 0.4; 120"
    post(pour, "joints", **edges(cracks=crack))
    assert codes(CureInspection.objects.get()) == {"after.crack"}
    other = cured()
    limit = {"crack_limit_mm": "0.3", "crack_source": "the specification"}
    assert "has a source" in errors_of(post(other, "joints", **edges(crack_limit_mm="0.3")), "crack_source")
    post(other, "joints", **(edges(cracks=crack, **limit) | {"verdict": "refused"}))
    row = CureInspection.objects.get(pour=other)
    assert codes(row) == {"after.crack.wide"}
    assert row.result["crack_total_mm"] == 120.0


def test_the_hand_over_gathers_what_is_there_and_tells_what_it_lacks() -> None:
    pour = cured()
    post(pour, "soft_foot", **feet(pour, "0.02"))
    post(pour, "handover", accepted_on="2026-05-04", thermal="sun on one side", received_by="")
    row = CureInspection.objects.get(kind="handover")
    assert row.inputs["feet"][0]["rise_mm"] == pytest.approx(0.02)
    assert row.inputs["cure"]["align_state"] == "reached"
    lacks = " ".join(item["message"] for item in row.result["findings"])
    assert "level survey" in lacks
    assert "bolt tightening" in lacks
    assert "soft foot" not in lacks
    page = signed_in(site_of(pour), Role.CREW).get(reverse("curing:inspection_detail", args=[row.pk]))
    assert "sun on one side" in page.content.decode()


def an_indicator(pour: Pour, due: dt.date) -> Instrument:
    by = make_person(site=site_of(pour), roles=(Role.INSPECTOR,))
    row = add_instrument(site=site_of(pour), kind="indicator", name="dial indicator", serial="D-1", span="", by=by)
    on = dt.date(2020, 1, 1)
    add_calibration(instrument=row, calibrated_on=on, due_on=due, certificate_no="C", by_whom="a laboratory", by=by)
    return row


def test_the_instrument_is_chosen_from_the_list_and_an_overdue_one_is_flagged() -> None:
    pour = cured()
    tool = an_indicator(pour, dt.date(2021, 1, 1))
    chosen = {"made_with": str(tool.pk), "instrument": "", "calibration_due_on": ""}
    assert post(pour, "soft_foot", **(feet(pour) | chosen)).status_code == 302
    row = CureInspection.objects.get()
    assert (row.made_with, row.calibration_due_on) == (tool, dt.date(2021, 1, 1))
    assert codes(row) == {"inspection.calibration"}
    assert "turnover.calibration_soft_foot" in {item.code for item in readiness(pour)}


def test_without_an_instrument_the_form_asks_for_one() -> None:
    pour = cured()
    response = post(pour, "soft_foot", **(feet(pour) | {"instrument": "", "calibration_due_on": ""}))
    assert "not chosen" in errors_of(response, "made_with")


@pytest.mark.parametrize("kind", ADD)
def test_who_inspects(kind: str) -> None:
    pour = cured(hours=4)
    address = reverse(ADD[kind], args=[pour.pk])
    found = statuses("get", address, site_of(pour), {})
    assert {role for role, status in found.items() if status == 200} == set(INSPECTING)
    assert stranger().get(address).status_code == 404
    assert signed_in(site_of(pour), Role.ENGINEER).put(address).status_code == 405
