"""A site with a pour that is about to begin, made in the server's own database.

Prints ids, people and codes for phones as JSON. Run as a program, because the browser's tests touch no database.
"""

import datetime as dt
import json
import sys
from typing import Any

from django.utils import timezone

from groutjobs.accounts.device_actions import make_device_code, revoke_device
from groutjobs.accounts.models import Device, Role, User
from groutjobs.curing.models import CureInspection
from groutjobs.equipment.models import Site
from groutjobs.instruments.actions import add_calibration, add_instrument
from groutjobs.instruments.models import InstrumentKind
from groutjobs.pours.models import PourEntry
from groutjobs.pours.queries import log_of, pour_whole
from groutjobs.sync.models import Blob, PhoneOp
from tests import factories

PASSWORD = "correct horse battery"


def build() -> dict[str, Any]:
    site = factories.make_site(name="Invented works", is_demo=True)
    roles = {"lead": Role.CREW_LEAD, "crew": Role.CREW, "engineer": Role.ENGINEER, "administrator": Role.ADMINISTRATOR}
    people = {
        word: factories.make_person(
            site=site, roles=(role,), name=f"{word.title()} Quillfeather", email=f"{word}@a.test"
        )
        for word, role in roles.items()
    }
    plan = factories.make_approved_plan(machine=factories.make_machine(site=site, tag="P-101"))
    pour = factories.make_pour(plan=plan, opened_by=people["lead"])
    return {
        "pour_id": pour.pk,
        "machine_id": plan.machine_id,
        "people": {word: {"id": one.pk, "name": one.name, "email": one.email} for word, one in people.items()},
    }


def cured() -> dict[str, Any]:
    """One more machine of the site, whose grout was placed three days ago; a hammer, an overdue wrench."""
    site = Site.objects.get(is_demo=True)
    by, day = User.objects.get(email="engineer@a.test"), timezone.now().astimezone(site.tz).date()
    add_instrument(site=site, kind=InstrumentKind.HAMMER, name="Light hammer", serial="H-3", span="", by=by)
    wrench = add_instrument(site=site, kind=InstrumentKind.WRENCH, name="Torque wrench", serial="2291", span="", by=by)
    add_calibration(
        instrument=wrench, calibrated_on=day - dt.timedelta(days=400), due_on=day - dt.timedelta(days=35),
        certificate_no="C-1 (invented)", by_whom="An invented laboratory", by=by,
    )  # fmt: skip
    plan = factories.make_approved_plan(machine=factories.make_machine(site=site, tag="P-102"))
    placed_at = timezone.now() - dt.timedelta(days=3)
    pour = factories.make_placed_pour(plan=plan, placed_at=placed_at, opened_by=User.objects.get(email="lead@a.test"))
    return {"pour_id": pour.pk, "machine_id": plan.machine_id}


def inspections(pour_id: int) -> dict[str, Any]:
    """The inspections of a pour as the database has them."""
    rows = CureInspection.objects.filter(pour=pour_id).select_related("made_by")
    return {
        row.kind: {
            "id": row.pk, "op_id": str(row.op_id), "made_by": row.made_by.email, "verdict": row.verdict,
            "entered_at": row.entered_at.isoformat(), "inputs": row.inputs, "result": row.result,
            "photos": row.pour.photos.count(),
        }
        for row in rows
    }  # fmt: skip


def code() -> dict[str, str]:
    """One more code with which a phone joins the site."""

    by = User.objects.get(email="administrator@a.test")
    _, made = make_device_code(site_id=Site.objects.get(is_demo=True).pk, name="Phone", by=by)
    return {"code": made}


def revoke() -> dict[str, str]:
    """The phone that joined last loses its rights."""
    by = User.objects.get(email="administrator@a.test")
    device = Device.objects.latest("enrolled_at")
    revoke_device(device=device, reason="left on the train", by=by)
    return {"device": str(device.pk)}


def facts(pour_id: int) -> dict[str, Any]:
    """What stands in the database about one pour, for a test that asks whether all came through, once each."""

    log = log_of(pour_whole().get(pk=pour_id))
    return {
        "entries": [str(pk) for pk in PourEntry.objects.filter(pour=pour_id).values_list("pk", flat=True)],
        "ops": [str(pk) for pk in PhoneOp.objects.values_list("pk", flat=True)],
        "blobs": list(Blob.objects.values_list("sha256", flat=True)),
        "photos": pour_whole().get(pk=pour_id).photos.count(),
        "state": str(log.state),
        "conflicts": [one.key for one in log.conflicts],
        "missing_blobs": list(log.missing_blobs),
        "kinds": [str(line.fact.kind) for line in log.lines],
    }


def main() -> None:
    word, *rest = sys.argv[1:]
    alone = {"build": build, "code": code, "revoke": revoke, "cured": cured}
    of_pour = {"facts": facts, "inspections": inspections}
    told = alone[word]() if not rest else of_pour[word](int(rest[0]))
    sys.stdout.write(json.dumps(told))
