"""Invitations and roles: who may give them, and that they work once."""

from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from groutjobs.accounts.actions import accept_invitation, invite, set_roles
from groutjobs.accounts.models import Membership, Role, User
from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed
from tests.factories import make_person, make_site

pytestmark = pytest.mark.django_db
NEW_PASSWORD = "a long enough phrase"


def test_an_administrator_invites_and_the_person_joins_with_the_roles(client: Client) -> None:
    site = make_site()
    client.force_login(make_person(site=site, roles=(Role.ADMINISTRATOR,)))
    page = client.post(
        reverse("accounts:site_people", args=[site.pk]),
        {"email": "new@example.test", "name": "New Person", "roles": ["crew", "inspector"]},
    )
    code = page.context["made"].rstrip("/").rsplit("/", 1)[1]
    answer = Client().post(
        reverse("accounts:invitation_answer", args=[code]), {"password": NEW_PASSWORD, "repeated": NEW_PASSWORD}
    )
    assert answer.status_code == 302
    joined = User.objects.get(email="new@example.test")
    assert set(joined.memberships.values_list("role", flat=True)) == {"crew", "inspector"}
    assert code not in Event.objects.get(kind="invitation.made").body


def test_an_invitation_works_once() -> None:
    invitation, _ = invite(site_id=make_site().pk, email="a@example.test", name="A", roles=[Role.CREW], by=None)
    accept_invitation(invitation=invitation, password=NEW_PASSWORD)
    with pytest.raises(NotAllowed, match="used or has expired"):
        accept_invitation(invitation=invitation, password=NEW_PASSWORD)


def test_an_invitation_ends_after_seven_days(client: Client) -> None:
    _, code = invite(site_id=make_site().pk, email="a@example.test", name="A", roles=[Role.CREW], by=None)
    with time_machine.travel(timezone.now() + timedelta(days=8)):
        response = client.get(reverse("accounts:invitation_answer", args=[code]))
    assert response.status_code == 410


def test_somebody_known_must_sign_in_to_accept(client: Client) -> None:
    known = make_person()
    _, code = invite(site_id=make_site().pk, email=known.email, name="A", roles=[Role.CREW], by=None)
    response = client.post(reverse("accounts:invitation_answer", args=[code]), {})
    assert response["Location"].startswith(reverse("accounts:sign_in"))
    assert not known.memberships.exists()


def test_a_short_password_comes_back_with_the_rule(client: Client) -> None:
    _, code = invite(site_id=make_site().pk, email="a@example.test", name="A", roles=[Role.CREW], by=None)
    page = client.post(reverse("accounts:invitation_answer", args=[code]), {"password": "short", "repeated": "short"})
    assert "at least 12 characters" in page.content.decode()
    assert not User.objects.filter(email="a@example.test").exists()


def test_the_last_administrator_stays() -> None:
    site = make_site()
    only = make_person(site=site, roles=(Role.ADMINISTRATOR,))
    with pytest.raises(NotAllowed, match="last administrator"):
        set_roles(site_id=site.pk, user=only, roles=[Role.CREW], by=only)
    assert Membership.objects.get(user=only).role == Role.ADMINISTRATOR


def test_no_role_ends_the_membership_and_is_recorded(client: Client) -> None:
    site = make_site()
    client.force_login(make_person(site=site, roles=(Role.ADMINISTRATOR,)))
    leaver = make_person(site=site, roles=(Role.CREW,))
    client.post(reverse("accounts:roles_form", args=[site.pk, leaver.pk]), {})
    assert not leaver.memberships.exists()
    assert Event.objects.filter(kind="role.ended", site_id=site.pk).count() == 1


@pytest.mark.parametrize("role", [role for role in Role if role is not Role.ADMINISTRATOR])
def test_nobody_else_sees_the_people_page(client: Client, role: Role) -> None:
    site = make_site()
    client.force_login(make_person(site=site, roles=(role,)))
    assert client.get(reverse("accounts:site_people", args=[site.pk])).status_code == 403


def test_an_administrator_of_another_site_finds_nothing(client: Client) -> None:
    client.force_login(make_person(roles=(Role.ADMINISTRATOR,)))
    assert client.get(reverse("accounts:site_people", args=[make_site().pk])).status_code == 404
