"""Entering and changing a foundation with its survey and bolts."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.equipment.models import Foundation, Machine
from tests.equipment.posting import BAD_NUMBERS, assert_refused, errors_of, posted, signed_in, stranger
from tests.factories import make_machine

pytestmark = pytest.mark.django_db

TABLES = ("survey_points", "bolts")
GOOD: dict[str, Any] = {
    "length_mm": ("3600", "mm"),
    "width_mm": ("2.1", "m"),
    "height_mm": ("47 1/4", "in"),
    "concrete_mpa": ("4000", "psi"),
    "tested_mpa": ("", "psi"),
    "placed_on": "2026-01-15",
    "exposure": "open",
    "removed_mm": ("", "mm"),
    "roughness_mm": ("13", "mm"),
    "survey_points": "0; 0; 100\n3600; 0; 101,5\n3600\t2100\t100.2\n0, 2100, 99",
    "bolts": "B1; 450; 450; M24; F1554-36; 320; 60; 250\nB2; 3150; 1650; 1-8 UNC; A193 B7; 320",
}


def put(machine: Machine, **more: Any) -> Any:
    client = signed_in(machine.site, Role.ENGINEER)
    data = posted(GOOD | more, tables=TABLES)
    return client.post(reverse("equipment:foundation_change", args=[machine.pk]), data)


def test_the_engineer_enters_a_foundation_with_its_tables() -> None:
    machine = make_machine(bare=True)
    assert put(machine).status_code == 302
    foundation = Foundation.objects.get()
    # 1 in = 25.4 mm exactly: 47 1/4 in is 1200.15 mm; 1 psi = 6.894757 kPa: 4000 psi is 27.579 MPa
    assert foundation.height_mm == pytest.approx(1200.15)
    assert foundation.concrete_mpa == pytest.approx(27.579, abs=0.001)
    assert foundation.tested_mpa is None
    points = list(foundation.survey_points.values_list("x_mm", "y_mm", "elevation_mm"))
    assert points == [(0, 0, 100), (3600, 0, 101.5), (3600, 2100, 100.2), (0, 2100, 99)]
    bolts = list(foundation.bolts.values_list("label", "thread", "grade", "sleeve_diameter_mm"))
    assert bolts == [("B1", "M24×3", "ASTM F1554 grade 36", 60), ("B2", "1-8 UNC", "ASTM A193 B7", None)]


@pytest.mark.parametrize("system", ["metric", "us"])
def test_what_is_shown_can_be_saved_again_and_changes_nothing(system: str) -> None:
    machine = make_machine()
    client = signed_in(machine.site, Role.ENGINEER, system=system)
    address = reverse("equipment:foundation_change", args=[machine.pk])
    form = client.get(address).context["form"]
    data: dict[str, Any] = {}
    for field in form:
        value = field.value()
        if isinstance(value, list):
            data |= {field.name: value[0], f"{field.name}_unit": value[1], f"{field.name}_sure": "on"}
        elif value is not None:
            data[field.name] = value
    before = list(machine.foundation.survey_points.values_list()) + list(machine.foundation.bolts.values_list())
    assert client.post(address, data).status_code == 302
    machine.refresh_from_db()
    assert list(machine.foundation.survey_points.values_list()) + list(machine.foundation.bolts.values_list()) == before
    assert "extra" not in Event.objects.get(kind="foundation.changed").body


@pytest.mark.parametrize(("who", "status"), [(Role.CREW, 403), (Role.INSPECTOR, 403), (None, 404)])
def test_others_do_not_enter_foundations(who: Role | None, status: int) -> None:
    machine = make_machine()
    client = signed_in(machine.site, who) if who else stranger()
    address = reverse("equipment:foundation_change", args=[machine.pk])
    assert client.get(address).status_code == status
    assert client.post(address, posted(GOOD, tables=TABLES)).status_code == status
    assert not Event.objects.exists()


def test_wrong_methods_and_nobody_are_turned_away(client: Client) -> None:
    machine = make_machine()
    address = reverse("equipment:foundation_change", args=[machine.pk])
    assert signed_in(machine.site, Role.ENGINEER).delete(address).status_code == 405
    assert client.post(address).status_code == 302


@pytest.mark.parametrize("bad", BAD_NUMBERS)
@pytest.mark.parametrize(
    ("field", "label", "unit"),
    [
        ("length_mm", "Length of the block", "mm"),
        ("concrete_mpa", "Specified strength", "MPa"),
        ("roughness_mm", "Profile", "mm"),
    ],
)
def test_a_wrong_number_comes_back_with_a_sentence(field: str, label: str, unit: str, bad: str) -> None:
    assert_refused(put(make_machine(bare=True), **{field: (bad, unit)}), field, label, bad)
    assert not Foundation.objects.exists()


@pytest.mark.parametrize(
    ("field", "bad", "words"),
    [
        ("length_mm", ("142", "mm"), "below 200.0 mm"),
        ("concrete_mpa", ("4000", "MPa"), "above 120.0 MPa"),
        ("placed_on", "yesterday", "is not a day"),
        ("placed_on", "1850-01-01", "not between 1900 and 2200"),
        ("exposure", "moon", "none of: "),
    ],
)
def test_a_wrong_unit_or_word_is_named(field: str, bad: Any, words: str) -> None:
    assert words in errors_of(put(make_machine(bare=True), **{field: bad}), field)


@pytest.mark.parametrize(
    ("field", "table", "words"),
    [
        ("survey_points", "0; 0", "Line 1: elevation is empty"),
        ("survey_points", "0; 0; high", "Line 1: elevation: “high” is not a number"),
        ("survey_points", "0; 0; nan", "is not a number"),
        ("survey_points", "0; 0; 100; 5", "4 cells"),
        ("survey_points", "0; 0; 100\n3700; 0; 100", "surveyed point 2, x 3700 mm is above 3600 mm"),
        ("survey_points", "-1; 0; 100", "Line 1: x -1 mm is outside the usual"),
        ("survey_points", "0; 0; 1\n140; 0; 1\n140; 82; 1", "within 4% of the block"),
        ("bolts", "B1; 450; 450; M25; 8.8; 320", "“M25” is not in the table"),
        ("bolts", "B1; 450; 450; M24; 8.8; 12.6", "free length 12.6 mm is below"),
        ("bolts", "B1; 450; 450; M24; 8.8; 320\nB1; 450; 900; M24; 8.8; 320", "“B1” stands in two rows"),
        ("bolts", "x" * 1_000_000, "1000000 characters"),
        ("bolts", "B; 1; 1; M24; 8.8; 320\n" * 301, "301 rows"),
    ],
)
def test_a_wrong_row_is_named_and_everything_typed_comes_back(field: str, table: str, words: str) -> None:
    response = put(make_machine(bare=True), **{field: table})
    assert response.status_code == 422
    said = errors_of(response, field)
    assert words in said
    assert "[" in said
    assert response.context["form"][field].value()[0] == table


def test_a_survey_of_a_small_part_is_taken_when_confirmed() -> None:
    small = {"survey_points": "0; 0; 1\n140; 0; 1\n140; 82; 1", "survey_points_sure": "on"}
    assert put(make_machine(bare=True), **small).status_code == 302
