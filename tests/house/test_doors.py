"""Who gets through which door: every URL with every role, a stranger, nobody, and a wrong method."""

import io
import zipfile
from collections.abc import Iterable, Iterator
from typing import cast

import pytest
from django.test import Client
from django.urls import URLPattern, reverse
from pytest_django.plugin import DjangoDbBlocker

from groutjobs.accounts.models import Role
from groutjobs.demo.scenario import Scene
from tests.factories import make_person
from tests.scene import arguments, demonstration, named_urls

pytestmark = pytest.mark.django_db
URLS = named_urls()
# Why each of these needs no sign-in.
PUBLIC = {
    "accounts:sign_in": "it is the way in",
    "accounts:sign_in_code": "the second step of the way in; without the password before it, it leads back there",
    "outages:calendar": "calendar programs cannot sign in; the code in the address is the key, revocable, titles only",
    "reminders:calendar": "calendar programs cannot sign in; a person's own code, revocable, titles and times only",
    "accounts:invitation_answer": "the code in the address is the key, single-use and expiring",
    "phone:app": "the shell of the phone's pages; it holds no data, and must open without a connection",
    "phone:app_file": "scripts, style and icons of that shell",
    "phone:worker": "the program that keeps the shell on the phone",
    "phone:manifest": "name and icon of the shell for the home screen",
    "curing:logger_readings": "loggers cannot sign in; the key in the header opens it, hashed, revocable, slowed",
    "signing:verifier_file": "the program with which anybody checks an export; it holds no data",
    "turnover:outside": "the code in the address is the key, hashed, expiring, revocable, each use noted",
    "turnover:record_schema": "the published description of the attached record; it holds no data",
    "turnover:verify": "anybody may have a file checked; nothing of it is kept or shown, tries are slowed",
    "turnover:verify_code": "the code on a printed page; its hash is known only to who holds the report",
    "turnover:verify_script": "the program with which anybody checks a file; it holds no data",
    "sync:join": "the code that is typed is the key, single-use and ten minutes long; tries are slowed",
}
# Called by enrolled phones: the device cookie is the key, no session opens them.
OF_DEVICES = {name for name, pattern in URLS.items() if hasattr(pattern.callback, "for_devices")}
# What only the person finds who made it, whatever the role of the others.
OF_ONE_PERSON = {"turnover:search_forget"}
ROLES = list(Role)
# Arguments that a page takes only in certain values.
OWN_ARGUMENTS: dict[str, dict[str, object]] = {
    "phone:entry_add": {"kind": "note"},
    "phone:app_file": {"build": "none", "name": "main.js"},
}


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Scene]:
    with django_db_blocker.unblock(), demonstration() as scene:
        yield scene


@pytest.fixture(scope="module")
def values(scene: Scene, django_db_blocker: DjangoDbBlocker) -> dict[str, object]:
    with django_db_blocker.unblock():
        return arguments(scene) | {"code": "no-such-code"}


def address(name: str, values: dict[str, object]) -> str:
    own = values | OWN_ARGUMENTS.get(name, {})
    return reverse(name, kwargs={key: own[key] for key in URLS[name].pattern.converters})


def roles_for(pattern: URLPattern, method: str) -> frozenset[Role]:
    roles: frozenset[Role] = getattr(pattern.callback, "read_roles" if method == "GET" else "write_roles", frozenset())
    return roles


def guarded() -> list[tuple[str, str]]:
    return [(name, method) for name, one in URLS.items() for method in ("GET", "POST") if roles_for(one, method)]


def send(client: Client, method: str, url: str) -> int:
    return (client.get(url) if method == "GET" else client.post(url)).status_code


MARKS = ("read_roles", "is_public", "for_anyone_signed_in", "for_devices")


def test_every_url_says_who_may_use_it() -> None:
    silent = [name for name, pattern in URLS.items() if not any(hasattr(pattern.callback, mark) for mark in MARKS)]
    assert silent == []


def test_public_urls_are_those_with_a_reason() -> None:
    assert {name for name, pattern in URLS.items() if hasattr(pattern.callback, "is_public")} == set(PUBLIC)


@pytest.mark.parametrize("name", sorted(set(URLS) - set(PUBLIC) - OF_DEVICES))
def test_nobody_gets_in_without_signing_in(name: str, values: dict[str, object], client: Client) -> None:
    url = address(name, values)
    answers = [response for response in (client.get(url), client.post(url)) if response.status_code != 405]
    assert answers
    assert all(answer.status_code == 302 for answer in answers)
    assert all(answer["Location"].startswith(reverse("accounts:sign_in")) for answer in answers)


@pytest.mark.parametrize(("name", "method"), guarded())
def test_the_right_roles_get_in_and_the_others_do_not(
    name: str, method: str, scene: Scene, values: dict[str, object]
) -> None:
    allowed = roles_for(URLS[name], method)
    answers = {}
    for role in ROLES:
        client = Client()
        client.force_login(make_person(site=scene.works.site, roles=(role,)))
        answers[role] = send(client, method, address(name, values))
    assert {role for role, status in answers.items() if status != 403} == allowed, answers
    told = {404} if name in OF_ONE_PERSON else {200, 302, 400, 409, 422}
    assert all(answers[role] in told for role in allowed), answers


def test_there_are_addresses_of_phones() -> None:
    assert len(OF_DEVICES) >= 11


@pytest.mark.parametrize("name", sorted(OF_DEVICES))
@pytest.mark.parametrize("who", ["nobody", "every role"])
def test_without_a_device_nothing_is_read_or_stored(
    name: str, who: str, scene: Scene, values: dict[str, object], client: Client
) -> None:
    if who != "nobody":
        client.force_login(make_person(site=scene.works.site, roles=tuple(Role)))
    url = address(name, values)
    plain = [client.get(url), client.post(url, {}, content_type="application/json"), client.put(url)]
    assert {answer.status_code for answer in plain} <= {400, 405}
    ours = {"X-Sync-Proto": "1", "Origin": "http://testserver"}
    calls = (client.get, client.put, lambda url, headers: client.post(url, {}, "application/json", headers=headers))
    answers = {call(url, headers=ours).status_code for call in calls} - {405}
    assert answers == ({410} if name == "sync:enrol" else {401})
    foreign = client.post(url, {}, "application/json", headers=ours | {"Origin": "https://elsewhere.example"})
    assert foreign.status_code in {403, 405}


@pytest.mark.parametrize(("name", "method"), [pair for pair in guarded() if URLS[pair[0]].pattern.converters])
def test_a_stranger_with_the_role_elsewhere_finds_nothing(name: str, method: str, values: dict[str, object]) -> None:
    client = Client()
    client.force_login(make_person(roles=tuple(roles_for(URLS[name], method))))
    assert send(client, method, address(name, values)) == 404


def text_of(answer: Iterable[bytes]) -> str:
    """What an answer holds, streamed or not; of a packed file the text of every part."""
    content = b"".join(answer)
    if not content.startswith(b"PK"):
        return content.decode()
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        return "".join(packed.read(part).decode() for part in packed.namelist())


def test_text_is_found_inside_a_packed_file() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("a.txt", "P-101A " * 50)
    assert b"P-101A" not in packed.getvalue()
    assert "P-101A" in text_of([packed.getvalue()])


@pytest.mark.parametrize("name", [name for name, one in URLS.items() if not one.pattern.converters])
def test_a_stranger_sees_nothing_of_the_site_in_lists(name: str, scene: Scene) -> None:
    client = Client()
    client.force_login(make_person(roles=tuple(Role)))
    text = text_of(cast(Iterable[bytes], client.get(reverse(name), follow=True)))
    assert scene.works.site.name not in text
    assert "P-101A" not in text


@pytest.mark.parametrize("name", sorted(URLS))
def test_a_wrong_method_is_refused(name: str, values: dict[str, object], client: Client) -> None:
    client.force_login(make_person(roles=tuple(Role)))
    assert client.delete(address(name, values)).status_code in {404, 405}
    assert client.put(address(name, values)).status_code == (400 if name == "sync:blob" else 405)
