"""A site with a pour that is about to begin, made in the server's own database.

Prints ids, people and codes for phones as JSON. Run as a program, because the browser's tests touch no database.
"""

import json
import sys
from typing import Any

from groutjobs.accounts.device_actions import make_device_code, revoke_device
from groutjobs.accounts.models import Device, Role, User
from groutjobs.equipment.models import Site
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
    told = {"build": build, "code": code, "revoke": revoke}[word]() if not rest else facts(int(rest[0]))
    sys.stdout.write(json.dumps(told))
