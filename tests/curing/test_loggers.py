"""Loggers: what is remembered of one reads its files, where it stands decides the pour, keys open the endpoint."""

import datetime as dt
import json
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.curing import api
from groutjobs.curing.logger_models import Logger, LoggerBatch, LoggerKey
from groutjobs.curing.loggers import keep_logger, make_key, place_logger, revoke_key
from groutjobs.curing.models import CureReading
from groutjobs.errors import NotAllowed
from groutjobs.pours.models import Pour
from tests.curing.asking import fresh_pour, signed_in, site_of, statuses, stranger
from tests.factories import make_person

pytestmark = pytest.mark.django_db
URL = "/api/loggers/v1/readings"
COLUMNS = [{"name": "T1", "probe": "grout", "unit": "f"}, {"name": "T2", "probe": "air", "unit": "f"}]


def a_logger(pour: Pour, **given: Any) -> Logger:
    site = site_of(pour)
    columns: dict[str, Any] = {
        "name": "Logger 3", "serial": "L3", "time_column": "Clock", "date_column": "Day",
        "time_format": "%d.%m.%Y %H:%M", "clock": "+00:00", "columns": COLUMNS,
    }  # fmt: skip
    return keep_logger(site=site, by=make_person(site=site, roles=(Role.ENGINEER,)), **columns | given)


def sending(hours_ago: float = 60.0) -> tuple[Pour, Logger, str]:
    """A pour at which a logger stands, and its key."""
    pour = fresh_pour(hours_ago)
    logger = a_logger(pour)
    assert pour.poured_at is not None
    place_logger(logger=logger, pour=pour, at=pour.poured_at, by=logger.made_by)
    _, key = make_key(logger=logger, by=logger.made_by)
    return pour, logger, key


def row(pour: Pour, hour: float, value: Any = 71.6, channel: str = "T1") -> dict[str, Any]:
    assert pour.placed_at is not None
    return {"channel": channel, "at": (pour.placed_at + dt.timedelta(hours=hour)).isoformat(), "value": value}


def post(key: str, rows: list[dict[str, Any]], batch_id: str = "b1", **headers: str) -> Any:
    body = json.dumps({"batch_id": batch_id, "readings": rows})
    given = {"Authorization": f"Bearer {key}", **headers}
    return Client().post(URL, body, content_type="application/json", headers=given)


def test_a_batch_is_stored_in_the_pour_at_which_the_logger_stood() -> None:
    pour, _, key = sending()
    answer = post(key, [row(pour, 1), row(pour, 2, 50.0, "t2")])
    assert answer.status_code == 200
    assert answer.json() == {"batch_id": "b1", "stored": 2, "known": 0, "refused": []}
    stored = CureReading.objects.get(pour=pour, probe="grout")
    assert stored.temp_c == pytest.approx(22.0)
    assert stored.brought_in.logger_name == "Logger 3 (L3)"


def test_the_same_batch_again_changes_nothing_and_gets_the_same_answer() -> None:
    pour, _, key = sending()
    first, again = (post(key, [row(pour, 1)]) for _ in range(2))
    assert first.json() == again.json()
    assert (first["Idempotent-Replay"], again["Idempotent-Replay"]) == ("false", "true")
    assert CureReading.objects.count() == LoggerBatch.objects.count() == 1


def test_the_same_id_with_other_content_is_refused_and_nothing_is_overwritten() -> None:
    pour, _, key = sending()
    post(key, [row(pour, 1)])
    answer = post(key, [row(pour, 2)])
    assert (answer.status_code, answer.json()["code"]) == (409, "other_content")
    assert CureReading.objects.count() == 1


def test_a_reading_on_record_in_another_batch_is_known_and_not_doubled() -> None:
    pour, _, key = sending()
    post(key, [row(pour, 1)])
    assert post(key, [row(pour, 1), row(pour, 2)], "b2").json() | {"batch_id": ""} == {
        "batch_id": "", "stored": 1, "known": 1, "refused": [],
    }  # fmt: skip


def test_bad_rows_are_refused_one_by_one_with_their_reason_and_the_rest_is_stored() -> None:
    pour, _, key = sending(hours_ago=10.0)
    rows = [
        row(pour, 1),
        row(pour, 2, channel="T9"),
        row(pour, 20),
        row(pour, 3) | {"at": "2026-04-30T07:00"},
        row(pour, 3) | {"at": "yesterday"},
        row(pour, -9000),
        row(pour, 4, "warm"),
        row(pour, 4, 999.0),
        row(pour, 1, 90.0),
        {"channel": "T1"},
    ]
    found = post(key, rows).json()
    assert found["stored"] == 1
    codes = ["channel", "future", "offset", "time", "nowhere", "value", "range", "contradicts", "time"]
    assert [item["code"] for item in found["refused"]] == codes
    assert [item["index"] for item in found["refused"]] == list(range(1, 10))
    assert "T1, T2" in found["refused"][0]["reason"]


def test_a_key_that_is_unknown_missing_or_revoked_opens_nothing() -> None:
    pour, _, key = sending()
    assert post("gj_wrong", [row(pour, 1)]).status_code == 401
    assert Client().post(URL, "{}", content_type="application/json")["WWW-Authenticate"] == "Bearer"
    revoke_key(key=LoggerKey.objects.get(), by=make_person())
    answer = post(key, [row(pour, 1)])
    assert (answer.status_code, answer.json()["code"]) == (403, "revoked")
    assert not CureReading.objects.exists()


def test_a_session_without_a_key_opens_nothing() -> None:
    pour, _, _ = sending()
    client = signed_in(site_of(pour), *Role)
    assert client.post(URL, "{}", content_type="application/json").status_code == 401


def test_too_many_calls_are_told_to_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    pour, _, key = sending()
    monkeypatch.setattr(api, "CALLS_A_MIN", 2)
    answers = [post(key, [row(pour, 1)]) for _ in range(8)]
    assert {answer.status_code for answer in answers[:2]} == {200}
    assert answers[-1].status_code == 429
    assert 1 <= int(answers[-1]["Retry-After"]) <= 61


def test_guessing_keys_is_slowed(monkeypatch: pytest.MonkeyPatch) -> None:
    pour, _, _ = sending()
    monkeypatch.setattr(api, "TRIES_A_MIN", 2)
    assert [post("gj_x", [row(pour, 1)]).status_code for _ in range(6)][-1] == 429


def test_a_day_has_a_quota_of_readings(monkeypatch: pytest.MonkeyPatch) -> None:
    pour, _, key = sending()
    monkeypatch.setattr(api, "READINGS_A_DAY", 3)
    assert post(key, [row(pour, hour) for hour in range(3)]).status_code == 200
    assert (post(key, [row(pour, 5)], "b2").status_code, CureReading.objects.count()) == (429, 3)


def test_size_type_and_shape_are_checked() -> None:
    pour, _, key = sending()
    large = [row(pour, 1) | {"channel": "x" * 150} for _ in range(1000)]
    assert post(key, large * 2).status_code == 413
    assert post(key, []).status_code == 422
    wrong = Client().post(URL, "x", content_type="text/plain", headers={"Authorization": f"Bearer {key}"})
    assert wrong.status_code == 415
    assert Client().get(URL).status_code == 405


def test_the_key_is_kept_as_its_hash_alone_also_in_the_record() -> None:
    _, _, key = sending()
    assert key not in json.dumps(list(LoggerKey.objects.values()), default=str)
    assert not Event.objects.filter(body__contains=key).exists()


def test_a_logger_goes_from_pour_to_pour_by_the_time_of_each_reading() -> None:
    first, logger, key = sending(60.0)
    second = fresh_pour(20.0)
    type(site_of(second)).objects.filter(pk=site_of(second).pk)
    second.plan.machine.site = site_of(first)
    second.plan.machine.save()
    moved_at = timezone.now() - dt.timedelta(hours=20)
    place_logger(logger=logger, pour=second, at=moved_at, by=logger.made_by)
    at = [(moved_at + dt.timedelta(hours=hour)).isoformat() for hour in (-1, 1)]
    found = post(key, [{"channel": "T1", "at": moment, "value": 70} for moment in at]).json()
    assert found["stored"] == 2
    assert CureReading.objects.get(pour=first).read_at < moved_at < CureReading.objects.get(pour=second).read_at
    with pytest.raises(NotAllowed, match="later moment"):
        place_logger(logger=logger, pour=first, at=moved_at - dt.timedelta(hours=2), by=logger.made_by)


def test_its_file_is_read_as_remembered_and_bringing_it_twice_adds_nothing() -> None:
    pour, logger, _ = sending()
    assert pour.placed_at is not None
    moments = [pour.placed_at.astimezone(dt.UTC) + dt.timedelta(hours=hour) for hour in range(1, 4)]
    lines = ["No;Day;Clock;T2;T1", *(f"1;{at:%d.%m.%Y};{at:%H:%M:%S};50,0;71,6" for at in moments)]
    data = {"logger": logger.pk, "pasted": "\n".join(lines).replace(",", "."), "clock": "remembered"}
    client = signed_in(site_of(pour), Role.CREW)
    url = reverse("curing:reading_import", args=[pour.pk])
    for _ in range(2):
        assert client.post(url, data).status_code == 302
    assert CureReading.objects.filter(pour=pour, probe="grout", temp_c__range=(21.99, 22.01)).count() == 3
    assert CureReading.objects.count() == 6


def test_a_file_without_a_remembered_column_is_refused_and_names_it() -> None:
    pour, logger, _ = sending()
    data = {"logger": logger.pk, "pasted": "Day;Clock;T1\n30.04.2026;07:00;71\n", "clock": "remembered"}
    answer = signed_in(site_of(pour), Role.CREW).post(reverse("curing:reading_import", args=[pour.pk]), data)
    assert answer.status_code == 422
    assert "column “t2” is missing" in answer.content.decode().replace("&quot;", "”")


def test_pages_are_for_the_site_and_keys_for_those_who_manage() -> None:
    pour, logger, _ = sending()
    detail = reverse("curing:logger_detail", args=[logger.pk])
    assert set(statuses("get", detail, site_of(pour), {}).values()) == {200}
    assert stranger().get(detail).status_code == 404
    made = statuses("post", reverse("curing:key_add", args=[logger.pk]), site_of(pour), {})
    assert {role for role, status in made.items() if status == 200} == {
        Role.ENGINEER, Role.ADMINISTRATOR, Role.CREW_LEAD,
    }  # fmt: skip
    assert signed_in(site_of(pour), Role.ENGINEER).get(reverse("curing:key_add", args=[logger.pk])).status_code == 405


def test_a_new_key_is_shown_once() -> None:
    pour, logger, _ = sending()
    client = signed_in(site_of(pour), Role.ENGINEER)
    shown = client.post(reverse("curing:key_add", args=[logger.pk])).content.decode()
    assert "gj_" in shown
    assert "gj_" not in client.get(reverse("curing:logger_detail", args=[logger.pk])).content.decode()


def test_a_logger_is_added_by_its_form_and_a_column_named_twice_is_refused() -> None:
    pour = fresh_pour()
    client, url = signed_in(site_of(pour), Role.ENGINEER), reverse("curing:logger_add", args=[site_of(pour).pk])
    data = {
        "name": "L9", "time_column": "time", "time_format": "iso", "clock": "site", "grout_column": "A",
        "grout_unit": "c", "air_column": "A", "air_unit": "c", "concrete_unit": "c", "plate_unit": "c",
    }  # fmt: skip
    answer = client.post(url, data)
    assert (answer.status_code, "named twice" in answer.content.decode()) == (422, True)
    assert client.post(url, data | {"air_column": "B"}).status_code == 302
    assert [item["name"] for item in Logger.objects.get().columns] == ["A", "B"]


def test_the_description_is_for_people_who_are_signed_in_and_loads_nothing_from_outside() -> None:
    pour = fresh_pour()
    url = reverse("curing:logger_openapi")
    assert Client().get(url).status_code == 302
    schema = signed_in(site_of(pour), Role.CREW).get(url).json()
    assert schema["openapi"].startswith("3.")
    assert "/api/loggers/v1/readings" in schema["paths"]
    assert schema["components"]["securitySchemes"]["LoggerBearer"]["scheme"] == "bearer"
    page = signed_in(site_of(pour), Role.CREW).get(reverse("curing:logger_endpoint"))
    assert 'src="http' not in page.content.decode()
    assert "'none'" in page["Content-Security-Policy"]
