"""The demonstration as test data: loaded once for a module inside a transaction that is rolled back after it."""

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from unittest.mock import patch

from django.db import transaction
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils import timezone

from groutjobs.accounts.device_actions import enrol_device, make_device_code
from groutjobs.accounts.models import Membership, Role, User
from groutjobs.curing.logger_models import Logger, LoggerKey
from groutjobs.curing.models import CureInspection, InspectionKind, ReadingImport
from groutjobs.curing.release_models import MilestoneRelease
from groutjobs.curing.watch_models import KeptHeating, ReadingAside, WetEntry
from groutjobs.demo.scenario import Scene, load
from groutjobs.equipment.models import Machine
from groutjobs.faults.phone import Phone
from groutjobs.nonconformances.models import Nonconformance
from groutjobs.pours.models import Photo, Pour, PourEntry
from groutjobs.sync.models import PhoneOp
from groutjobs.sync.ops import read_op
from groutjobs.sync.receiving import receive
from groutjobs.turnover.models import ReaderLink, SavedSearch
from groutjobs.windows.models import PourHours

ONE_PAGE = "<!doctype html><html lang=en><title>A report</title><body><p>One page in place of fifty.</html>"


@contextmanager
def demonstration(*, stock: int = 1) -> Iterator[Scene]:
    """Load the demonstration, reports drawn as one page, and take everything back at the end.

    Drawing all its pages takes as long as the rest; tests/turnover and the browser tests draw them.
    """
    with patch("groutjobs.turnover.report.html_of", lambda report: ONE_PAGE), transaction.atomic():
        scene = load(lambda words: None, stock=stock)
        yield scene
        transaction.set_rollback(True)


def named_urls() -> dict[str, URLPattern]:
    """Every URL of the program by its full name."""
    found: dict[str, URLPattern] = {}

    def walk(patterns: list[Any], prefix: str) -> None:
        for pattern in patterns:
            if isinstance(pattern, URLResolver):
                walk(pattern.url_patterns, f"{pattern.app_name}:" if pattern.app_name else prefix)
            else:
                found[f"{prefix}{pattern.name}"] = pattern

    walk(get_resolver().url_patterns, "")
    return found


def arguments(scene: Scene) -> dict[str, Any]:
    """One value for each argument that a URL can take, all of them of the machine that went through the whole job."""
    machine = Machine.objects.get(site=scene.works.site, tag="P-101A")
    plan = machine.plans.get()
    pour = Pour.objects.get(plan=plan)
    inspection = CureInspection.objects.filter(pour=pour, kind=InspectionKind.LEVEL, replaced_by__isnull=True).get()
    sheet, lot = scene.works.grouts["Demo epoxy A"]
    op = waiting_op(pour, scene.works.people["crew"])
    return {
        "site_id": scene.works.site.pk,
        "user_id": scene.works.people["crew"].pk,
        "machine_id": machine.pk,
        "plan_id": plan.pk,
        "point_id": plan.points.all()[0].pk,
        "sheet_id": sheet.pk,
        "data_sheet_id": sheet.pk,
        "grout_system_id": sheet.grout_system_id,
        "system_id": sheet.grout_system_id,
        "lot_id": lot.pk,
        "forecast_id": scene.april.pk,
        "pour_hours_id": PourHours.objects.filter(plan=plan).latest("pk").pk,
        "search_id": PourHours.objects.filter(plan=plan).latest("pk").pk,
        "outage_id": scene.outage.pk,
        "crew_id": scene.outage.crews.all()[0].pk,
        "job_id": scene.outage.jobs.all()[0].pk,
        "scheduled_pour_id": plan.scheduled_pours.get(is_current=True).pk,
        "schedule_id": scene.outage.schedules.get().pk,
        "pour_id": pour.pk,
        "entry_id": PourEntry.objects.filter(pour=pour, kind="note").values_list("pk", flat=True).first()
        or PourEntry.objects.filter(pour=pour).values_list("pk", flat=True)[0],
        "photo_id": Photo.objects.filter(pour=pour)[0].pk,
        "inspection_id": inspection.pk,
        "import_id": ReadingImport.objects.filter(pour=pour)[0].pk,
        "reading_import_id": ReadingImport.objects.filter(pour=pour)[0].pk,
        "report_id": scene.reports[0].pk,
        **of_issued_report(scene),
        "instrument_id": scene.tools["0417"].pk,
        "nonconformance_id": Nonconformance.objects.filter(pour=pour)[0].pk,
        "release_id": MilestoneRelease.objects.filter(pour=pour)[0].pk,
        "milestone": "strip",
        "step": "close",
        **of_watched_cure(scene, pour),
        "kind": "level",
        "index": 0,
        "addendum_no": 1,
        "hour": 0,
        "device_id": op.device_id,
        "op_id": op.pk,
        "key_id": op.pk,
        "record_id": pour.pk,
        "sha256": "0" * 64,
    }


def of_issued_report(scene: Scene) -> dict[str, Any]:
    """What leads to the issued report from outside, and a search that somebody kept."""
    report = scene.reports[0]
    link = ReaderLink.objects.filter(recipient__report=report).first()
    saved = SavedSearch.objects.get_or_create(person=scene.works.people["auditor"], name="kept", query="words=x")[0]
    return {
        "recipient_id": report.recipients.all()[0].pk,
        "link_id": link.pk if link else 0,
        "saved_id": saved.pk,
        "code": "none",
        "number": report.number,
        "revision": report.revision,
        "prefix": report.manifest_sha256[:16],
    }


def of_watched_cure(scene: Scene, pour: Pour) -> dict[str, Any]:
    """Rows of a watched cure of this pour: a logger with its key, a span set aside, an entry of wetting, a heating."""
    by, now = scene.works.people["engineer"], timezone.now()
    logger = Logger.objects.get(site=scene.works.site, name="Logger 3")
    key = LoggerKey.objects.get_or_create(logger=logger, key_hash="0" * 64, defaults={"made_by": by})[0]
    span = {"probe": "air", "from_at": now, "until_at": now, "why": "tried", "set_by": by}
    aside = ReadingAside.objects.filter(pour=pour).first() or ReadingAside.objects.create(pour=pour, **span)
    wet = WetEntry.objects.filter(pour=pour).first() or WetEntry.objects.create(pour=pour, wetness="wet", at=now, by=by)
    heating = KeptHeating.objects.filter(pour=pour).first() or KeptHeating.objects.create(
        pour=pour, kept_by=by, result=a_heating(now)
    )
    return {
        "logger_id": logger.pk,
        "logger_key_id": key.pk,
        "aside_id": aside.pk,
        "wet_entry_id": wet.pk,
        "heating_id": heating.pk,
    }


def a_heating(now: dt.datetime) -> dict[str, Any]:
    """The answer to a question of heat, as small as one can be."""
    moments = {"from_at": now.isoformat(), "until_at": (now + dt.timedelta(hours=9)).isoformat()}
    return {
        "engine_version": "1",
        "computed_at": now.isoformat(),
        "started_at": now.isoformat(),
        "question": {"target_c": 25.0, **moments},
        "milestones": [],
        "peak_heat_kw": 2.0,
        "mean_heat_kw": 1.0,
        "hottest_c": 25.0,
        "ahead": {"plain": {}, "heated": {}},
        "findings": {"metric": [], "us": []},
    }


def waiting_op(pour: Pour, author: User) -> PhoneOp:
    """An entry that came from an enrolled phone without a proof and waits for a decision; one for each pour."""
    known = PhoneOp.objects.filter(pour=pour).first()
    if known:
        return known
    site = pour.plan.machine.site
    administrator = Membership.objects.filter(site=site, role=Role.ADMINISTRATOR).select_related("user")[0].user
    _, code = make_device_code(site_id=site.pk, name="Phone 4", by=administrator)
    device, token = enrol_device(typed=code)
    made = Phone(str(device.pk), token, author.pk, None, b"").op(pour.pk, "note", {"text": "not proven"})
    return receive(op=read_op(made.text), device=device)
