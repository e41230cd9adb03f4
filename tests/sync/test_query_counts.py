"""No page about phones, and no answer to one, asks the database more often when there is more of everything."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from groutjobs.accounts.models import Role
from groutjobs.pours.models import Pour
from tests.factories import make_person
from tests.sync.calling import Wire, make_phone, note, pour_and_phone

pytestmark = pytest.mark.django_db
BUDGET = 20


def fill(pour: Pour, number: int) -> None:
    """A phone with entries that stand, that wait, and that are still on it."""
    phone = make_phone(pour.plan.machine.site, pour.opened_by, f"Phone {number + 10}")
    made = [
        note(phone, pour, f"{number} {place}", author_key=None if place else phone.author_key) for place in range(4)
    ]
    Wire(phone).send(made[0], made[1], made[3])


def test_ten_times_as_much_asks_no_more_often() -> None:
    pour, phone = pour_and_phone()
    site = pour.plan.machine.site_id
    client = Client()
    client.force_login(make_person(site=pour.plan.machine.site, roles=(Role.ADMINISTRATOR, Role.ENGINEER)))
    pages = [f"/devices/at/{site}/", f"/devices/{phone.device_id}/", f"/devices/at/{site}/decisions/",
             f"/pours/{pour.pk}/phones/", f"/pours/{pour.pk}/"]  # fmt: skip
    answers = ["hello", "records", f"records/{pour.pk}", f"records/{pour.pk}/snapshot", "people"]
    wire = Wire(phone)

    def counts() -> dict[str, int]:
        found = {}
        for url in pages + answers:
            with CaptureQueriesContext(connection) as queries:
                response = client.get(url) if url.startswith("/") else wire.get(url)
            assert response.status_code == 200, url
            found[url] = len(queries)
        return found

    fill(pour, 1)
    counts()
    once = counts()
    for number in range(2, 11):
        fill(pour, number)
    tenfold = counts()
    assert {url: (once[url], tenfold[url]) for url in once if tenfold[url] > once[url]} == {}
    assert {url: count for url, count in tenfold.items() if count > BUDGET} == {}
