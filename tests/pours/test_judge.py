"""Findings of the fold: working life, temperatures, pauses, leaks, trapped air, lots, double and late entries."""

import datetime as dt
from zoneinfo import ZoneInfo

import psychrolib
import pytest

from groutjobs.engineering.materials import WorkingLifePoint
from groutjobs.findings import Level
from groutjobs.pours.calc import StoredLot
from groutjobs.pours.log import Fact
from tests.pours.facts import START, answer, batch, codes, fact, log_from, whole_pour


def minutes(count: float) -> dt.timedelta:
    return dt.timedelta(minutes=count)


def test_working_life_runs_from_the_liquids_at_the_measured_temperature() -> None:
    """Bloch and Geitner, Machinery Component Maintenance and Repair, p. 75: twice as fast for each 10 K.

    With one point of a data sheet, 90 min at 23 °C, grout of 33 °C lives 45 min.
    """
    one = log_from([answer(), *batch(1, 10, "A", grout_c=33.0)]).batches[0]
    assert one.working_life_min == pytest.approx(45.0)
    assert one.ends_at == START + minutes(55)
    assert one.left_min(START + minutes(50)) == pytest.approx(5.0)
    assert one.left_min(START + minutes(60)) == pytest.approx(-5.0)


def test_until_it_is_measured_the_planned_temperature_counts_and_is_named() -> None:
    one = log_from([fact("liquids_started", 10, batch=1, kits=1, lot="L1")]).batches[0]
    assert one.working_life_min == pytest.approx(90.0)
    assert "planned 23.0 °C" in one.working_life_basis


def test_the_clock_starts_at_the_first_entry_where_the_liquids_were_not_entered() -> None:
    assert log_from([fact("wetted_out", 12, batch=1, grout_c=23.0)]).batches[0].clock_from == START + minutes(12)


def test_the_batch_clock_keeps_true_when_the_clocks_go_back() -> None:
    """IANA time zone database: New York goes from EDT to EST at 06:00 UTC on 2026-11-01, 01:00 to 02:00 comes twice."""
    zone = ZoneInfo("America/New_York")
    early = dt.datetime(2026, 11, 1, 1, 30, tzinfo=zone, fold=0)
    late = dt.datetime(2026, 11, 1, 1, 30, tzinfo=zone, fold=1)
    one = log_from([fact("wetted_out", batch=1, grout_c=23.0, _happened_at=early)]).batches[0]
    assert one.left_min(late) == pytest.approx(90.0 - 60.0)


def test_outside_the_data_sheet_the_working_life_is_not_known() -> None:
    life = (WorkingLifePoint(10.0, 180.0), WorkingLifePoint(32.0, 48.0))
    log = log_from([answer(), *batch(1, 10, "A", grout_c=34.0)], working_life=life)
    assert log.batches[0].ends_at is None
    assert "batch.life_unknown" in codes(log)
    assert "34 °C is above 32 °C" in log.batches[0].working_life_basis


def test_a_batch_placed_after_its_life_is_a_blocker() -> None:
    late = fact("placed", 105, batch=1, compartment="A", volume_l=56.0, left="none")
    log = log_from([answer(), *batch(1, 10, "A")[:3], late])
    assert codes(log) == ["batch.past_life"]
    assert log.findings[0].level is Level.BLOCKER
    assert "5 min after" in log.findings[0].message


def test_grout_outside_the_placing_range_of_the_data_sheet_is_a_warning() -> None:
    assert codes(log_from([answer(), *batch(1, 10, "A", grout_c=32.0)])) == []
    log = log_from([answer(), *batch(1, 10, "A", grout_c=33.0)])
    assert codes(log) == ["batch.temperature"]
    assert log.findings[0].source == "DATASHEET"


def test_grout_that_was_not_measured_is_a_warning() -> None:
    facts = [one for one in batch(1, 10, "A") if one.kind != "wetted_out"]
    assert codes(log_from([answer(), *facts])) == ["batch.not_measured"]


@pytest.mark.parametrize(("pause_min", "found"), [(44.0, []), (46.0, ["batch.gap"])])
def test_a_pause_of_more_than_half_the_working_life_is_a_warning(pause_min: float, found: list[str]) -> None:
    """Half of 90 min; the share is our own [GROUTJOBS]."""
    assert codes(log_from([answer(), *batch(1, 10, "A"), *batch(2, 10 + pause_min, "A")])) == found


def levels(second: float, third: float) -> list[Fact]:
    """Two batches into A whose levels are seen, 112 L in all of 120 L."""
    facts = [answer(), *batch(1, 10, "A"), *batch(2, 30, "A")]
    facts[4] = fact("placed", 25, batch=1, compartment="A", volume_l=56.0, left="none", filled_ratio=second)
    facts[8] = fact("placed", 45, batch=2, compartment="A", volume_l=56.0, left="none", filled_ratio=third)
    return facts


def test_levels_far_below_what_was_placed_twice_running_say_check_the_forms() -> None:
    assert codes(log_from(levels(0.46, 0.92))) == []
    assert codes(log_from(levels(0.30, 0.60))) == ["batch.check_forms"]


def test_a_compartment_full_with_too_little_grout_may_hold_air() -> None:
    facts = [answer(), *batch(1, 10, "A"), fact("compartment_full", 30, compartment="A")]
    assert codes(log_from(facts)) == ["batch.trapped_air"]


def test_more_grout_than_a_compartment_holds_is_a_warning_without_any_level() -> None:
    facts = [answer(), *(one for number in range(3) for one in batch(number + 1, 10 + 20 * number, "A"))]
    assert codes(log_from(facts)) == ["fill.over_takeoff"]


def test_a_surface_too_near_the_dew_point_is_a_warning() -> None:
    """Dew point of air at 20 °C and 75 % from psychrolib (ASHRAE Handbook of Fundamentals 2017, chapter 1).

    The margin of 3 K is coating practice [ISO8502-4], from memory.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    dew_c = psychrolib.GetTDewPointFromRelHum(20.0, 0.75)
    air = fact("reading", 0, what="air", temp_c=20.0, humidity_ratio=0.75)
    for spread_k, found in ((2.9, ["reading.dew_point"]), (3.1, [])):
        plate = fact("reading", 10, what="plate", temp_c=dew_c + spread_k)
        assert codes(log_from([air, plate])) == found


def test_readings_hours_apart_are_not_compared() -> None:
    air = fact("reading", 0, what="air", temp_c=20.0, humidity_ratio=0.99)
    assert codes(log_from([air, fact("reading", 119, what="concrete", temp_c=20.0)])) == ["reading.dew_point"]
    assert codes(log_from([air, fact("reading", 121, what="concrete", temp_c=20.0)])) == []


def test_the_last_reading_of_a_surface_is_held_against_the_data_sheet() -> None:
    cold, warm = fact("reading", 0, what="concrete", temp_c=8.0), fact("reading", 5, what="concrete", temp_c=12.0)
    assert codes(log_from([cold])) == ["reading.temperature"]
    assert codes(log_from([cold, warm])) == []


def test_lots_are_held_against_the_store() -> None:
    facts = [answer(), *batch(1, 10, "A")]
    assert codes(log_from(facts, lots=())) == ["lot.unknown"]
    assert codes(log_from(facts, lots=(StoredLot("L1", dt.date(2026, 4, 29)),))) == ["lot.expired"]
    assert codes(log_from(facts, lots=(StoredLot("L1", dt.date(2026, 4, 30)),))) == []


def test_more_kits_than_planned_are_a_note() -> None:
    log = log_from(whole_pour(), kits_total=3)
    assert [(finding.code, finding.level) for finding in log.findings] == [("kits.more", Level.NOTE)]


def test_a_step_entered_twice_is_kept_and_asked_about() -> None:
    log = log_from([answer(), *batch(1, 10, "A"), fact("wetted_out", 18, batch=1, grout_c=30.0)])
    assert codes(log) == ["entry.double"]
    assert log.batches[0].grout_c == 23.0


def test_a_batch_of_which_more_was_placed_than_it_yields_is_asked_about() -> None:
    twice = fact("placed", 26, batch=1, compartment="A", volume_l=56.0, left="none")
    assert codes(log_from([answer(), *batch(1, 10, "A"), twice])) == ["batch.volume", "entry.likely_double"]


def test_a_place_that_the_plan_does_not_have_is_named() -> None:
    log = log_from([answer(), *batch(1, 10, "C")])
    assert codes(log) == ["fill.unknown_place"]
    assert log.placed_l == 0.0


def test_work_after_the_declaration_is_a_warning_and_answers_are_not() -> None:
    after = [*whole_pour(), answer(120, point_id=3), fact("reading", 121, what="air", temp_c=20.0)]
    assert codes(log_from(after)) == []
    assert codes(log_from([*after, fact("leak", 122, compartment="A", where="north")])) == ["entry.after_end"]


def test_the_heaviest_findings_stand_first() -> None:
    log = log_from([*batch(1, 10, "A", grout_c=33.0), *batch(2, 30, "A")], kits_total=1)
    found = [finding.level for finding in log.findings]
    assert found == sorted(found, key=list(Level).index)
    assert found[0] is Level.BLOCKER
    assert found[-1] is Level.NOTE
