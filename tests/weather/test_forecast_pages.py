"""The list and the sheet of a forecast: who reads them, what they show, and how often they ask the database."""

import xml.etree.ElementTree as ET

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.weather.drawing import forecast_picture
from groutjobs.weather.files import example_csv
from groutjobs.weather.models import Forecast
from tests.factories import make_forecast, make_site
from tests.weather.asking import signed_in, stranger

pytestmark = pytest.mark.django_db


@pytest.fixture
def forecast() -> Forecast:
    return make_forecast(hour_count=96, past_hours=24)


def detail(forecast: Forecast) -> str:
    return reverse("weather:forecast_detail", args=[forecast.pk])


@pytest.mark.parametrize("role", list(Role))
def test_every_role_of_the_site_reads(forecast: Forecast, role: Role) -> None:
    client = signed_in(forecast.site, role)
    assert "Test weather service" in client.get(detail(forecast)).content.decode()
    listed = client.get(reverse("weather:forecast_list", args=[forecast.site_id])).content.decode()
    assert detail(forecast) in listed
    assert ("forecasts/add-csv/" in listed) == (role in {Role.ENGINEER, Role.ADMINISTRATOR})


def test_a_stranger_finds_nothing_and_a_wrong_method_is_refused(forecast: Forecast) -> None:
    for url in (detail(forecast), reverse("weather:forecast_list", args=[forecast.site_id])):
        assert stranger().get(url).status_code == 404
        assert signed_in(forecast.site, Role.ENGINEER).post(url).status_code == 405


def test_a_day_comes_alone_to_htmx_and_in_its_page_to_a_link(forecast: Forecast) -> None:
    client = signed_in(forecast.site, Role.CREW)
    part = client.get(detail(forecast) + "?day=2026-05-05", headers={"HX-Request": "true"}).content.decode()
    whole = client.get(detail(forecast) + "?day=2026-05-05").content.decode()
    assert part.strip().startswith('<section id="day-hours"')
    assert "13:00 UTC−04:00" in part
    assert "Hours of Tue 2026-05-05" in whole
    assert client.get(detail(forecast) + "?day=soon").status_code == 404


def test_the_reader_sees_his_own_units(forecast: Forecast) -> None:
    text = signed_in(forecast.site, Role.CREW, system="us").get(detail(forecast)).content.decode()
    assert "71.6 °F" in text
    assert "22.0 °C" not in text


def test_an_empty_list_says_what_to_do() -> None:
    site = make_site()
    text = signed_in(site, Role.ENGINEER).get(reverse("weather:forecast_list", args=[site.pk])).content.decode()
    assert "There is no weather for this site yet" in text


def test_the_example_is_the_one_that_the_reader_takes(forecast: Forecast) -> None:
    url = reverse("weather:csv_example", args=[forecast.site_id])
    response = signed_in(forecast.site, Role.AUDITOR).get(url)
    assert response.content.decode() == example_csv()
    assert "attachment" in response["Content-Disposition"]
    assert stranger().get(url).status_code == 404


def test_more_forecasts_ask_no_more_often(forecast: Forecast) -> None:
    client = signed_in(forecast.site, Role.ENGINEER)
    url = reverse("weather:forecast_list", args=[forecast.site_id])
    client.get(url)
    with CaptureQueriesContext(connection) as once:
        client.get(url)
    for _ in range(9):
        make_forecast(site=forecast.site)
    with CaptureQueriesContext(connection) as tenfold:
        client.get(url)
    assert len(tenfold) == len(once) <= 10


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_picture_is_plain_svg(forecast: Forecast, system: str) -> None:
    root = ET.fromstring(forecast_picture(forecast, system=system))  # noqa: S314
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert not [element for element in root.iter() if "style" in element.attrib or element.tag.endswith("}style")]
    words = " ".join(element.text or "" for element in root.iter())
    assert "dew point" in words
    assert ("°F" in words) == (system == "us")


def test_a_forecast_that_tells_no_rain_says_so() -> None:
    forecast = make_forecast(hour_count=48)
    del forecast.hours["rain_probability"]
    assert "the source does not tell it" in forecast_picture(forecast)
