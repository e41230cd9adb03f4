"""Whatever is typed wrong comes back as it was typed, with a sentence that names field, value, limit and source."""

import html

import pytest
from django.test import Client

from groutjobs.pours.actions import add_entry
from groutjobs.pours.bodies import BODIES, SlotKind
from groutjobs.pours.models import Pour
from tests.factories import make_pour
from tests.phone.sent import enter, sent

pytestmark = pytest.mark.django_db
TEN_MB = "9" * 10_000_000
NUMBERS = [
    (kind, slot)
    for kind, slots in BODIES.items()
    for slot in slots
    if slot.kind is SlotKind.NUMBER and not slot.cement_only
]
TEXTS = [(kind, slot) for kind, slots in BODIES.items() for slot in slots if slot.kind is SlotKind.TEXT]
ELSEWHERE = {"declared_complete", "struck"}


@pytest.fixture
def pour(client: Client) -> Pour:
    pour = make_pour()
    add_entry(pour=pour, kind="leak", body={"compartment": "A", "where": "north"}, by=pour.opened_by)
    client.force_login(pour.opened_by)
    return pour


def refused(client: Client, pour: Pour, kind: str, **changes: str) -> str:
    """The page that comes back, as its reader sees it."""
    before = pour.entries.count()
    answer = client.post(enter(pour, kind), sent(pour, kind, **changes))
    assert answer.status_code == 422, (kind, changes)
    assert pour.entries.count() == before
    return html.unescape(answer.content.decode())


@pytest.mark.parametrize(("kind", "slot"), NUMBERS, ids=lambda value: getattr(value, "name", value))
@pytest.mark.parametrize("typed", ["warm", "NaN", "1e9", "-99999", "99999999", "1,500", "12 ft 3 in"])
def test_a_number_that_is_none_or_far_off(client: Client, pour: Pour, kind: str, slot: object, typed: str) -> None:
    name, label = getattr(slot, "name"), getattr(slot, "label")  # noqa: B009
    page = refused(client, pour, kind, **{name: typed})
    assert f'value="{typed}"' in page
    assert f"{label}" in page
    assert "[GROUTJOBS]" in page or "[BLOCH-MCM]" in page


@pytest.mark.parametrize(("kind", "slot"), NUMBERS, ids=lambda value: getattr(value, "name", value))
def test_a_paste_of_ten_megabytes_into_a_number(client: Client, pour: Pour, kind: str, slot: object) -> None:
    page = refused(client, pour, kind, **{getattr(slot, "name"): TEN_MB})  # noqa: B009
    assert "10000000 characters are too many for one number" in page


@pytest.mark.parametrize(("kind", "slot"), NUMBERS, ids=lambda value: getattr(value, "name", value))
def test_an_empty_number_is_asked_for_where_it_is_needed(client: Client, pour: Pour, kind: str, slot: object) -> None:
    name, label = getattr(slot, "name"), getattr(slot, "label")  # noqa: B009
    if getattr(slot, "required"):  # noqa: B009
        assert f"{label} is empty" in refused(client, pour, kind, **{name: ""})
    else:
        assert client.post(enter(pour, kind), sent(pour, kind, **{name: ""})).status_code == 302


def test_fahrenheit_typed_as_celsius_is_refused_with_the_limit(client: Client, pour: Pour) -> None:
    page = refused(client, pour, "wetted_out", grout_c="74")
    assert "Temperature of the mixed grout 74 °C is above 60.0 °C, the highest value taken [BLOCH-MCM]" in page


def test_an_unusual_value_is_asked_about_and_taken_when_it_is_right(client: Client, pour: Pour) -> None:
    page = refused(client, pour, "wetted_out", grout_c="45")
    assert "outside the usual 4.0 °C to 40.0 °C [BLOCH-MCM]" in page
    assert 'name="grout_c_sure"' in page
    answer = client.post(enter(pour, "wetted_out"), sent(pour, "wetted_out", grout_c="45", grout_c_sure="on"))
    assert answer.status_code == 302


def test_a_unit_that_is_none_is_named(client: Client, pour: Pour) -> None:
    assert "“kelvins” is not one of its units" in refused(client, pour, "wetted_out", grout_c_unit="kelvins")


@pytest.mark.parametrize(
    ("kind", "slot"),
    [(kind, slot) for kind, slot in TEXTS if kind not in ELSEWHERE and slot.name != "lot"],
    ids=lambda value: getattr(value, "name", value),
)
def test_a_paste_of_ten_megabytes_into_a_text(client: Client, pour: Pour, kind: str, slot: object) -> None:
    name, most = getattr(slot, "name"), getattr(slot, "max_length")  # noqa: B009
    page = refused(client, pour, kind, **{name: TEN_MB})
    assert f"(10000000 characters) is longer than {most} characters, the limit [GROUTJOBS]" in page


@pytest.mark.parametrize(
    ("kind", "name"),
    [("reading", "what"), ("placed", "compartment"), ("placed", "left"), ("leak", "compartment"),
     ("point_answer", "answer"), ("point_answer", "point_id"), ("leak_closed", "leak"), ("liquids_started", "lot")],
)  # fmt: skip
@pytest.mark.parametrize("typed", ["", "Z9"])
def test_a_choice_that_is_not_offered_is_named_with_what_is(
    client: Client, pour: Pour, kind: str, name: str, typed: str
) -> None:
    page = refused(client, pour, kind, **{name: typed})
    assert "[GROUTJOBS]" in page
    assert "is not chosen" in page or "“Z9” is none of" in page


@pytest.mark.parametrize("typed", ["yesterday", "2026-13-01T10:00", "1066-10-14T09:00"])
def test_a_time_that_is_none_is_named(client: Client, pour: Pour, typed: str) -> None:
    assert f"“{typed}”" in refused(client, pour, "note", happened_at=typed)


def test_humidity_is_read_on_the_air_only(client: Client, pour: Pour) -> None:
    page = refused(client, pour, "reading", humidity_ratio="60", humidity_ratio_unit="percent")
    assert "is read on the air only" in page
