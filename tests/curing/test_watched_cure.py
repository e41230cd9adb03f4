"""A cure that is watched: spans set aside and taken back, the log of wetting, the outlook and how milestones moved."""

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from groutjobs.accounts.models import Role
from groutjobs.curing.calc.cement import spells_of
from groutjobs.curing.fresh import ask_outlook
from groutjobs.curing.models import CureReading
from groutjobs.curing.outlooks import has_moved, work_out_outlook
from groutjobs.curing.queries import cure_of
from groutjobs.curing.watch_models import CureOutlook, KeptHeating, MilestoneMove, ReadingAside, WetEntry
from groutjobs.curing.watching import log_wetness, set_span_aside, strike_wetness, take_span_back
from groutjobs.errors import NotAllowed
from groutjobs.planning.models import GroutKind
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import pour_whole
from groutjobs.weather.actions import correct_forecast
from tests.curing.asking import fresh_pour, signed_in, site_of, site_time, statuses, stranger
from tests.factories import make_cure_readings, make_forecast, make_person

pytestmark = pytest.mark.django_db


def warmed(hours_ago: float = 30.0, until_h: int = 24) -> Pour:
    """A pour with half-hourly grout and air readings of an invented cure."""
    pour = fresh_pour(hours_ago)
    grout = [(index / 2, 22.0 + 8.0 * (index / 11) * 2.718 ** (1 - index / 11)) for index in range(2 * until_h)]
    make_cure_readings(pour=pour, temps=grout)
    make_cure_readings(pour=pour, temps=[(index / 2, 19.0 + 0.01 * index) for index in range(2 * until_h)], probe="air")
    return pour_whole().get(pk=pour.pk)


def at(pour: Pour, hours: float) -> dt.datetime:
    assert pour.placed_at is not None
    return pour.placed_at + dt.timedelta(hours=hours)


def aside(pour: Pour, first_h: float, last_h: float, why: str = "probe in the air") -> ReadingAside:
    by = make_person(site=site_of(pour), roles=(Role.ENGINEER,))
    return set_span_aside(
        pour=pour, probe="grout", from_at=at(pour, first_h), until_at=at(pour, last_h), why=why, by=by
    )


def test_a_span_of_one_probe_leaves_the_clock_and_stays_on_record() -> None:
    pour = warmed()
    count = CureReading.objects.count()
    span = aside(pour, 5.0, 8.0)
    assert span.reading_count == 7
    assert CureReading.objects.count() == count
    assert CureReading.objects.in_use().filter(probe="air").count() == 48
    assert [gap["first_h"] for gap in cure_of(pour)["gaps"]] == [4.5]


def test_a_span_taken_back_counts_again_but_not_where_its_place_was_taken() -> None:
    pour = warmed()
    span = aside(pour, 5.0, 8.0)
    make_cure_readings(pour=pour, temps=[(6.0, 25.0)])
    back = take_span_back(span=span, why="it was in the grout", by=make_person())
    assert back.kept_aside_count == 1
    assert cure_of(pour)["gaps"] == []
    with pytest.raises(NotAllowed, match="before"):
        take_span_back(span=span, why="again", by=make_person())


def test_a_span_needs_a_reason_and_readings() -> None:
    pour = warmed()
    with pytest.raises(NotAllowed, match="Say why"):
        aside(pour, 5.0, 8.0, why=" ")
    with pytest.raises(NotAllowed, match="No grout reading"):
        aside(pour, 500.0, 501.0)


def test_only_the_engineer_sets_a_span_aside() -> None:
    pour = warmed()
    url = reverse("curing:span_aside", args=[pour.pk])
    data = {
        "probe": "grout", "from_at": site_time(pour, at(pour, 5)), "until_at": site_time(pour, at(pour, 8)),
        "why": "swapped",
    }  # fmt: skip
    answers = statuses("post", url, site_of(pour), data)
    assert {role for role, status in answers.items() if status != 403} == {Role.ENGINEER}
    assert stranger().post(url, data).status_code == 404
    page = signed_in(site_of(pour), Role.AUDITOR).get(reverse("curing:cure_detail", args=[pour.pk])).content.decode()
    assert "swapped" in page
    assert "Take back" not in page


def test_a_lone_spike_is_left_out_of_the_clock_and_said() -> None:
    pour = warmed()
    CureReading.objects.filter(pour=pour, probe="grout", read_at=at(pour, 10.0)).update(temp_c=75.0)
    state = cure_of(pour)
    codes = [item["code"] for item in state["findings"]]
    assert "cure.left_out" in codes
    assert "cure.doubt_spike" in codes
    assert 75.0 in state["series"]["grout"]["temp_c"]
    plain = warmed()
    assert state["last"]["age_h"] == pytest.approx(cure_of(plain)["last"]["age_h"], rel=0.005)


def test_exchanged_probes_are_told_with_their_times() -> None:
    pour = warmed()
    for probe, other in (("grout", 19.1), ("air", 29.0)):
        rows = CureReading.objects.filter(pour=pour, probe=probe, read_at__range=(at(pour, 5), at(pour, 7)))
        rows.update(temp_c=other)
    (told,) = [row for row in cure_of(pour)["doubts"] if row["doubt"] == "exchanged"]
    assert (told["first_h"], told["last_h"], told["count"]) == (5.0, 7.0, 5)


def outlook(pour: Pour, why: str = "test") -> str:
    ask_outlook(pour.pk, why)
    return work_out_outlook(pour.pk)


def test_the_outlook_gives_temperatures_ahead_and_bands_and_a_row_of_history() -> None:
    pour = warmed()
    assert outlook(pour) == "moved"
    state = cure_of(pour)
    assert set(state["foreseen"]) == {"grout", "plate", "concrete", "air"}
    assert state["outlook"]["is_current"]
    band = next(item["band"] for item in state["milestones"] if item["code"] == "tension")
    assert band["way"] == "model"
    assert band["p10_h"] < band["p50_h"] < band["p90_h"]
    move = MilestoneMove.objects.get()
    assert move.inputs["reading_counts"]["grout"] == 48
    assert move.why == "test"


def test_working_out_the_same_again_changes_nothing() -> None:
    pour = warmed()
    outlook(pour)
    assert outlook(pour) == "unchanged"
    assert MilestoneMove.objects.count() == 1


def test_readings_that_move_a_date_add_a_row_and_the_page_shows_both() -> None:
    pour = warmed(hours_ago=40.0)
    outlook(pour, "first file")
    make_cure_readings(pour=pour, temps=[(24.0 + index / 2, 11.0) for index in range(24)])
    assert not cure_of(pour, for_page=True)["outlook"]["is_current"]
    assert cure_of(pour)["outlook"] is None
    assert outlook(pour, "cold night") == "moved"
    page = signed_in(site_of(pour), Role.CREW).get(reverse("curing:cure_detail", args=[pour.pk])).content.decode()
    assert "How the milestones moved" in page
    assert "cold night" in page


def test_a_forecast_asks_for_the_outlook_of_pours_that_cure(django_capture_on_commit_callbacks: Any) -> None:
    pour = warmed()
    old = fresh_pour(24.0 * 90)
    forecast = make_forecast(site=site_of(pour))
    with django_capture_on_commit_callbacks(execute=True):
        correct_forecast(
            forecast=forecast, changes={forecast.starts_at: {"temp_c": 15.0}}, reason="a probe", by=make_person()
        )
    assert CureOutlook.objects.get(pour=pour).asked_why.startswith("forecast of")
    assert not CureOutlook.objects.filter(pour=old).exists()


def test_asking_twice_puts_one_task_into_the_queue(django_capture_on_commit_callbacks: Any) -> None:
    pour = warmed()
    with django_capture_on_commit_callbacks() as first:
        ask_outlook(pour.pk, "one")
    with django_capture_on_commit_callbacks() as second:
        ask_outlook(pour.pk, "two")
    assert (len(first), len(second)) == (1, 0)


def test_dates_that_move_by_less_than_half_an_hour_have_not_moved() -> None:
    moment = dt.datetime(2026, 4, 30, 12, tzinfo=dt.UTC)

    def rows(minutes: int) -> list[dict[str, Any]]:
        shifted = (moment + dt.timedelta(minutes=minutes)).isoformat()
        names = ("p10_at", "p50_at", "p90_at", "middle_at")
        return [{"code": "strip", "state": "expected", **dict.fromkeys(names, shifted)}]

    assert not has_moved(rows(0), rows(29))
    assert has_moved(rows(0), rows(30))
    assert has_moved(rows(0), [rows(0)[0] | {"state": "reached"}])


def heat_data(pour: Pour, **given: str) -> dict[str, str]:
    now = timezone.now()
    data = {
        "target_c_0": "30", "target_c_1": "degC", "target_c": "30", "target_c_unit": "degC",
        "from_at": site_time(pour, now), "until_at": site_time(pour, now + dt.timedelta(hours=48)), "remarks": "",
    }  # fmt: skip
    return data | given


def test_heat_from_now_brings_the_dates_nearer_and_stores_nothing() -> None:
    pour = warmed(hours_ago=25.0)
    client = signed_in(site_of(pour), Role.CREW)
    answer = client.get(reverse("curing:heat_try", args=[pour.pk]), heat_data(pour))
    assert answer.status_code == 200
    rows = {row["code"]: row for row in answer.context["result"]["milestones"]}
    assert rows["full_cure"]["gain_h"] > 2.0
    assert answer.context["result"]["peak_heat_kw"] > 0.0
    text = answer.content.decode()
    assert "carbon monoxide" in text
    assert "Keep this answer" not in text
    assert not KeptHeating.objects.exists()


def test_the_engineer_may_keep_the_answer() -> None:
    pour = warmed(hours_ago=25.0)
    url = reverse("curing:heat_try", args=[pour.pk])
    client = signed_in(site_of(pour), Role.ENGINEER)
    answer = client.post(url, heat_data(pour, remarks="two fans"))
    assert answer.status_code == 302
    assert "two fans" in client.get(answer["Location"]).content.decode()
    assert signed_in(site_of(pour), Role.CREW).post(url, heat_data(pour)).status_code == 403


def test_heat_in_the_past_or_backwards_is_refused_by_its_field() -> None:
    pour = warmed(hours_ago=25.0)
    url, client = reverse("curing:heat_try", args=[pour.pk]), signed_in(site_of(pour), Role.ENGINEER)
    past = site_time(pour, timezone.now() - dt.timedelta(hours=9))
    assert "lies in the past" in client.get(url, heat_data(pour, from_at=past)).content.decode()
    assert "Until lies up to 14 days" in client.get(url, heat_data(pour, until_at=past)).content.decode()


def cement() -> Pour:
    pour = warmed(hours_ago=60.0, until_h=50)
    system = pour.plan.data_sheet.grout_system
    type(system).objects.filter(pk=system.pk).update(kind=GroutKind.CEMENT)
    return pour_whole().get(pk=pour.pk)


def test_hours_kept_wet_are_counted_from_the_log_and_dry_ones_told() -> None:
    pour, by = cement(), make_person()
    for wetness, hours in (("wet", 2.0), ("covered", 4.0), ("dry", 20.0), ("wet", 26.0)):
        log_wetness(pour=pour, wetness=wetness, at=at(pour, hours), by=by)
    log = cure_of(pour, at=at(pour, 50.0))["cement"]["log"]
    assert log["counted_h"] == pytest.approx(42.0, abs=0.1)
    assert log["dry"] == [{"first_h": 20.0, "last_h": 26.0}]
    assert any("lay dry" in item["message"] for item in log["findings"])
    page = signed_in(site_of(pour), Role.CREW).get(reverse("curing:cure_detail", args=[pour.pk])).content.decode()
    assert "Log of wetting" in page


def test_a_struck_entry_no_longer_counts_and_stays_readable() -> None:
    pour, by = cement(), make_person()
    entry = log_wetness(pour=pour, wetness="dry", at=at(pour, 20.0), by=by)
    strike_wetness(entry=entry, why="another machine", by=by)
    assert cure_of(pour)["cement"]["log"]["entries"] == 0
    assert WetEntry.objects.get().struck_why == "another machine"


def test_wetting_is_logged_by_those_who_record_for_cement_alone() -> None:
    pour = cement()
    data = {"wetness": "wet", "at": site_time(pour, at(pour, 3)), "note": ""}
    url = reverse("curing:wet_add", args=[pour.pk])
    assert signed_in(site_of(pour), Role.CREW).post(url, data).status_code == 302
    assert signed_in(site_of(pour), Role.AUDITOR).post(url, data).status_code == 403
    with pytest.raises(NotAllowed, match="Only cement"):
        log_wetness(pour=warmed(), wetness="wet", at=timezone.now(), by=make_person())


def test_spells_run_from_wet_to_dry_or_to_now() -> None:
    spells = spells_of([("dry", 9.0), ("wet", 1.0), ("covered", 3.0), ("wet", 12.0)], 20.0)
    assert [(spell.first_h, spell.last_h) for spell in spells] == [(1.0, 9.0), (12.0, 20.0)]
