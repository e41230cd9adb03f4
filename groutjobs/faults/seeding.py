"""The small scene of the bench: one invented site, approved plans, open pours, phones with people on them."""

import datetime as dt
import json
from typing import Any

from django.contrib.sessions.models import Session
from django.utils import timezone

from groutjobs.accounts.actions import change_password
from groutjobs.accounts.device_actions import enrol_device, issue_shift_key, make_device_code, revoke_device
from groutjobs.accounts.models import Device, Membership, Role, User
from groutjobs.audit.queries import first_break
from groutjobs.equipment.models import Machine, Site
from groutjobs.planning.models import DataSheet, GroutSystem, PlanPoint, PourPlan
from groutjobs.pours.models import Pour, PourEntry
from groutjobs.pours.queries import pour_whole
from groutjobs.sync.door import COOKIE
from groutjobs.sync.models import PhoneOp
from groutjobs.sync.queries import with_status
from groutjobs.turnover.readiness import blockers_of, readiness

POURS, PHONES = 24, 4
PASSWORD = "invented for the bench"  # noqa: S105  a scene that lives for one run
PIN = "428193"
_RESULT: dict[str, Any] = {
    "compartments": [{"name": name, "volume_l": 110.0, "sd_l": 3.6} for name in ("A", "B")],
    "net_l": 240.0, "net_sd_l": 8.0, "kits_total": 6,
}  # fmt: skip


def seed_scene() -> dict[str, Any]:
    """Make the scene and tell what a bench must know of it."""
    site = Site.objects.create(
        name="Bench works", owner="Bench owner", zone="America/New_York", latitude_deg=36.1, longitude_deg=-79.95,
        elevation_m=273.0, annual_mean_c=14.5, annual_swing_c=11.0, emergency_contact="gate house",
        environmental_contact="duty engineer", shift_starts=dt.time(6), shift_ends=dt.time(18),
        working_days=[0, 1, 2, 3, 4, 5],
    )  # fmt: skip
    administrator = _person(site, "administrator", Role.ADMINISTRATOR)
    engineer = _person(site, "engineer", Role.ENGINEER)
    crew = [_person(site, f"lead{number}", Role.CREW_LEAD) for number in range(1, 3)]
    pours = [_pour(site, engineer, number) for number in range(1, POURS + 1)]
    devices = [_device(site, administrator, f"Phone {number}", crew) for number in range(1, PHONES + 1)]
    return {
        "site_id": site.pk,
        "pour_ids": [pour.pk for pour in pours],
        "devices": devices,
        "administrator": {"email": administrator.email, "password": PASSWORD},
    }


def _person(site: Site, name: str, role: Role) -> User:
    person = User.objects.create_user(f"{name}@bench.example", password=PASSWORD, name=f"Bench {name}")
    Membership.objects.create(user=person, site=site, role=role)
    return person


def _pour(site: Site, engineer: User, number: int) -> Pour:
    machine = Machine.objects.create(
        site=site, tag=f"P-{number}", service="bench pump", kind="pump", driver_kw=250.0, speed_rpm=1780.0,
        mass_kg=3200.0, level_class="api_pump",
    )  # fmt: skip
    grout = GroutSystem.objects.create(site=site, name=f"Bench epoxy {number}", kind="epoxy", supplier="Bench")
    sheet = DataSheet.objects.create(
        grout_system=grout, revision="1", dated_on=dt.date(2026, 1, 1), kit_yield_l=56.6, kit_kg=115.0,
        composition="invented", density_kg_m3=2030.0, thickness_min_mm=25.0, thickness_max_mm=150.0,
        placing_min_c=10.0, placing_max_c=32.0, cure_min_c=8.0, shelf_life_d=730.0, mix_min=8.0,
        mixing_rules="whole kits only", working_life=[[10.0, 180.0], [23.0, 90.0], [32.0, 48.0]],
        strength=[[23.0, 24.0, 62.0]], activation_kj_mol=55.0,
    )  # fmt: skip
    plan = PourPlan.objects.create(
        machine=machine, made_by=engineer, data_sheet=sheet, state="approved", approved_by=engineer,
        approved_at=timezone.now(), result=_RESULT, clearance_mm=75.0, rise_mm=15.0, chamfer_mm=25.0, head_mm=200.0,
        waste_ratio=0.15, spare_kits=1, mixers=2, crew=6, place_min=10.0, turnaround_min=3.0, planned_grout_c=22.0,
        snug_kn=40.0,
    )  # fmt: skip
    PlanPoint.objects.create(
        plan=plan, position=1, step="Set plate, level", checked="level", recorded="readings", acceptance="0.17 mm/m",
        code="H", witness_role="engineer", before_pour=True, source="PPH",
    )  # fmt: skip
    return Pour.objects.create(plan=plan, opened_by=engineer)


def _device(site: Site, administrator: User, name: str, crew: list[User]) -> dict[str, Any]:
    _, code = make_device_code(site_id=site.pk, name=name, by=administrator)
    device, token = enrol_device(typed=code)
    keys = [issue_shift_key(device=device, person=person) for person in crew]
    people = [
        {"author_id": key.person_id, "name": key.person.name, "email": key.person.email, "key_id": str(key.pk),
         "key": key.key.hex(), "password": PASSWORD}
        for key in keys
    ]  # fmt: skip
    return {"id": str(device.pk), "name": name, "token": token, "cookie": COOKIE, "people": people}


def blockers(pour_id: int) -> list[str]:
    """Codes of what stands in the way of the turnover of a pour."""
    return [finding.code for finding in blockers_of(readiness(pour_whole().get(pk=pour_id)))]


def upset(person_id: str, device_id: str) -> list[str]:
    """All sessions end, one person gets another password and then no access, one phone is revoked."""
    Session.objects.all().delete()
    person = User.objects.get(pk=person_id)
    change_password(by=person, password=f"{PASSWORD}, changed")
    User.objects.filter(pk=person.pk).update(is_active=False)
    device = Device.objects.get(pk=device_id)
    administrator = User.objects.get(email="administrator@bench.example")
    revoke_device(device=device, reason="lost in the middle of a burst", by=administrator)
    return [str(device)]


def read_ledger() -> dict[str, Any]:
    """What a bench compares with the receipts that phones hold."""
    ops = with_status(PhoneOp.objects.all()).values_list("op_id", "sha256", "ledger_seq", "event_hash", "now", "code")
    broken = first_break()
    return {
        "ops": [[str(op_id), *rest] for op_id, *rest in ops],
        "entries": [
            [str(pk), f"{pour} {kind} {json.dumps(body, sort_keys=True)}"]
            for pk, pour, kind, body in PourEntry.objects.values_list("pk", "pour", "kind", "body")
        ],
        "chain": f"{broken.seq} {broken.reason}" if broken else "",
    }
