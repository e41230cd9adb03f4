"""The Cure page: who reads it, what it shows, how many queries it takes."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.pours.models import Pour
from tests.curing.asking import fresh_pour, signed_in, site_of, statuses, stranger
from tests.factories import make_cure_readings, make_pour

pytestmark = pytest.mark.django_db


def address(pour: Pour) -> str:
    return reverse("curing:cure_detail", args=[pour.pk])


def test_every_role_of_the_site_reads_it_and_a_stranger_does_not() -> None:
    pour = fresh_pour()
    assert set(statuses("get", address(pour), site_of(pour), {}).values()) == {200}
    assert stranger().get(address(pour)).status_code == 404
    assert signed_in(site_of(pour), Role.ENGINEER).post(address(pour)).status_code == 405


def test_it_shows_age_milestones_picture_and_readings() -> None:
    pour = fresh_pour()
    make_cure_readings(pour=pour, temps=[(float(hour), 23.0) for hour in range(31)])
    text = signed_in(site_of(pour), Role.ENGINEER).get(address(pour)).content.decode()
    assert "30.0 h" in text
    assert "Strip the formwork" in text
    assert "<svg" in text
    assert "due by now: read the grout" in text
    assert "Newest readings" in text


def test_a_us_reader_sees_fahrenheit_and_psi() -> None:
    pour = fresh_pour()
    make_cure_readings(pour=pour, temps=[(float(hour), 23.0) for hour in range(31)])
    text = signed_in(site_of(pour), Role.ENGINEER, system="us").get(address(pour)).content.decode()
    assert "73.4 °F" in text
    assert " psi" in text


def test_only_those_who_record_are_offered_the_form() -> None:
    pour = fresh_pour()
    assert "Keep this reading" in signed_in(site_of(pour), Role.CREW).get(address(pour)).content.decode()
    assert "Keep this reading" not in signed_in(site_of(pour), Role.AUDITOR).get(address(pour)).content.decode()


def test_before_the_pour_it_says_when_the_clock_starts() -> None:
    pour = make_pour()
    text = signed_in(site_of(pour), Role.CREW).get(address(pour)).content.decode()
    assert "The clock starts when the last batch is placed." in text
    assert "Readings are taken from the first grout placed on." in text


def test_the_part_that_htmx_renews_is_that_part_alone() -> None:
    pour = fresh_pour()
    text = signed_in(site_of(pour), Role.CREW).get(address(pour), headers={"hx-request": "true"}).content.decode()
    assert text.lstrip().startswith('<section id="cure-now"')
    assert "<html" not in text


def test_its_queries_do_not_grow_with_the_readings() -> None:
    counts = []
    for imports in (1, 10):
        pour = fresh_pour()
        for number in range(imports):
            make_cure_readings(pour=pour, temps=[(number + hour / 10, 23.0) for hour in range(10)])
        client = signed_in(site_of(pour), Role.ENGINEER)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert client.get(address(pour)).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert counts[0] <= 20
