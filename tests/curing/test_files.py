"""Files of loggers: both layouts, units, clocks, and a sentence for each row that cannot be taken."""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from groutjobs.curing.files import (
    EXAMPLE,
    MOST_ROWS,
    SITE_CLOCK_TWICE,
    Clock,
    Reading,
    ReadingsRefused,
    clock_choices,
    readings_of,
)

NEW_YORK = ZoneInfo("America/New_York")
FIRST = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
LAST = dt.datetime(2026, 12, 31, tzinfo=dt.UTC)


def read(text: str | bytes, *, manner: str = "site", **given: Any) -> list[Reading]:
    content = text if isinstance(text, bytes) else text.encode()
    return readings_of(content, Clock(NEW_YORK, manner), earliest=FIRST, latest=LAST, **given)


def refusal(text: str | bytes, **given: Any) -> str:
    with pytest.raises(ReadingsRefused) as caught:
        read(text, **given)
    return str(caught.value)


def test_it_reads_the_example_of_the_page() -> None:
    readings = read(EXAMPLE)
    assert [(reading.probe, reading.temp_c) for reading in readings[:3]] == [
        ("grout", 21.5), ("concrete", 18.2), ("air", 14.0),
    ]  # fmt: skip
    assert readings[0].read_at == dt.datetime(2026, 4, 30, 11, 0, tzinfo=dt.UTC)


def test_it_reads_one_column_of_probes_in_fahrenheit() -> None:
    # 70.7 °F is 21.5 °C by definition of the scales: (70.7 - 32) / 1.8
    reading = read("time;probe;temp_f\n2026-04-30T07:00-04:00;Grout;70,7\n")[0]
    assert (reading.probe, reading.typed) == ("grout", "70,7 °F")
    assert reading.temp_c == pytest.approx(21.5)


def test_empty_cells_comments_tabs_quotes_and_a_byte_order_mark_do_no_harm() -> None:
    text = '\ufefftime\tgrout_c\tair_c\n# made up\n"2026-04-30 07:00"\t"21.5"\t\n\n2026-04-30 08:00\t\t12\n'
    assert [(reading.probe, reading.temp_c) for reading in read(text)] == [("grout", 21.5), ("air", 12.0)]


def test_a_row_said_twice_counts_once() -> None:
    assert len(read("time,grout_c\n2026-04-30 07:00,21\n2026-04-30 07:00,21\n")) == 1


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("2026-04-30 06:00,22", "does not come after that of row 2"),
        ("2026-04-30 07:00,22", "does not come after that of row 2"),
        ("2026-04-30 08:00,130", "130 °C is outside -20"),
        ("2026-04-30 08:00,-30", "-30 °C is outside"),
        ("2026-04-30 08:00,nan", "“nan” is not a number"),
        ("2026-04-30 08:00,1e2", "“1e2” is not a number"),
        ("2026-04-30 08:00,=1+1", "“=1+1” is not a number"),
        ("yesterday,22", "“yesterday” is not a time"),
        ("2019-04-30 08:00,22", "is before 2025-12-31 19:00"),
        ("2027-04-30 08:00,22", "is after 2026-12-30 19:00"),
        ("2026-04-30 08:00", "1 cells, but the header has 2"),
        ("2026-04-30 08:00,22,23", "3 cells, but the header has 2"),
    ],
)
def test_a_row_that_cannot_be_taken_is_named(row: str, words: str) -> None:
    said = refusal(f"time,grout_c\n2026-04-30 07:00,21\n{row}\n")
    assert "Row 3" in said
    assert words in said.replace("\u2212", "-")
    assert "[" in said


def test_the_limit_follows_the_probe() -> None:
    assert "the limits for air" in refusal("time,air_c\n2026-04-30 07:00,75\n")
    assert read("time,grout_c\n2026-04-30 07:00,75\n")[0].temp_c == 75.0


def test_celsius_in_a_fahrenheit_column_is_asked_about_and_taken_when_confirmed() -> None:
    text = "time,grout_f\n2026-04-30 07:00,21\n"
    assert "outside the usual" in refusal(text)
    assert read(text, confirmed=True)[0].temp_c == pytest.approx(-6.11, abs=0.01)


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("time,temperature", "“temperature” is not one of its columns"),
        ("grout_c", "a column is missing"),
        ("time,grout_c,grout_c", "stands twice"),
        ("time,grout_c,grout_f", "must hold time and"),
        ("time,temp_c", "must hold time and"),
        ("time,probe,temp_c,air_c", "must hold time and"),
        ("time,probe,temp_c,temp_f", "must hold time and"),
    ],
)
def test_a_header_that_cannot_be_read_is_named(header: str, words: str) -> None:
    assert words in refusal(f"{header}\n2026-04-30 07:00,21\n")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"time,grout_c\n", "0 rows of readings"),
        (b"# nothing\n", "0 rows of readings"),
        (b"time,grout_c\n2026-04-30 07:00,\n", "no temperature"),
        (b"PK\x03\x04\x00\x00", "not plain text"),
        (b"time,grout_c\n2026-04-30 07:00,21\xb0\n", "not UTF-8 (0xb0)"),
        (b"time,grout_c\n" + b"9" * 500, "has 500 characters"),
        (b"9" * (8 * 1024 * 1024 + 1), "8.0 MB"),
    ],
)
def test_a_file_that_is_none_comes_back_with_a_sentence(content: bytes, words: str) -> None:
    assert words in refusal(content)


def test_many_bad_rows_are_counted_and_not_all_listed() -> None:
    said = refusal("time,grout_c\n" + "x,21\n" * 40)
    assert "Row 2:" in said
    assert "And 28 more rows like these." in said


def test_an_unknown_probe_is_named() -> None:
    assert "“steam” is none of grout, concrete, plate, air" in refusal("time,probe,temp_c\n2026-04-30 07:00,steam,21\n")


def test_fifty_thousand_rows_are_taken_and_one_more_is_not() -> None:
    start = dt.datetime(2026, 1, 2, tzinfo=dt.UTC)
    rows = [f"{(start + dt.timedelta(minutes=n)).isoformat()},{20 + n % 5}" for n in range(MOST_ROWS + 1)]
    assert len(read("\n".join(["time,grout_c", *rows[:MOST_ROWS]]))) == MOST_ROWS
    assert "50001 rows" in refusal("\n".join(["time,grout_c", *rows]))


TWICE = "time,grout_c\n2026-11-01 00:30,20\n2026-11-01 01:30,21\n2026-11-01 01:30,22\n2026-11-01 02:30,23\n"


def test_an_hour_that_comes_twice_is_a_question() -> None:
    said = refusal(TWICE)
    assert "comes twice that day by the clocks of America/New_York" in said
    assert "choose how the logger's clock ran" in said


def test_the_hour_is_read_in_the_order_of_the_file_when_asked() -> None:
    readings = read(TWICE, manner=SITE_CLOCK_TWICE)
    hours = [(reading.read_at - readings[0].read_at) / dt.timedelta(hours=1) for reading in readings]
    assert hours == [0.0, 1.0, 2.0, 3.0]


def test_a_logger_that_kept_its_offset_is_read_at_that_offset() -> None:
    text = "time,grout_c\n2026-11-01 01:30,20\n2026-11-01 02:30,21\n"
    assert read(text, manner="-05:00")[0].read_at == dt.datetime(2026, 11, 1, 6, 30, tzinfo=dt.UTC)


def test_a_time_that_the_clocks_skip_is_a_question() -> None:
    # Summer time begins on 2026-03-08 at 02:00.
    assert "is skipped by the clocks of America/New_York" in refusal("time,grout_c\n2026-03-08 02:30,20\n")


def test_the_clocks_on_offer_are_those_of_the_site_in_that_year() -> None:
    assert [key for key, _ in clock_choices(NEW_YORK, 2026)] == ["site", "site_twice", "+00:00", "-04:00", "-05:00"]
    assert [key for key, _ in clock_choices(ZoneInfo("Asia/Kolkata"), 2026)][2:] == ["+00:00", "+05:30"]
