"""Entering a level survey."""

from typing import Any

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.curing.models import CureInspection
from groutjobs.pours.models import Pour
from tests.curing.asking import (
    INSPECTING,
    errors_of,
    fresh_pour,
    head_fields,
    signed_in,
    site_of,
    statuses,
    stranger,
)
from tests.equipment.posting import BAD_NUMBERS

pytestmark = pytest.mark.django_db


def address(pour: Pour) -> str:
    return reverse("curing:level_add", args=[pour.pk])


def fields(pour: Pour, *readings: str, unit: str = "mm", **given: Any) -> dict[str, Any]:
    quantities = {
        "resolution_mm": ("0.01", "mm"),
        "tilt_limit_mm_m": ("0.002", "in_ft"),
        "coplanarity_limit_mm": ("0.05", "mm"),
        **{f"reading_{number}": (text, unit) for number, text in enumerate(readings or ("0", "0,01", "0", "0.01"))},
    }
    data = {"occasion": "after_grout", "limit_source": "PPH", "more_points": "", "more_points_unit": "metric"}
    for name, (text, key) in quantities.items():
        data |= {name: text, f"{name}_unit": key}
    return head_fields(pour) | data | given


def test_the_inspector_records_a_survey_as_typed() -> None:
    pour = fresh_pour()
    response = signed_in(site_of(pour), Role.INSPECTOR).post(address(pour), fields(pour))
    row = CureInspection.objects.get()
    assert response["Location"] == reverse("curing:inspection_detail", args=[row.pk])
    assert row.inputs["points"][1]["entered"] == {"text": "0,01", "unit": "mm"}
    assert row.inputs["tilt_limit_mm_m"] == pytest.approx(0.16667, abs=1e-5)
    assert row.inputs["as_entered"]["tilt_limit_mm_m"] == {"text": "0.002", "unit": "in_ft"}


def test_inches_and_fractions_are_read() -> None:
    pour = fresh_pour()
    signed_in(site_of(pour), Role.INSPECTOR).post(address(pour), fields(pour, "0", "1/64", "0", "1/64", unit="in"))
    assert not CureInspection.objects.exists()
    data = fields(pour, "0", "0.001", "0", "0.001", unit="in")
    signed_in(site_of(pour), Role.INSPECTOR).post(address(pour), data)
    assert CureInspection.objects.get().inputs["points"][1]["reading_mm"] == pytest.approx(0.0254)


def test_working_it_out_records_nothing_and_asks_for_no_verdict() -> None:
    pour = fresh_pour()
    data = fields(pour, "0", "0", "2", "2", verdict="", work_out="1")
    response = signed_in(site_of(pour), Role.INSPECTOR).post(address(pour), data)
    text = response.content.decode()
    assert response.status_code == 200
    assert "Worked out, not recorded yet" in text
    assert "Steepest two points 1.111 mm/m" in text
    assert not CureInspection.objects.exists()


def test_recording_without_a_verdict_is_refused() -> None:
    pour = fresh_pour()
    response = signed_in(site_of(pour), Role.INSPECTOR).post(address(pour), fields(pour, verdict=""))
    assert "Verdict is not chosen" in errors_of(response, "verdict")


def test_the_limits_follow_the_class_of_the_machine() -> None:
    pour = fresh_pour()
    form = signed_in(site_of(pour), Role.INSPECTOR).get(address(pour)).context["form"]
    assert form["limit_source"].value() == "PPH"
    assert float(form["tilt_limit_mm_m"].value()[0]) == pytest.approx(0.16667, abs=1e-4)


def test_limits_and_instrument_are_carried_to_the_next_survey() -> None:
    pour = fresh_pour()
    client = signed_in(site_of(pour), Role.INSPECTOR)
    client.post(address(pour), fields(pour, limit_source="owner's spec"))
    form = client.get(address(pour)).context["form"]
    assert form["limit_source"].value() == "owner's spec"
    assert form["instrument"].value() == "level no. 4711 (invented)"
    data = fields(pour, replaces=form["replaces"].value(), remarks="after tension")
    assert client.post(address(pour), data).status_code == 302
    assert CureInspection.objects.count() == 2


def test_a_stale_page_is_told() -> None:
    pour = fresh_pour()
    client = signed_in(site_of(pour), Role.INSPECTOR)
    client.post(address(pour), fields(pour))
    response = client.post(address(pour), fields(pour))
    assert response.status_code == 422
    assert "since this page was read" in errors_of(response)
    assert CureInspection.objects.count() == 1


def test_points_left_empty_were_not_read_and_three_are_needed() -> None:
    pour = fresh_pour()
    client = signed_in(site_of(pour), Role.INSPECTOR)
    assert "2 readings, at least 3" in errors_of(client.post(address(pour), fields(pour, "0", "0", "", "")))
    client.post(address(pour), fields(pour, "0", "0.01", "0", ""))
    assert len(CureInspection.objects.get().inputs["points"]) == 3


def test_more_points_can_be_added_by_place() -> None:
    pour = fresh_pour()
    data = fields(pour, more_points="N1; 1700; 1050; 0.005")
    signed_in(site_of(pour), Role.INSPECTOR).post(address(pour), data)
    assert CureInspection.objects.get().inputs["points"][-1]["label"] == "N1"


@pytest.mark.parametrize("bad", [bad for bad in BAD_NUMBERS if bad.id != "empty"])
@pytest.mark.parametrize(
    ("field", "label"),
    [("reading_0", "Reading at M1"), ("resolution_mm", "Smallest step"), ("tilt_limit_mm_m", "Limit of tilt")],
)
def test_a_wrong_number_comes_back_with_a_sentence(field: str, label: str, bad: str) -> None:
    pour = fresh_pour()
    value = "-99" if bad == "-12" else bad
    response = signed_in(site_of(pour), Role.INSPECTOR).post(address(pour), fields(pour, **{field: value}))
    said = errors_of(response, field)
    assert response.status_code == 422
    assert label in said
    assert "[" in said
    assert response.context["form"][field].value()[0] == value
    assert not CureInspection.objects.exists()


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"made_at": "2199-01-01T00:00"}, "made_at", "later than now"),
        ({"instrument": ""}, "made_with", "is not chosen"),
        ({"calibration_due_on": "soon"}, "calibration_due_on", "not a day"),
        ({"occasion": "x"}, "occasion", "none of"),
        ({"limit_source": ""}, "limit_source", "is empty"),
        ({"resolution_mm": ""}, "resolution_mm", "is empty"),
        ({"more_points": "N1; 1700"}, "more_points", "Line 1: y is empty"),
    ],
)
def test_other_wrong_entries_are_named(changed: dict[str, str], field: str, words: str) -> None:
    pour = fresh_pour()
    response = signed_in(site_of(pour), Role.INSPECTOR).post(address(pour), fields(pour, **changed))
    assert words in errors_of(response, field)


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("name", ["level_add", "sounding_add", "bolts_add"])
def test_only_inspectors_engineers_and_crew_leads_inspect(name: str, method: str) -> None:
    pour = fresh_pour()
    where = reverse(f"curing:{name}", args=[pour.pk])
    answers = statuses(method, where, site_of(pour), {})
    assert {role for role, status in answers.items() if status != 403} == set(INSPECTING)
    assert getattr(stranger(), method)(where).status_code == 404
    assert signed_in(site_of(pour), Role.INSPECTOR).put(where).status_code == 405
