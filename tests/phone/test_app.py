"""The shell of the pages without signal: open to all, without data, under the strict policy, never stale."""

import json
import re

import pytest
from django.test import Client
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.phone.shell import shell
from groutjobs.pours.models import EntryKind
from tests.factories import make_person, make_pour

pytestmark = pytest.mark.django_db


def file_url(name: str, build: str = "") -> str:
    return reverse("phone:app_file", args=[build or shell().build, name])


def test_the_shell_holds_no_data_and_nothing_inline(client: Client) -> None:
    make_pour()
    response = client.get(reverse("phone:app"))
    text = response.content.decode()
    assert response.status_code == 200
    assert "P-" not in text
    assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son[a-z]+=", text)
    assert "script-src 'self';" in response["Content-Security-Policy"]
    assert response["Cache-Control"] == "no-cache"


def test_every_file_that_the_shell_and_the_modules_name_is_served(client: Client) -> None:
    made = shell()
    named = set(re.findall(rf"{made.build}/([\w.-]+)", client.get(reverse("phone:app")).content.decode()))
    for name in made.modules:
        named |= set(re.findall(r'from "\./([\w.-]+)"', made.files[name].content.decode()))
    assert {"main.js", "idb.js", "phone.css"} <= named
    assert {name for name in named if client.get(file_url(name)).status_code != 200} == set()


def test_a_file_is_kept_for_good_and_compressed(client: Client) -> None:
    plain = client.get(file_url("main.js"))
    small = client.get(file_url("main.js"), headers={"Accept-Encoding": "gzip"})
    assert "immutable" in plain["Cache-Control"]
    assert small["Content-Encoding"] == "gzip"
    assert len(small.content) < len(plain.content)


@pytest.mark.parametrize(("name", "build"), [("main.js", "another"), ("nothing.js", ""), ("worker.js", ""), ("..", "")])
def test_a_file_of_another_build_or_none_is_not_found(client: Client, name: str, build: str) -> None:
    assert client.get(file_url(name, build)).status_code == 404


def test_the_worker_knows_its_build_and_may_answer_for_the_tags_of_machines(client: Client) -> None:
    response = client.get(reverse("phone:worker"))
    assert response["Service-Worker-Allowed"] == "/"
    assert f'const BUILD = "{shell().build}"' in response.content.decode()
    files = json.loads(re.search(r"const FILES = (.*);", response.content.decode())[1])  # type: ignore[index]
    assert {one for one in files if client.get(one).status_code != 200} == set()


def test_the_home_screen_gets_a_name_and_icons_of_our_own(client: Client) -> None:
    told = json.loads(client.get(reverse("phone:manifest")).content)
    assert told["start_url"] == reverse("phone:app")
    assert told["display"] == "standalone"
    assert [client.get(icon["src"])["Content-Type"] for icon in told["icons"]] == ["image/png", "image/png"]


@pytest.mark.parametrize("name", ["phone:app", "phone:worker", "phone:manifest"])
def test_nothing_can_be_sent_to_the_shell(client: Client, name: str) -> None:
    assert client.post(reverse(name)).status_code == 405


def test_the_paper_sheet_has_the_order_and_the_cautions_of_the_screens(client: Client) -> None:
    pour = make_pour()
    client.force_login(make_person(site=pour.plan.machine.site, roles=(Role.CREW,)))
    text = client.get(reverse("phone:paper", args=[pour.pk])).content.decode()
    headings = re.findall(r"<h2>([^<]+)</h2>", text)
    assert headings[:4] == ["Hold points", "Reading", "Resin and hardener started", "Aggregate in"]
    assert headings[-1] == EntryKind.DECLARED_COMPLETE.label
    assert "resin and hardener burn" in text
    assert "1. Set plate, level (H)" in text
    assert "transcribed from paper" in text


@pytest.mark.parametrize(("method", "status"), [("get", 404), ("post", 405)])
def test_a_stranger_and_a_wrong_method_get_no_paper(client: Client, method: str, status: int) -> None:
    pour = make_pour()
    client.force_login(make_person(roles=(Role.CREW,)))
    assert getattr(client, method)(reverse("phone:paper", args=[pour.pk])).status_code == status
