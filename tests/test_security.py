"""Headers that every answer carries."""

import pytest
from django.test import Client
from django.urls import reverse

from groutjobs.accounts.models import Role
from tests.factories import make_person

pytestmark = pytest.mark.django_db


def test_every_page_states_a_policy_without_inline_script_or_style(client: Client) -> None:
    policy = client.get(reverse("accounts:sign_in"))["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy


def test_pages_of_signed_in_people_are_not_stored(client: Client) -> None:
    client.force_login(make_person(roles=(Role.ENGINEER,)))
    assert client.get(reverse("board:sources"))["Cache-Control"] == "no-store"


def test_other_sites_may_not_frame_or_sniff(client: Client) -> None:
    response = client.get(reverse("accounts:sign_in"))
    assert response["X-Frame-Options"] == "DENY"
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Referrer-Policy"] == "same-origin"
