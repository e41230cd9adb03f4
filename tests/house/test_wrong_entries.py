"""A wrong entry on any form comes back as typed, with a sentence that names field, value, limit and source."""

import html
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.plugin import DjangoDbBlocker

from groutjobs import units
from groutjobs.accounts.models import Role
from groutjobs.demo.scenario import Scene
from groutjobs.equipment.models import Machine
from groutjobs.fields import QuantityField, SheetForm, TableField, TextField
from groutjobs.planning.models import PourPlan
from groutjobs.pours.models import EntryKind, Pour
from tests.factories import make_person
from tests.house.test_doors import URLS, roles_for
from tests.scene import arguments, demonstration

pytestmark = pytest.mark.django_db
TEN_MB = 10_000_000
WRONG = ["empty", "text", "NaN", "negative", "too big", "unlikely", "other unit", "10 MB"]


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Scene]:
    with django_db_blocker.unblock(), demonstration() as scene:
        yield scene


@pytest.fixture(scope="module")
def addresses(scene: Scene, django_db_blocker: DjangoDbBlocker) -> dict[str, str]:
    """An address at which each form can be filled in, by the name of its URL."""
    with django_db_blocker.unblock():
        return dict(_addresses(scene))


def _addresses(scene: Scene) -> Iterator[tuple[str, str]]:
    values = arguments(scene) | {"code": "none"}
    plan_of = {plan.machine.tag: plan for plan in PourPlan.objects.select_related("machine")}
    pour_of = {pour.plan.machine.tag: pour for pour in Pour.objects.select_related("plan__machine")}
    machine_of = {machine.tag: machine.pk for machine in Machine.objects.all()}
    drafted = plan_of["P-204"]
    special = {
        "planning:plan_edit": {"plan_id": drafted.pk},
        "planning:point_edit": {"point_id": drafted.points.all()[0].pk},
        "planning:plan_add": {"machine_id": machine_of["F-401"]},
        "planning:data_sheet_edit": {"sheet_id": scene.works.grouts["Demo cement C"][0].pk},
        "equipment:plate_start": {"machine_id": machine_of["M-501"]},
        "outages:hour_choose": {"search_id": plan_of["P-203"].pour_hours.all()[0].pk},
        "curing:reading_add": {"pour_id": pour_of["P-102A"].pk},
    }
    for name, pattern in URLS.items():
        if not roles_for(pattern, "POST") or name in {"phone:entry_add"}:
            continue
        own = values | special.get(name, {})
        yield name, reverse(name, kwargs={key: own[key] for key in pattern.pattern.converters})
    for kind in EntryKind:
        url = reverse("phone:entry_add", kwargs={"pour_id": pour_of["P-102B"].pk, "kind": kind.value})
        yield f"phone:entry_add {kind.value}", url


def forms_in(response: Any) -> list[SheetForm]:
    """Our forms in the context of a page, each once."""
    context = getattr(response, "context", None)
    found: dict[int, SheetForm] = {}
    for one in context if isinstance(context, list) else [context] if context else []:
        for value in one.flatten().values():
            if isinstance(value, SheetForm):
                found[id(value)] = value
    return list(found.values())


def typed_for(case: str, field: QuantityField) -> tuple[str, str] | None:
    """Text and unit of a wrong entry of this kind; None where the field takes it."""
    limit = field.limit
    choices = units.UNITS_OF[limit.suffix] if limit.suffix else ()
    unit = choices[0].key if choices else ""
    plain = {
        "empty": "",
        "text": "abc",
        "NaN": "nan",
        "negative": "-98765432",
        "too big": "987654321",
        "10 MB": "7" * TEN_MB,
    }
    if case in plain:
        return None if case == "empty" and not field.required else (plain[case], unit)
    if case == "unlikely":
        middle = (limit.likely_high + limit.high) / 2
        shown = f"{units.from_si(middle, limit.suffix, unit) if limit.suffix else middle:.6f}"
        return (shown, unit) if limit.likely_high < limit.high and not limit.whole else None
    if len(choices) < 2:
        return None
    text = f"{units.from_si(limit.likely_high, limit.suffix, unit):.4f}"
    other = choices[1].key
    converted = units.to_si(float(text), limit.suffix, other)
    return None if limit.likely_low <= converted <= limit.likely_high else (text, other)


def filled(form: SheetForm, case: str) -> tuple[dict[str, Any], dict[str, str]]:
    """Data to post with wrong numbers in every quantity, and the wrong text of each by field."""
    data: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    for name, field in form.fields.items():
        prefixed = form.add_prefix(name)
        if isinstance(field, QuantityField):
            entry = typed_for(case, field)
            if case == "10 MB" and wrong:
                entry = None
            if entry is not None:
                data[prefixed], data[f"{prefixed}_unit"] = entry
                wrong[name] = entry[0]
        elif isinstance(field, TableField):
            data[f"{prefixed}_unit"] = units.METRIC
        elif isinstance(field, TextField):
            data[prefixed] = "x"
    return data, wrong


def expect_refused(form: SheetForm, wrong: dict[str, str], page: str, where: str) -> None:
    for name, text in wrong.items():
        field = form.fields[name]
        said = " ".join(str(error) for error in form.errors.get(name, []))
        assert said, f"{where}: {name} took {text[:30]!r}"
        assert str(field.label) in said, f"{where}: {said} does not name {field.label}"
        assert "[" in said, f"{where}: {said} names no source"
        if text:
            assert text[:30] in said or str(len(text)) in said, f"{where}: {said} does not repeat {text[:30]}"
            assert html.escape(text[:TEN_MB]) in page, f"{where}: {name} was lost"


@pytest.mark.parametrize("case", WRONG)
def test_every_form_refuses_it_and_keeps_it(case: str, scene: Scene, addresses: dict[str, str]) -> None:
    client = Client()
    client.force_login(make_person(site=scene.works.site, roles=tuple(Role)))
    tried: dict[str, int] = {}
    for where, url in addresses.items():
        for form in forms_in(client.get(url)):
            data, wrong = filled(form, case)
            if not wrong:
                continue
            response = client.post(url, data)
            answers = [one for one in forms_in(response) if one.is_bound and set(one.fields) == set(form.fields)]
            assert answers, f"{where}: {response.status_code}, the form did not come back"
            expect_refused(answers[0], wrong, response.content.decode(), where)
            tried[where] = tried.get(where, 0) + len(wrong)
    assert len(tried) >= (10 if case == "other unit" else 15), sorted(tried)
