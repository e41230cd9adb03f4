"""Entering a sounding on its tap grid."""

from typing import Any

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.curing.models import CureInspection
from groutjobs.pours.models import Pour
from tests.curing.asking import errors_of, fresh_pour, head_fields, signed_in, site_of
from tests.equipment.posting import BAD_NUMBERS

pytestmark = pytest.mark.django_db
ROWS = [f"{name}{row}" for name in "AB" for row in range(1, 11)]
QUANTITIES = {
    "single_void_m2": ("0.01", "m2"),
    "total_ratio": ("5", "percent"),
    "least_depth_mm": ("1", "mm"),
    "greatest_depth_mm": ("10", "mm"),
}


def address(pour: Pour, spacing: str = "") -> str:
    return reverse("curing:sounding_add", args=[pour.pk]) + (f"?spacing={spacing}" if spacing else "")


def fields(pour: Pour, *hollow: str, rows: list[str] = ROWS, missed: str = "", **given: Any) -> dict[str, Any]:
    data: dict[str, Any] = {"limit_source": "GROUTJOBS", "taps_hollow": list(hollow), "taps_row": rows}
    for name, (text, unit) in QUANTITIES.items():
        data |= {name: text, f"{name}_unit": unit}
    return head_fields(pour) | data | {"taps_missed": missed} | given


def post(pour: Pour, data: dict[str, Any], spacing: str = "") -> Any:
    return signed_in(site_of(pour), Role.INSPECTOR).post(address(pour, spacing), data)


def sounds(row: CureInspection) -> dict[str, str]:
    return {tap["name"]: tap["sound"] for tap in row.inputs["taps"]}


def test_taps_are_recorded_with_their_sound() -> None:
    pour = fresh_pour()
    post(pour, fields(pour, "A3.5", rows=ROWS[:19], missed="B1.1, B1.2", verdict="refused"))
    row = CureInspection.objects.get()
    found = sounds(row)
    assert [name for name, sound in found.items() if sound == "hollow"] == ["A3.5"]
    assert [name for name, sound in found.items() if sound == "not_reached"] == [
        "B1.1", "B1.2", *(f"B10.{number}" for number in range(1, 11)),
    ]  # fmt: skip
    assert row.result["hollow_m2"] == pytest.approx(0.0225)
    assert row.inputs["as_entered"]["total_ratio"] == {"text": "5", "unit": "percent"}


@pytest.mark.parametrize(("spacing", "count"), [("150", 200), ("125", 288), ("100", 450)])
def test_the_grid_follows_the_spacing_asked_for(spacing: str, count: int) -> None:
    pour = fresh_pour()
    text = signed_in(site_of(pour), Role.INSPECTOR).get(address(pour, spacing)).content.decode()
    assert text.count('name="taps_hollow"') == count


def test_a_spacing_not_offered_is_not_found() -> None:
    pour = fresh_pour()
    assert signed_in(site_of(pour), Role.INSPECTOR).get(address(pour, "7")).status_code == 404


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"taps_row": []}, "no row is marked as tapped"),
        ({"taps_row": ["Z9"]}, "“Z9” is no row of this grid"),
        ({"taps_hollow": ["A99.1"]}, "“A99.1” is no tap of this grid"),
        ({"taps_hollow": ["A1.1"], "taps_row": ["A2"]}, "A1.1 is hollow, but its row A1 is not marked as tapped"),
        ({"taps_hollow": ["A1.1"], "taps_missed": "A1.1"}, "A1.1 is marked hollow and not reached"),
        ({"taps_hollow": ["A1.1"], "taps_unsure": "A1.1"}, "A1.1 is marked unsure and something else"),
        ({"taps_missed": "x" * 5_000}, "(5000 characters) is no tap of this grid"),
    ],
)
def test_taps_that_contradict_themselves_are_named(changed: dict[str, Any], words: str) -> None:
    pour = fresh_pour()
    response = post(pour, fields(pour, **changed))
    assert response.status_code == 422
    assert words in errors_of(response, "taps")
    assert not CureInspection.objects.exists()


def test_what_was_ticked_is_still_there_after_a_refusal() -> None:
    pour = fresh_pour()
    text = post(pour, fields(pour, "A3.5", rows=["A3"], instrument="")).content.decode()
    assert 'value="A3.5" aria-label="Tap A3.5 hollow" checked' in text
    assert 'name="taps_row" value="A3" checked' in text
    assert 'name="taps_row" value="A4">' in text


@pytest.mark.parametrize("bad", BAD_NUMBERS)
@pytest.mark.parametrize("field", list(QUANTITIES))
def test_a_wrong_number_comes_back_with_a_sentence(field: str, bad: str) -> None:
    pour = fresh_pour()
    response = post(pour, fields(pour) | {field: bad})
    assert response.status_code == 422
    assert "[" in errors_of(response, field)
    assert response.context["form"][field].value()[0] == bad
    assert not CureInspection.objects.exists()


def test_depths_the_wrong_way_round_are_refused_by_the_engineering() -> None:
    pour = fresh_pour()
    response = post(pour, fields(pour, "A3.5", least_depth_mm="10", greatest_depth_mm="2"))
    assert "greatest depth of the void 2 mm is below 10 mm" in errors_of(response)


def test_the_detail_page_draws_the_hollow_area() -> None:
    pour = fresh_pour()
    post(pour, fields(pour, "A3.5", "A3.6", verdict="refused"))
    row = CureInspection.objects.get()
    text = (
        signed_in(site_of(pour), Role.AUDITOR).get(reverse("curing:inspection_detail", args=[row.pk])).content.decode()
    )
    assert "hollow area" in text
    assert "A3.5, A3.6" in text
    assert "GUNDERSEN1987" in text


def test_an_unsure_tap_counts_as_hollow_and_is_told() -> None:
    pour = fresh_pour()
    post(pour, fields(pour, "A3.5", verdict="refused", taps_unsure="A3.6"))
    row = CureInspection.objects.get()
    assert sounds(row)["A3.6"] == "unsure"
    assert row.result["hollow_m2"] == pytest.approx(2 * 0.0225)
    assert "sounding.unsure" in {one["code"] for one in row.result["findings"]}
