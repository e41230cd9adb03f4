"""Signing in, out, and being slowed after many wrong tries."""

import pytest
from django.test import Client, RequestFactory
from django.urls import reverse

from groutjobs.accounts.access import address_tried_from
from groutjobs.accounts.models import Role
from tests.factories import PASSWORD, make_person

pytestmark = pytest.mark.django_db
SIGN_IN = reverse("accounts:sign_in")


def test_the_right_password_leads_to_the_day_sheet(client: Client) -> None:
    person = make_person(roles=(Role.CREW_LEAD,))
    response = client.post(SIGN_IN, {"email": person.email.upper(), "password": PASSWORD})
    assert response.status_code == 302
    assert response["Location"] == "/"


def test_a_wrong_password_says_so_and_keeps_the_address(client: Client) -> None:
    person = make_person()
    response = client.post(SIGN_IN, {"email": person.email, "password": "wrong wrong wrong"})
    text = response.content.decode()
    assert "do not belong together" in text
    assert person.email in text
    assert "wrong wrong wrong" not in text


def test_it_does_not_send_people_to_another_host(client: Client) -> None:
    person = make_person()
    response = client.post(SIGN_IN, {"email": person.email, "password": PASSWORD, "next": "https://elsewhere.example/"})
    assert response["Location"] == "/"


def test_ten_wrong_tries_slow_this_address_and_not_a_colleague(client: Client) -> None:
    person, colleague = make_person(), make_person()
    for _ in range(10):
        response = client.post(SIGN_IN, {"email": person.email, "password": "wrong wrong wrong"})
    assert response.status_code == 429
    assert client.post(SIGN_IN, {"email": person.email, "password": PASSWORD}).status_code == 429
    assert client.post(SIGN_IN, {"email": colleague.email, "password": PASSWORD}).status_code == 302


def test_a_person_who_was_shut_out_cannot_go_on(client: Client) -> None:
    person = make_person(roles=(Role.ENGINEER,))
    client.force_login(person)
    person.is_active = False
    person.save()
    assert client.get(reverse("accounts:preferences")).status_code == 302


def test_signing_out_needs_a_post(client: Client) -> None:
    client.force_login(make_person())
    assert client.get(reverse("accounts:sign_out")).status_code == 405
    client.post(reverse("accounts:sign_out"))
    assert client.get(reverse("accounts:preferences")).status_code == 302


@pytest.mark.parametrize(
    ("typed", "said"),
    [("", "E-mail address is empty"), ("nobody", "“nobody” is not an address"), ("x" * 10_000_000, "longer than 254")],
    ids=["empty", "no address", "10 MB"],
)
def test_a_wrong_address_comes_back_with_a_sentence(client: Client, typed: str, said: str) -> None:
    text = client.post(SIGN_IN, {"email": typed, "password": PASSWORD}).content.decode()
    assert said in text
    assert f'value="{typed}"' in text or not typed


@pytest.mark.parametrize(
    ("peer", "address"), [("127.0.0.1", "198.51.100.7"), ("::1", "198.51.100.7"), ("203.0.113.9", "203.0.113.9")]
)
def test_only_a_proxy_on_this_machine_is_believed(rf: RequestFactory, peer: str, address: str) -> None:
    request = rf.get("/", REMOTE_ADDR=peer, HTTP_X_FORWARDED_FOR="203.0.113.1, 198.51.100.7")
    assert address_tried_from(request) == address
