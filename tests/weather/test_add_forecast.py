"""Adding hours of weather: as a CSV file, from a typical year, by hand."""

import datetime as dt

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.weather.actions import add_forecast
from groutjobs.weather.models import Forecast
from groutjobs.weather.queries import latest_forecast
from groutjobs.weather.series import Series
from tests.factories import make_forecast, make_person, make_site
from tests.weather.asking import HUGE, csv_post, errors_in, hand_post, signed_in, stranger, upload, utc
from tests.weather.typical import epw_bytes, tmy3_bytes

pytestmark = pytest.mark.django_db
WAYS = ("forecast_add_csv", "forecast_add_year", "forecast_add_hand")


@pytest.fixture
def site() -> Site:
    return make_site()


def address(site: Site, way: str = "forecast_add_csv") -> str:
    return reverse(f"weather:{way}", args=[site.pk])


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.ADMINISTRATOR])
def test_a_csv_file_is_kept_with_source_issue_time_and_hash(site: Site, role: Role) -> None:
    response = signed_in(site, role).post(address(site), csv_post())
    forecast = Forecast.objects.get(site=site)
    assert response["Location"] == reverse("weather:forecast_detail", args=[forecast.pk])
    assert (forecast.source, forecast.source_name, forecast.zone) == ("csv", "Test weather service", "America/New_York")
    assert forecast.issued_at == utc(4, 7)
    assert (forecast.starts_at, forecast.hour_count, forecast.past_hours) == (utc(4, 4), 24, 3)
    assert len(forecast.file_sha256) == 64
    assert Event.objects.filter(kind="forecast.added", site_id=site.pk).count() == 1


@pytest.mark.parametrize(("kind", "content"), [("tmy3", tmy3_bytes()), ("epw", epw_bytes())])
def test_a_typical_year_is_laid_on_the_chosen_days(site: Site, kind: str, content: bytes) -> None:
    data = {"kind": kind, "file": upload(content), "first_day": "2027-04-05", "days": "10", "note": ""}
    response = signed_in(site, Role.ENGINEER).post(address(site, "forecast_add_year"), data, follow=True)
    forecast = Forecast.objects.get(site=site)
    assert forecast.is_typical
    assert forecast.plan_starts_at == dt.datetime(2027, 4, 5, 4, tzinfo=dt.UTC)
    assert forecast.ends_at == dt.datetime(2027, 4, 15, 3, tzinfo=dt.UTC)
    text = response.content.decode()
    assert "not a forecast" in text
    assert "The station is 0 km from the site and stands 0 m lower." in text


def test_hours_by_hand_are_read_in_the_units_of_the_person(site: Site) -> None:
    data = hand_post(table="2026-05-04 06:00;68;50;10;40;;\n2026-05-04 07:00;70;50;10;40;;", table_unit="us")
    response = signed_in(site, Role.ENGINEER, system="us").post(address(site, "forecast_add_hand"), data)
    assert response.status_code == 302
    forecast = Forecast.objects.get(site=site)
    assert forecast.values("temp_c")[0] == pytest.approx(20.0)
    assert forecast.values("wind_km_h")[0] == pytest.approx(16.0934, abs=1e-4)
    assert "rain_probability" not in forecast.hours


@pytest.mark.parametrize("way", WAYS)
def test_a_colleague_without_the_role_may_not(site: Site, way: str) -> None:
    client = signed_in(site, Role.CREW_LEAD, Role.INSPECTOR, Role.AUDITOR)
    assert client.get(address(site, way)).status_code == 403
    assert client.post(address(site, way), csv_post()).status_code == 403


@pytest.mark.parametrize("way", WAYS)
def test_a_stranger_finds_nothing_and_a_wrong_method_is_refused(site: Site, way: str) -> None:
    assert stranger().get(address(site, way)).status_code == 404
    assert stranger().post(address(site, way), csv_post()).status_code == 404
    assert signed_in(site, Role.ENGINEER).delete(address(site, way)).status_code == 405
    assert not Forecast.objects.exists()


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"file": ""}, ["CSV table of hours is not chosen"]),
        ({"content": b"time\n"}, ["lacks temp_c or temp_f"]),
        ({"content": b"t" * (10 * 1024 * 1024 + 1)}, ["hours.csv", "10.0 MB", "up to 10 MB", "GROUTJOBS"]),
        ({"source_name": ""}, ["Source is empty", "GROUTJOBS"]),
        ({"source_name": "x" * 121}, ["Source", "121 characters", "120"]),
        ({"issued_at": "yesterday"}, ["Issued", "“yesterday”", "ISO8601"]),
        ({"issued_at": "2026-06-04T03:00"}, ["after its last hour"]),
        ({"note": "n" * 501}, ["Note", "501 characters", "500"]),
    ],
)
def test_a_csv_form_with_a_wrong_entry_comes_back(site: Site, fields: dict[str, object], words: list[str]) -> None:
    response = signed_in(site, Role.ENGINEER).post(address(site), csv_post(**fields))
    assert response.status_code == 422
    assert [word for word in words if word not in errors_in(response)] == []
    assert not Forecast.objects.exists()


def test_unusual_values_are_taken_after_a_tick(site: Site) -> None:
    head = "time,temp_c,humidity_percent,wind_km_h,cloud_percent\n"
    content = (head + "2026-05-04 06:00,50,20,8,0\n2026-05-04 07:00,51,20,8,0").encode()
    client = signed_in(site, Role.ENGINEER)
    first = client.post(address(site), csv_post(content=content))
    assert "usual −20.0 °C to 45.0 °C" in errors_in(first)
    assert 'type="checkbox" name="values_are_right"' in first.content.decode()
    assert client.post(address(site), csv_post(content=content, values_are_right="on")).status_code == 302


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"kind": "xls"}, ["Format", "“xls”", "TMY3"]),
        ({"file": upload(b"hello")}, ["Line 1 has 1 cells"]),
        ({"first_day": "soon"}, ["First day to plan for", "“soon”", "ISO8601"]),
        ({"first_day": "0001-01-01"}, ["not between 1900 and 2200"]),
        ({"days": ""}, ["Days is empty"]),
        ({"days": "46"}, ["Days 46 is above 45"]),
        ({"days": "-3"}, ["Days -3 is below 2"]),
        ({"days": "2.5"}, ["not a whole number"]),
        ({"days": "NaN"}, ["“NaN” is not a number"]),
        ({"days": HUGE}, ["10000000 characters"]),
    ],
)
def test_a_typical_year_form_with_a_wrong_entry_comes_back(
    site: Site, fields: dict[str, object], words: list[str]
) -> None:
    data = {"kind": "tmy3", "file": upload(tmy3_bytes()), "first_day": "2027-04-05", "days": "14", "note": ""} | fields
    response = signed_in(site, Role.ENGINEER).post(address(site, "forecast_add_year"), data)
    assert response.status_code == 422
    assert [word for word in words if word not in errors_in(response)] == []


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("", ["Hours has 0 rows"]),
        ("2026-05-04 06:00;warm;50;8;40;;\n2026-05-04 07:00;20;50;8;40;;", ["Line 1", "air temperature", "“warm”"]),
        (
            "2026-05-04 06:00;20;50;8;40;;\n2026-05-04 07:00;70;50;8;40;;",
            ["Line 2", "70 °C is above 60.0 °C", "GROUTJOBS"],
        ),
        ("2026-05-04 06:00;20;-5;8;40;;\n2026-05-04 07:00;20;50;8;40;;", ["relative humidity", "below"]),
        ("2026-05-04 06:00;20;50;8;40;;\n2026-05-04 08:00;20;50;8;40;;", ["Row 2", "2 h after"]),
        ("at six;20;50;8;40;;\n2026-05-04 08:00;20;50;8;40;;", ["Row 1", "“at six”", "ISO8601"]),
        ("2026-05-04 06:00;20;50;8;40;10;\n2026-05-04 07:00;20;50;8;40;;", ["sunlight", "empty in 1 of 2"]),
        ("2026-05-04 06:00;NaN;50;8;40;;\n2026-05-04 07:00;20;50;8;40;;", ["“NaN” is not a number"]),
        (HUGE, ["10000000 characters", "400000"]),
    ],
)
def test_a_hand_form_with_a_wrong_entry_comes_back(site: Site, table: str, words: list[str]) -> None:
    response = signed_in(site, Role.ENGINEER).post(address(site, "forecast_add_hand"), hand_post(table=table))
    assert response.status_code == 422
    assert [word for word in words if word not in errors_in(response)] == []
    assert response.context["form"]["table"].value()[0] == table


def test_hours_issued_after_their_end_are_refused_by_the_action(site: Site) -> None:
    hours = {"temp_c": [20.0] * 2, "relative_humidity": [0.5] * 2, "wind_km_h": [5.0] * 2, "cloud_ratio": [0.0] * 2}
    with pytest.raises(NotAllowed, match="issued after its last hour"):
        add_forecast(site=site, source="hand", series=Series(utc(4, 0), hours), issued_at=utc(5, 0), by=make_person())


def test_the_latest_forecast_is_the_one_issued_last(site: Site) -> None:
    assert latest_forecast(site) is None
    late = make_forecast(site=site, issued_at=utc(3, 12))
    make_forecast(site=site, issued_at=utc(3, 6))
    make_forecast(issued_at=utc(3, 18))
    assert latest_forecast(site) == late
