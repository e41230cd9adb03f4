"""The second factor: published codes, setting up, signing in, replay, throttle, recovery codes, reset."""

import base64
import datetime as dt
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from groutjobs.accounts import factor, factor_actions
from groutjobs.accounts.models import Role, SecondFactor, User
from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed
from tests.factories import PASSWORD, make_person, make_site

pytestmark = pytest.mark.django_db
SIGN_IN, CODE = reverse("accounts:sign_in"), reverse("accounts:sign_in_code")
OWN, CONFIRM = reverse("accounts:second_factor"), reverse("accounts:second_factor_confirm")
WHEN = dt.datetime(2026, 5, 4, 12, 0, 10, tzinfo=dt.UTC)
STEP = dt.timedelta(seconds=30)

# RFC 6238, appendix B, SHA-1 rows; eight digits there, of which a code of six is the last six. From memory.
PUBLISHED = {
    59: "94287082", 1111111109: "07081804", 1111111111: "14050471", 1234567890: "89005924", 2000000000: "69279037",
    20000000000: "65353130",
}  # fmt: skip
PUBLISHED_SECRET = base64.b32encode(b"12345678901234567890").decode()


@pytest.mark.parametrize(("second", "code"), PUBLISHED.items())
def test_codes_are_the_published_ones(second: int, code: str) -> None:
    at = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(seconds=second)
    assert factor.code_at(PUBLISHED_SECRET, at) == code[-6:]
    assert factor.step_of(PUBLISHED_SECRET, code[-6:], at) == second // 30


def with_factor(person: User) -> tuple[str, list[str]]:
    """Set one up a minute before WHEN; returns secret and recovery codes."""
    with time_machine.travel(WHEN - 10 * STEP, tick=False):
        secret = factor_actions.secret_of(factor_actions.begin_second_factor(by=person))
        codes = factor_actions.confirm_second_factor(by=person, code=factor.code_at(secret, timezone.now()))
    return secret, codes


def give_password(client: Client, person: User) -> Any:
    return client.post(SIGN_IN, {"email": person.email, "password": PASSWORD, "next": "/register/"})


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.AUDITOR, Role.ADMINISTRATOR])
def test_who_needs_one_is_led_to_it_and_nothing_else_opens(client: Client, role: Role) -> None:
    person = make_person(roles=(role,))
    assert give_password(client, person)["Location"] == OWN
    for place in ("/", "/register/", reverse("accounts:preferences")):
        assert client.get(place)["Location"] == OWN
    assert "Nothing else opens before" in client.get(OWN).content.decode()
    client.post(OWN)
    secret = factor_actions.secret_of(SecondFactor.objects.get(person=person))
    page = client.get(CONFIRM).content.decode()
    assert "<svg" in page
    assert secret[:4] in page
    answer = client.post(CONFIRM, {"code": factor.code_at(secret, timezone.now())}).content.decode()
    assert answer.count("<li><code>") == 10
    assert client.get("/register/").status_code == 200
    assert client.get(CONFIRM)["Location"] == OWN


@pytest.mark.parametrize("role", [Role.CREW, Role.CREW_LEAD, Role.INSPECTOR])
def test_the_crew_signs_in_as_before(client: Client, role: Role) -> None:
    assert give_password(client, make_person(roles=(role,)))["Location"] == "/register/"


def test_invented_people_are_not_asked(client: Client) -> None:
    person = make_person(site=make_site(is_demo=True), roles=(Role.ENGINEER,))
    assert give_password(client, person)["Location"] == "/register/"


def test_the_password_alone_opens_nothing(client: Client) -> None:
    person = make_person(roles=(Role.ENGINEER,))
    secret, _ = with_factor(person)
    with time_machine.travel(WHEN, tick=False):
        assert give_password(client, person)["Location"] == f"{CODE}?next=%2Fregister%2F"
        assert client.get("/register/").status_code == 302
        assert "Your code" in client.get(CODE).content.decode()
        wrong = client.post(CODE, {"code": "000000", "next": "/register/"}).content.decode()
        assert "This is no code of yours" in wrong
        right = client.post(CODE, {"code": f" {factor.code_at(secret, WHEN)[:3]} {factor.code_at(secret, WHEN)[3:]}"})
        assert right["Location"] == "/"
        assert client.get("/register/").status_code == 200


def test_the_code_page_without_a_password_leads_back(client: Client) -> None:
    person = make_person(roles=(Role.ENGINEER,))
    with_factor(person)
    assert client.get(CODE)["Location"] == SIGN_IN
    give_password(client, person)
    with time_machine.travel(timezone.now() + dt.timedelta(minutes=6), tick=False):
        assert client.post(CODE, {"code": "123456"})["Location"] == SIGN_IN


def test_a_code_is_good_once_and_for_a_short_time() -> None:
    person = make_person()
    secret, _ = with_factor(person)
    code = factor.code_at(secret, WHEN)
    with time_machine.travel(WHEN, tick=False):
        assert factor_actions.take_code(person=person, typed=code)
        assert not factor_actions.take_code(person=person, typed=code)
        assert not factor_actions.take_code(person=person, typed=factor.code_at(secret, WHEN - STEP))
        assert factor_actions.take_code(person=person, typed=factor.code_at(secret, WHEN + STEP))
        assert not factor_actions.take_code(person=person, typed=factor.code_at(secret, WHEN + 2 * STEP))
    with time_machine.travel(WHEN + 5 * STEP, tick=False):
        assert not factor_actions.take_code(person=person, typed=factor.code_at(secret, WHEN))


def test_ten_wrong_codes_slow_this_address(client: Client) -> None:
    person = make_person(roles=(Role.ENGINEER,))
    secret, _ = with_factor(person)
    with time_machine.travel(WHEN, tick=False):
        give_password(client, person)
        for _ in range(10):
            answer = client.post(CODE, {"code": "000000"})
        assert answer.status_code == 429
        assert client.post(CODE, {"code": factor.code_at(secret, WHEN)}).status_code == 429


def test_a_recovery_code_lets_in_once(client: Client) -> None:
    person = make_person(roles=(Role.ENGINEER,))
    _, codes = with_factor(person)
    give_password(client, person)
    assert client.post(CODE, {"code": codes[3].lower().replace("-", " ")}).status_code == 302
    assert not factor_actions.take_code(person=person, typed=codes[3])
    assert factor_actions.take_code(person=person, typed=codes[4])
    assert len(SecondFactor.objects.get(person=person).recovery) == 8
    assert Event.objects.filter(kind="person.recovery_code_used").count() == 2


def test_secret_and_codes_are_nowhere_in_the_record_or_the_table() -> None:
    person = make_person()
    secret, codes = with_factor(person)
    row = SecondFactor.objects.get(person=person)
    bodies = " ".join(Event.objects.values_list("body", flat=True))
    for hidden in (secret, *codes):
        assert hidden not in bodies
        assert hidden not in row.secret + " ".join(row.recovery)


def test_the_administrator_resets_it_with_a_reason_and_not_his_own(client: Client) -> None:
    site = make_site()
    engineer = make_person(site=site, roles=(Role.ENGINEER,))
    administrator = make_person(site=site, roles=(Role.ADMINISTRATOR,))
    with_factor(engineer)
    client.force_login(administrator, backend="django.contrib.auth.backends.ModelBackend")
    url = reverse("accounts:factor_reset", args=[site.pk, engineer.pk])
    assert "In use since" in client.get(url).content.decode()
    reason = "phone fell into the intake, he called me himself"
    assert client.post(url, {"reason": reason}).status_code == 302
    assert not factor.has_factor(engineer)
    event = Event.objects.get(kind="person.second_factor_reset")
    assert (event.reason, event.actor_id) == (reason, administrator.pk)
    with_factor(administrator)
    with pytest.raises(NotAllowed, match="Another person"):
        factor_actions.reset_second_factor(person=administrator, site_id=site.pk, reason=reason, by=administrator)
    with pytest.raises(NotAllowed, match="Another person"):
        factor_actions.reset_second_factor(person=administrator, site_id=site.pk, reason=reason, by=engineer)


def test_a_new_one_is_begun_only_after_a_proof(client: Client) -> None:
    person = make_person(roles=(Role.ENGINEER,))
    secret, _ = with_factor(person)
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    with time_machine.travel(WHEN, tick=False):
        assert client.post(OWN, {"password": PASSWORD, "code": "000000"}).status_code == 200
        assert factor.has_factor(person)
        code = factor.code_at(secret, WHEN)
        assert client.post(OWN, {"password": PASSWORD, "code": code})["Location"] == CONFIRM
        assert not factor.has_factor(person)
        assert client.get("/register/")["Location"] == OWN
