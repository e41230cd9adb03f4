"""Choosing a service and asking it now: who may, what the page says, and what a wrong entry is told."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.equipment.models import Site
from groutjobs.weather.actions import correct_forecast
from groutjobs.weather.models import FeedState, Forecast, ForecastFeed, ServiceState
from groutjobs.weather.tasks import fetch_when_due, queue_next
from tests.factories import make_forecast, make_person, make_site
from tests.weather.asking import HUGE, errors_in, signed_in, stranger
from tests.weather.feeds import make_feed, met, state_of
from tests.weather.forecast_server import CONTACT, Server, send

pytestmark = pytest.mark.django_db
WRITERS = {Role.ENGINEER, Role.ADMINISTRATOR}


@pytest.fixture
def site() -> Site:
    return make_site()


def edit(site: Site) -> str:
    return reverse("weather:feed_edit", args=[site.pk])


def ask(site: Site) -> str:
    return reverse("weather:feed_ask", args=[site.pk])


def page(site: Site, role: Role = Role.ENGINEER) -> str:
    return signed_in(site, role).get(reverse("weather:forecast_list", args=[site.pk])).content.decode()


def post(**fields: str) -> dict[str, str]:
    return {"service": "met_no", "contact": CONTACT, "fetching": "on"} | fields


def test_an_engineer_chooses_and_the_forecast_comes(
    site: Site, service: Server, django_capture_on_commit_callbacks: Any
) -> None:
    service.answers = [met(issued_at=f"{timezone.now():%Y-%m-%dT%H:%M:%SZ}")]
    with django_capture_on_commit_callbacks(execute=True):
        assert signed_in(site, Role.ENGINEER).post(edit(site), post()).status_code == 302
    feed = ForecastFeed.objects.get()
    assert (feed.service, feed.contact, feed.is_on) == ("met_no", CONTACT, True)
    assert len(service.asked) == 1
    assert Event.objects.filter(kind="forecast_feed.chosen", site_id=site.pk).count() == 1


@pytest.mark.parametrize("role", list(Role))
def test_a_colleague_without_the_role_reads_only(site: Site, role: Role) -> None:
    client = signed_in(site, role)
    expected = 200 if role in WRITERS else 403
    assert client.get(edit(site)).status_code == expected
    assert client.post(ask(site)).status_code == (302 if role in WRITERS else 403)
    make_feed(site=site)
    text = page(site, role)
    assert "MET Norway, Locationforecast 2.0" in text
    assert ("Fetch now" in text) == (role in WRITERS)


def test_a_stranger_finds_nothing_and_a_wrong_method_is_refused(site: Site) -> None:
    assert [stranger().get(edit(site)).status_code, stranger().post(ask(site)).status_code] == [404, 404]
    assert signed_in(site, Role.ENGINEER).get(ask(site)).status_code == 405
    assert signed_in(site, Role.ENGINEER).put(edit(site)).status_code == 405


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"service": ""}, ["Service is not chosen", "US National Weather Service"]),
        ({"service": "stars"}, ["Service “stars” is none of"]),
        ({"fetching": ""}, ["Fetching is not chosen"]),
        ({"fetching": "sometimes"}, ["Fetching “sometimes” is none of"]),
        ({"contact": ""}, ["Contact is empty"]),
        ({"contact": "me"}, ["Contact “me”", "neither an e-mail address", "RFC5321"]),
        ({"contact": "a@b.example\r\nX-Evil: 1"}, ["neither an e-mail address"]),
        ({"contact": "büro@plant.example"}, ["plain letters"]),
        ({"contact": "http://plant.example"}, ["nor an https address"]),
        ({"contact": "x" * 121}, ["longer than 120", "GROUTJOBS"]),
        ({"contact": HUGE}, ["10000000 characters", "120"]),
    ],
)
def test_a_wrong_entry_comes_back(site: Site, fields: dict[str, str], words: list[str]) -> None:
    response = signed_in(site, Role.ENGINEER).post(edit(site), post(**fields))
    assert response.status_code == 422
    assert [word for word in words if word not in errors_in(response)] == []
    assert not ForecastFeed.objects.exists()


@pytest.mark.parametrize("contact", ["shop@plant.example", "https://plant.example/grout"])
def test_a_contact_may_be_an_address_of_either_kind(site: Site, contact: str) -> None:
    assert signed_in(site, Role.ENGINEER).post(edit(site), post(contact=contact, fetching="off")).status_code == 302
    assert not ForecastFeed.objects.get().is_on


def test_the_same_choice_again_is_no_change(site: Site) -> None:
    client = signed_in(site, Role.ENGINEER)
    for _ in range(2):
        client.post(edit(site), post(fetching="off"))
    assert Event.objects.filter(kind="forecast_feed.chosen").count() == 1


def test_a_new_contact_may_be_tried_at_once(site: Site) -> None:
    feed = make_feed(site=site)
    later = timezone.now() + dt.timedelta(days=1)
    FeedState.objects.create(site=site, service=feed.service, next_try_at=later, not_before=later)
    signed_in(site, Role.ENGINEER).post(edit(site), post(contact="other@plant.example"))
    assert (state_of(feed).next_try_at, state_of(feed).not_before) == (None, None)


def test_fetch_now_asks_behind_the_page(site: Site, service: Server, django_capture_on_commit_callbacks: Any) -> None:
    feed = make_feed(site=site)
    later, earlier = timezone.now() + dt.timedelta(hours=1), timezone.now() - dt.timedelta(minutes=6)
    FeedState.objects.create(site=site, service=feed.service, next_try_at=later, last_try_at=earlier)
    service.answers = [send(status=503)]
    with django_capture_on_commit_callbacks(execute=True):
        response = signed_in(site, Role.ENGINEER).post(ask(site), follow=True)
    assert "is asked behind this page" in response.content.decode()
    assert len(service.asked) == 1
    assert "status 503" in page(site)


def minutes(number: int) -> dt.datetime:
    return timezone.now() + dt.timedelta(minutes=number)


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"last_try_at": -2}, "asked a moment ago"),
        ({"not_before": 30}, "asks not to be asked again before"),
        ({"working_until": 1}, "being fetched just now"),
    ],
)
def test_fetch_now_keeps_to_what_the_service_wants(site: Site, columns: dict[str, int], words: str) -> None:
    feed = make_feed(site=site)
    moments = {name: minutes(number) for name, number in columns.items()}
    FeedState.objects.create(site=site, service=feed.service, **moments)
    assert words in signed_in(site, Role.ENGINEER).post(ask(site), follow=True).content.decode()
    assert not Event.objects.filter(kind="forecast_feed.asked").exists()


def test_fetch_now_leaves_a_broken_service_alone(site: Site) -> None:
    feed = make_feed(site=site)
    ServiceState.objects.create(service=feed.service, failures=5, open_until=minutes(10))
    assert "keeps failing" in signed_in(site, Role.ENGINEER).post(ask(site), follow=True).content.decode()


def test_fetch_now_needs_a_service_that_is_on(site: Site) -> None:
    assert "choose a service first" in signed_in(site, Role.ENGINEER).post(ask(site), follow=True).content.decode()


def test_the_page_tells_age_fault_and_next_try(site: Site) -> None:
    feed = make_feed(site=site)
    old = make_forecast(site=site, source="met_no", issued_at=minutes(-60 * 30))
    FeedState.objects.create(
        site=site, service=feed.service, last_forecast=old, last_try_at=minutes(-4), failures=3,
        fault="The service gave no forecast: it answered with status 503.", next_try_at=minutes(36),
    )  # fmt: skip
    text = page(site, Role.CREW).replace("\xa0", " ")
    expected = ["Issued 1 day, 6 hours ago", "4 minutes ago", "status 503", "3 tries in a row", "in 35 minutes",
                "stays in use", "The last good forecast is old", "CC BY 4.0"]  # fmt: skip
    assert [words for words in expected if words not in text] == []
    assert "nobody fetches it" not in text


def test_live_forecasts_are_listed_apart(site: Site) -> None:
    live, brought = make_forecast(site=site, source="us_nws"), make_forecast(site=site)
    url = reverse("weather:forecast_list", args=[site.pk])
    addresses = [reverse("weather:forecast_detail", args=[one.pk]) for one in (live, brought)]
    texts = [signed_in(site, Role.CREW).get(url + query).content.decode() for query in ("", "?show=live")]
    assert [[address in text for address in addresses] for text in texts] == [[False, True], [True, False]]
    assert "?show=live" in texts[0]


def test_the_page_says_when_nobody_fetches(site: Site) -> None:
    feed = make_feed(site=site)
    ForecastFeed.objects.update(chosen_at=minutes(-45))
    assert "nobody fetches it" in page(site)
    FeedState.objects.create(site=site, service=feed.service, next_try_at=minutes(-10))
    assert "nobody fetches it" not in page(site)


def test_the_service_is_credited_where_its_hours_are_shown(site: Site) -> None:
    live = make_forecast(site=site, source="met_no")
    other = make_forecast(site=site)
    by = make_person(site=site, roles=(Role.ENGINEER,))
    mended = correct_forecast(forecast=live, changes={live.at(3): {"temp_c": 19.0}}, reason="measured", by=by)
    credited = {
        forecast.pk: "CC BY 4.0"
        in signed_in(site, Role.CREW).get(reverse("weather:forecast_detail", args=[forecast.pk])).content.decode()
        for forecast in (live, mended, other)
    }
    assert credited == {live.pk: True, mended.pk: True, other.pk: False}


def test_the_live_part_costs_a_fixed_number_of_queries(site: Site) -> None:
    feed = make_feed(site=site)
    last = make_forecast(site=site, source="met_no")
    FeedState.objects.create(site=site, service=feed.service, last_forecast=last, last_try_at=timezone.now())
    client = signed_in(site, Role.ENGINEER)
    url = reverse("weather:forecast_list", args=[site.pk])
    client.get(url)
    with CaptureQueriesContext(connection) as queries:
        client.get(url)
    assert len(queries) <= 10
    assert not [query for query in queries if 'hours"' in query["sql"] and "forecast" in query["sql"]]


def test_one_task_waits_in_the_queue_for_each_site(site: Site, settings: Any) -> None:
    settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
    feed = make_feed(site=site)
    state = FeedState.objects.create(site=site, service=feed.service, next_try_at=minutes(60))
    for _ in range(3):
        queue_next(site.pk)
    assert DBTaskResult.objects.filter(task_path=fetch_when_due.module_path).count() == 1
    # A worker died with the task: when its time has come, the next one that looks puts another in.
    FeedState.objects.filter(pk=state.pk).update(queued_for=minutes(-1))
    queue_next(site.pk)
    assert DBTaskResult.objects.count() == 2
    assert {task.run_after for task in DBTaskResult.objects.all()} == {state.next_try_at}


def test_no_task_waits_for_what_is_off(settings: Any) -> None:
    settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
    feed = make_feed(is_on=False)
    FeedState.objects.create(site=feed.site, service=feed.service, next_try_at=minutes(60))
    queue_next(feed.site_id)
    assert not DBTaskResult.objects.exists()
    assert not Forecast.objects.exists()
