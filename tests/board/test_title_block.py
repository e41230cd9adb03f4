"""The time in the title block is that of the site the page is about."""

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from groutjobs.accounts.models import Role
from tests.equipment.posting import signed_in
from tests.factories import make_machine, make_site

pytestmark = pytest.mark.django_db

NOON = dt.datetime(2026, 7, 1, 12, 0, tzinfo=dt.UTC)


def test_a_page_about_a_site_tells_its_own_time() -> None:
    machine = make_machine(site=make_site(zone="America/New_York"), bare=True)
    client = signed_in(machine.site, Role.ENGINEER)
    with time_machine.travel(NOON, tick=False):
        page = client.get(reverse("equipment:machine_detail", args=[machine.pk])).content.decode()
    assert "<dt>Read at</dt><dd>2026-07-01 08:00 UTC−04:00</dd>" in page


def test_a_page_about_none_tells_universal_time() -> None:
    client = signed_in(make_site(zone="America/New_York"), Role.ENGINEER)
    with time_machine.travel(NOON, tick=False):
        page = client.get(reverse("equipment:site_list")).content.decode()
    assert "<dt>Read at</dt><dd>2026-07-01 12:00 UTC</dd>" in page
