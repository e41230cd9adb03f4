"""Entering a bolt tightening."""

from typing import Any

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.curing.models import CureInspection
from groutjobs.pours.models import Pour
from tests.curing.asking import errors_of, fresh_pour, head_fields, signed_in, site_of
from tests.equipment.posting import BAD_NUMBERS

pytestmark = pytest.mark.django_db


def address(pour: Pour, method: str = "torque") -> str:
    return reverse("curing:bolts_add", args=[pour.pk]) + f"?method={method}"


def fields(pour: Pour, value: tuple[str, str] = ("155", "ftlb"), **given: Any) -> dict[str, Any]:
    data = {"friction": "oiled", "target_source": "PRACTICE", "passes": "3", "passes_unit": "", "in_order": "yes"}
    data |= {"target_mpa": "149", "target_mpa_unit": "MPa"}
    for number in range(6):
        data |= {f"value_{number}": value[0], f"value_{number}_unit": value[1]}
    return head_fields(pour, remarks="cubes at 82 MPa") | data | given


def post(pour: Pour, data: dict[str, Any], method: str = "torque") -> Any:
    return signed_in(site_of(pour), Role.INSPECTOR).post(address(pour, method), data)


def test_torques_are_recorded_by_bolt_as_typed() -> None:
    pour = fresh_pour()
    post(pour, fields(pour))
    row = CureInspection.objects.get()
    bolt = row.inputs["bolts"][0]
    assert bolt["label"] == "B1"
    assert bolt["torque_nm"] == pytest.approx(210.15, abs=0.01)
    assert bolt["entered"] == {"text": "155", "unit": "ftlb"}
    assert {item["turn"] for item in row.result["bolts"]} == {1, 2, 3, 4, 5, 6}


def test_stretch_is_another_way() -> None:
    pour = fresh_pour()
    post(pour, fields(pour, ("0,24", "mm")), "stretch")
    row = CureInspection.objects.get()
    assert row.inputs["method"] == "stretch"
    # F = δ·A·E/L = 0.24 mm · 352.5 mm² · 200 GPa / 320 mm
    assert row.result["bolts"][0]["tension_usual_kn"] == pytest.approx(52.9, abs=0.1)


def test_the_form_goes_in_the_order_of_tightening_and_shows_targets_and_caution() -> None:
    pour = fresh_pour()
    response = signed_in(site_of(pour), Role.INSPECTOR).get(address(pour))
    text = response.content.decode()
    labels = [field.label for name, field in response.context["form"].fields.items() if name.startswith("value_")]
    assert labels[0] == "1. Bolt B2, final torque"
    assert "Stand clear of the bolt axis" in text
    assert "Torque by the 30 ksi table" in text
    assert "A bolt under tension can break" in text


def test_hollow_places_are_taken_off_the_area_that_bears() -> None:
    pour = fresh_pour()
    rows = [f"{compartment}{number}" for compartment in "AB" for number in range(1, 11)]
    taps: dict[str, Any] = {
        "limit_source": "GROUTJOBS", "taps_hollow": ["A3.5"], "taps_row": rows, "taps_missed": "", "total_ratio": "5",
        "single_void_m2": "0.05", "single_void_m2_unit": "m2", "total_ratio_unit": "percent", "least_depth_mm": "1",
        "least_depth_mm_unit": "mm", "greatest_depth_mm": "5", "greatest_depth_mm_unit": "mm",
    }  # fmt: skip
    where = reverse("curing:sounding_add", args=[pour.pk])
    signed_in(site_of(pour), Role.INSPECTOR).post(where, head_fields(pour, verdict="refused") | taps)
    post(pour, fields(pour))
    row = CureInspection.objects.get(kind="bolts")
    assert row.inputs["contact_area_m2"] == pytest.approx(4.5 - 0.0225)


def test_working_it_out_shows_the_targets_for_the_stress_as_typed() -> None:
    pour = fresh_pour()
    response = post(pour, fields(pour, verdict="", work_out="1", target_mpa="100"))
    assert response.status_code == 200
    assert response.context["targets"][0]["target_kn"] == pytest.approx(35.25, abs=0.01)
    assert not CureInspection.objects.exists()


@pytest.mark.parametrize("bad", BAD_NUMBERS)
@pytest.mark.parametrize(
    ("field", "label"), [("value_0", "Bolt B2, final torque"), ("target_mpa", "Stress"), ("passes", "Passes made")]
)
def test_a_wrong_number_comes_back_with_a_sentence(field: str, label: str, bad: str) -> None:
    pour = fresh_pour()
    response = post(pour, fields(pour) | {field: bad})
    said = errors_of(response, field)
    assert response.status_code == 422
    assert label in said
    assert "[" in said
    assert response.context["form"][field].value()[0] == bad
    assert not CureInspection.objects.exists()


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"friction": "slippery"}, "friction", "none of"),
        ({"in_order": ""}, "in_order", "not chosen"),
        ({"passes": "2.5"}, "passes", "not a whole number"),
        ({"value_3": "15000", "value_3_unit": "Nm"}, "value_3", "outside the usual"),
        ({"target_source": ""}, "target_source", "is empty"),
    ],
)
def test_other_wrong_entries_are_named(changed: dict[str, str], field: str, words: str) -> None:
    pour = fresh_pour()
    assert words in errors_of(post(pour, fields(pour) | changed), field)


def test_a_way_not_offered_is_not_found() -> None:
    pour = fresh_pour()
    assert signed_in(site_of(pour), Role.INSPECTOR).get(address(pour, "guess")).status_code == 404
