"""Whatever is typed wrong comes back as it was typed, with a sentence that names field, value, limit and source."""

import html

import pytest
from django.test import Client

from groutjobs import units
from groutjobs.limits import LIMITS
from groutjobs.pours.actions import add_entry
from groutjobs.pours.bodies import BODIES, Slot, SlotKind
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


def unit_of(slot: Slot) -> dict[str, str]:
    suffix = LIMITS[slot.limit_key].suffix
    return {f"{slot.name}_unit": units.UNITS_OF[suffix][0].key} if suffix else {}


def name_of(value: object) -> str:
    return value.name if isinstance(value, Slot) else str(value)


@pytest.mark.parametrize(("kind", "slot"), NUMBERS, ids=name_of)
def test_a_number_that_is_none_or_far_off(client: Client, pour: Pour, kind: str, slot: Slot) -> None:
    for typed in ("warm", "NaN", "1e9", "-99999", "99999999", "1,500", "12 ft 3 in"):
        page = refused(client, pour, kind, **{slot.name: typed}, **unit_of(slot))
        assert f'value="{typed}"' in page
        assert f'<p class="error">{slot.label}' in page
        assert f"[{LIMITS[slot.limit_key].source}]" in page


@pytest.mark.parametrize(("kind", "slot"), NUMBERS, ids=name_of)
def test_a_paste_of_ten_megabytes_into_a_number(client: Client, pour: Pour, kind: str, slot: Slot) -> None:
    page = refused(client, pour, kind, **{slot.name: TEN_MB}, **unit_of(slot))
    assert "10000000 characters are too many for one number" in page


@pytest.mark.parametrize(("kind", "slot"), NUMBERS, ids=name_of)
def test_an_empty_number_is_asked_for_where_it_is_needed(client: Client, pour: Pour, kind: str, slot: Slot) -> None:
    if slot.required:
        assert f"{slot.label} is empty" in refused(client, pour, kind, **{slot.name: ""})
    else:
        assert client.post(enter(pour, kind), sent(pour, kind, **{slot.name: ""})).status_code == 302


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
    ids=name_of,
)
def test_a_paste_of_ten_megabytes_into_a_text(client: Client, pour: Pour, kind: str, slot: Slot) -> None:
    page = refused(client, pour, kind, **{slot.name: TEN_MB})
    assert f"(10000000 characters) is longer than {slot.max_length} characters, the limit [GROUTJOBS]" in page


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
