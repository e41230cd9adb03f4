"""Choosing an hour for which a duty is late already, and what a chosen pour keeps to count duties from."""

import datetime as dt
import importlib
from typing import Any

import pytest
import time_machine
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.outages.actions import choose_hour
from groutjobs.outages.duties import basis, duties
from groutjobs.outages.models import ScheduledPour
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import start_hour
from tests.reminders.known import HOUR
from tests.weather.asking import signed_in
from tests.windows.asked import planned, searched

pytestmark = pytest.mark.django_db
GOOD = 88  # noon in New York on the fourth day of an even forecast
COLD: dict[str, Any] = {"material_c": 9.0, "conditioning_store_c": 23.0, "conditioning_h": 48.0}


@pytest.fixture
def found() -> PourHours:
    return searched(planned(**COLD))


def chosen(found: PourHours, hours_before: float) -> ScheduledPour:
    starts_at = start_hour(found, GOOD).at
    with time_machine.travel(starts_at - hours_before * HOUR, tick=False):
        return choose_hour(plan=found.plan, pour_hours=found, starts_at=starts_at, by=found.made_by)


def test_choosing_too_near_an_hour_warns_and_does_not_refuse(found: PourHours) -> None:
    told = {finding["code"]: finding["message"] for finding in chosen(found, 34).findings}
    assert told["late_condition"] == "The pallet should have gone into the warm store 14 h before now."
    assert chosen(found, 100).findings == []


def test_an_hour_that_is_past_is_a_note_of_what_happened(found: PourHours) -> None:
    assert chosen(found, -5).findings == []


def test_the_page_says_so_before_it_is_chosen(found: PourHours) -> None:
    url = reverse("outages:hour_choose", args=[found.pk, GOOD])
    starts_at = start_hour(found, GOOD).at
    for hours_before, is_told in ((34, True), (100, False)):
        with time_machine.travel(starts_at - hours_before * HOUR, tick=False):
            text = signed_in(found.plan.machine.site, Role.ENGINEER).get(url).content.decode()
        assert ("should have gone into the warm store 14 h before now" in text) is is_told


def test_the_store_counts_back_by_the_hours_of_the_plan(found: PourHours) -> None:
    pour = chosen(found, 100)
    rows = {duty.code: duty for duty in duties(starts_at=pour.starts_at, counted_from=pour.basis, milestones={})}
    assert pour.starts_at - rows["condition"].begins_at == dt.timedelta(hours=48)


def test_the_migration_keeps_what_choosing_keeps(found: PourHours) -> None:
    migration = importlib.import_module("groutjobs.migrations.0006_what_is_due")
    assert migration.basis_of(found.plan.result, found.result) == basis(found.plan.result, found.result)
    assert migration.basis_of({}, {}) == {}
