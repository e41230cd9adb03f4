"""Sun mode is remembered on the phone, and its button leads nowhere else."""

import pytest
from django.test import Client

from groutjobs.accounts.models import Role
from tests.factories import make_person

pytestmark = pytest.mark.django_db


def test_it_switches_on_and_off(client: Client) -> None:
    client.force_login(make_person(roles=(Role.AUDITOR,)))
    assert client.post("/phone/sun/", {"back": "/phone/"}).headers["Location"] == "/phone/"
    assert b'class="sun"' in client.get("/phone/").content
    client.post("/phone/sun/", {"back": "/phone/"})
    assert b'class="sun"' not in client.get("/phone/").content


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)", ""])
def test_it_leads_back_to_this_site_only(client: Client, back: str) -> None:
    client.force_login(make_person(roles=(Role.CREW,)))
    assert client.post("/phone/sun/", {"back": back}).headers["Location"] == "/phone/"


def test_reading_it_is_the_wrong_method_and_a_stranger_signs_in_first(client: Client) -> None:
    assert "sign-in" in client.post("/phone/sun/").headers["Location"]
    client.force_login(make_person())
    assert client.get("/phone/sun/").status_code == 405
