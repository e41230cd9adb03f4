"""No page asks the database more often when there is four times as much of everything."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.demo.scenario import add_machines
from tests.factories import make_person
from tests.house.test_doors import OWN_ARGUMENTS, PUBLIC, URLS, roles_for
from tests.scene import arguments, demonstration

pytestmark = pytest.mark.django_db
BUDGET = 20
# Files, not pages: they hold as many rows as they hold.
FILES = {
    "curing:logger_openapi",
    "turnover:report_pdf",
    "turnover:report_manifest",
    "pours:photo",
    "curing:reading_file",
}


def pages() -> list[str]:
    """Every URL that shows a page to somebody with all roles."""
    return sorted(
        name
        for name, pattern in URLS.items()
        if name not in PUBLIC and name not in FILES
        if roles_for(pattern, "GET") or hasattr(pattern.callback, "for_anyone_signed_in")
    )


def counts(client: Client, values: dict[str, object]) -> dict[str, int]:
    found = {}
    for name in pages():
        own = values | OWN_ARGUMENTS.get(name, {})
        url = reverse(name, kwargs={key: own[key] for key in URLS[name].pattern.converters})
        with CaptureQueriesContext(
            connection,
        ) as queries:
            status = client.get(url).status_code
        if status == 200:
            found[name] = len(queries)
    return found


def test_pages_ask_no_more_often_for_four_times_the_demonstration() -> None:
    with demonstration(stock=4) as scene:
        client = Client()
        client.force_login(make_person(site=scene.works.site, roles=tuple(Role)))
        values = arguments(scene)
        counts(client, values)
        once = counts(client, values)
        for number in range(1, 4):
            add_machines(scene, number)
        fourfold = counts(client, values)
    assert len(once) > 30
    assert {name: (once[name], fourfold.get(name)) for name in once if fourfold.get(name, 999) > once[name]} == {}
    assert {name: number for name, number in fourfold.items() if number > BUDGET} == {}
