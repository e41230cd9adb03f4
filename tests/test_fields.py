"""Every kind of wrong entry comes back with a sentence that names field, value, limit and source."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django import forms

from groutjobs import fields, units


class GapForm(fields.SheetForm):
    gap_mm = fields.QuantityField("grout_thickness_mm", label="Grout thickness")
    air_c = fields.QuantityField("air_c", label="Air temperature", required=False)
    kits = fields.QuantityField("kits", label="Kits")
    note = fields.TextField(label="Note", max_length=20, required=False)
    seen_at = fields.WhenField(label="Seen at", required=False)
    points = fields.TableField(
        [fields.Column("label", "point", max_length=5), fields.Column("x_mm", "x", "plan_mm")], label="Points"
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["points"].required = False


GOOD = {"gap_mm": "50", "gap_mm_unit": "mm", "kits": "9", "points_unit": "metric"}


def errors_of(name: str, **typed: str) -> str:
    form = GapForm(GOOD | typed, zone="America/New_York")
    assert not form.is_valid()
    return " ".join(str(error) for error in form.errors[name])


def test_a_right_entry_gives_si_and_keeps_what_was_typed() -> None:
    form = GapForm(GOOD | {"gap_mm": "2 1/4", "gap_mm_unit": "in"})
    assert form.is_valid(), form.errors
    assert form.values()["gap_mm"] == pytest.approx(57.15)
    assert form.values()["kits"] == 9
    assert form.entered()["gap_mm"] == {"text": "2 1/4", "unit": "in"}


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", ["Grout thickness is empty", "5.0 mm to 600.0 mm", "BLOCH-MCM"]),
        ("fifty", ["“fifty” is not a number", "BLOCH-MCM"]),
        ("nan", ["“nan” is not a number"]),
        ("-50", ["-50 mm is below 5.0 mm", "BLOCH-MCM"]),
        ("5000", ["5000 mm is above 600.0 mm", "BLOCH-MCM"]),
        ("400", ["400 mm is outside the usual 20.0 mm to 200.0 mm", "It is right"]),
        ("1,500", ["two ways", "1500 or 1.5"]),
        ("5" * 10_000_000, ["10000000 characters"]),
    ],
    ids=["empty", "text", "NaN", "negative", "too big", "unlikely", "two ways", "10 MB"],
)
def test_a_wrong_number_names_field_value_limit_and_source(typed: str, words: list[str]) -> None:
    message = errors_of("gap_mm", gap_mm=typed)
    assert all(word in message for word in words), message[:300]
    assert len(message) < 400


def test_a_wrong_unit_by_a_factor_is_refused() -> None:
    assert "50 in is above 600.0 mm" in errors_of("gap_mm", gap_mm="50", gap_mm_unit="in")


def test_a_unit_that_is_not_offered_is_refused() -> None:
    assert "not one of its units" in errors_of("gap_mm", gap_mm_unit="furlong")


def test_an_unlikely_value_is_taken_when_confirmed() -> None:
    form = GapForm(GOOD | {"gap_mm": "400", "gap_mm_sure": "on"})
    assert form.is_valid(), form.errors


def test_a_count_must_be_whole() -> None:
    assert "9.5 is not a whole number" in errors_of("kits", kits="9.5")


def test_what_was_typed_is_in_the_page_again() -> None:
    form = GapForm(GOOD | {"gap_mm": "fifty<b>", "note": "x" * 30})
    assert "fifty&lt;b&gt;" in str(form)
    assert "x" * 30 in str(form)


def test_a_long_text_names_its_limit() -> None:
    assert "longer than 20 characters" in errors_of("note", note="y" * 10_000_000)


def test_a_table_names_line_and_cell() -> None:
    message = errors_of("points", points="P1; 100\nP2; abc\nP3; -99999")
    assert "Line 2: x: “abc” is not a number" in message
    assert "Line 3: x -99999 mm is below" in message


def test_a_table_reads_tabs_semicolons_and_units() -> None:
    form = GapForm(GOOD | {"points": "P1\t10\nP2; 20\nP3, 30", "points_unit": units.US, "points_sure": "on"})
    assert form.is_valid(), form.errors
    assert [row["x_mm"] for row in form.values()["points"]] == pytest.approx([254.0, 508.0, 762.0])


def test_a_row_with_too_many_cells_is_refused() -> None:
    assert "3 cells, but Points has 2" in errors_of("points", points="P1; 1; 2")


def test_a_time_that_the_clock_shows_twice_is_a_question() -> None:
    message = errors_of("seen_at", seen_at="2026-11-01T01:30")
    assert "twice that day" in message
    assert "2026-11-01T01:30-0400 or 2026-11-01T01:30-0500" in message


def test_a_time_that_the_clock_skips_is_refused() -> None:
    assert "skip this time" in errors_of("seen_at", seen_at="2026-03-08T02:30")


def test_a_time_with_its_offset_is_taken() -> None:
    form = GapForm(GOOD | {"seen_at": "2026-11-01T01:30-05:00"}, zone="America/New_York")
    assert form.is_valid(), form.errors
    assert form.values()["seen_at"] == dt.datetime(2026, 11, 1, 6, 30, tzinfo=dt.UTC)


def test_a_time_is_shown_in_the_zone_of_the_site() -> None:
    field = fields.WhenField(label="Seen at")
    field.zone = ZoneInfo("America/New_York")
    assert field.prepare_value(dt.datetime(2026, 7, 1, 12, 0, tzinfo=dt.UTC)) == "2026-07-01T08:00"


def test_every_widget_is_rendered_with_label_and_unit() -> None:
    text = str(GapForm(system=units.US))
    assert '<label for="id_gap_mm_0">' in text
    assert 'id="id_gap_mm_0"' in text
    assert '<option value="in" selected' in text
    assert isinstance(GapForm().fields["note"].widget, forms.TextInput)
