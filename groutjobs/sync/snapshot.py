"""What a phone is told about its site: pours, their log since a revision, and all that it needs without signal."""

import datetime as dt
from collections import defaultdict
from typing import Any

from django.db.models import Count
from django.utils import timezone

from groutjobs.accounts.models import ROLES_THAT_RECORD, Device, Membership, Role
from groutjobs.equipment.models import Site
from groutjobs.pours import told
from groutjobs.pours.actions import DECLARERS
from groutjobs.pours.calc import basis_of
from groutjobs.pours.cautions import cautions_of
from groutjobs.pours.log import PourLog
from groutjobs.pours.models import Pour, PourEntry, PourState
from groutjobs.pours.queries import log_of, lots_of, open_pours, pour_whole
from groutjobs.sync.models import Blob, PhoneOp
from groutjobs.sync.queries import phones_of, waiting_ops
from groutjobs.sync.takers import TOLD

RECENT_DAYS = 45
"""A pour stays so long on phones: its last hold points are answered when the grout has cured [GROUTJOBS]."""
RECORDS_MOST = 50


def device_told(device: Device) -> dict[str, Any]:
    return {"id": str(device.pk), "name": device.name, "site_id": device.site_id, "site": device.site.name}


def people(site_id: int) -> list[dict[str, Any]]:
    """Who is at the site, by name, with what each may do in a pour log."""
    members = Membership.objects.filter(site=site_id, user__is_active=True).select_related("user")
    roles: defaultdict[tuple[str, int], set[Role]] = defaultdict(set)
    for member in members:
        roles[member.user.name, member.user_id].add(Role(member.role))
    return [
        {
            "id": person_id,
            "name": name,
            "roles": sorted(str(role.label) for role in held),
            "may_record": bool(held & ROLES_THAT_RECORD),
            "may_declare": bool(held & DECLARERS),
        }
        for (name, person_id), held in sorted(roles.items())
    ]


def records(site: Site) -> dict[str, Any]:
    """Pours of the site that a phone may still write in, newest first."""
    since = timezone.now() - dt.timedelta(days=RECENT_DAYS)
    pours = list(open_pours(pour_whole().filter(plan__machine__site=site), since=since)[:RECORDS_MOST])
    counts = dict(PourEntry.objects.filter(pour__in=pours).order_by().values_list("pour").annotate(Count("pk")))
    return {"records": [_head(pour, counts.get(pour.pk, 0)) for pour in pours]}


def _head(pour: Pour, rev: int) -> dict[str, Any]:
    return {
        "record_id": pour.pk,
        "label": str(pour),
        "service": pour.plan.machine.service,
        "machine": machine(pour),
        "state": pour.state,
        "state_words": PourState(pour.state).label,
        "rev": rev,
        "snapshot": f"/sync/v1/records/{pour.pk}/snapshot",
    }


def machine(pour: Pour) -> dict[str, Any]:
    row = pour.plan.machine
    return {"id": row.pk, "tag": row.tag, "service": row.service}


def log_since(pour: Pour, since: int, log: PourLog | None = None) -> dict[str, Any]:
    """Entries that came after a revision, with conflicts, doubles, and what is still on its way."""
    log = log or log_of(pour)
    lines = sorted((line for line in log.lines if line.fact.rev > since or not since), key=lambda one: one.fact.rev)
    blobs = set(Blob.objects.filter(sha256__in=log.missing_blobs).values_list("sha256", flat=True))
    return {
        "record_id": pour.pk,
        "rev": len(log.lines),
        "state": str(log.state),
        "state_words": str(log.state.label),
        "locked_at": told.stamp(pour.locked_at),
        "entries": [told.entry(line) for line in lines],
        **told.merge(log),
        "missing_blobs": [blob for blob in log.missing_blobs if blob not in blobs],
        "waiting": [_waiting(op) for op in waiting_ops(PhoneOp.objects.filter(pour=pour))],
        "still_on_phones": [
            {
                "device": one.device.name,
                "at_least": one.at_least,
                "of_this_pour": one.of_pour(pour.pk),
                "last_contact_at": told.stamp(
                    one.last_contact_at and one.last_contact_at.replace(second=0, microsecond=0)
                ),
            }
            for one in phones_of(pour)
        ],
    }


def _waiting(op: Any) -> dict[str, Any]:
    return {
        "op_id": str(op.op_id),
        "status": op.now,
        "reason": op.reason,
        "device": op.device.name,
        "author": op.author.name if op.author else "",
        "kind": op.kind,
    }


def whole(pour: Pour) -> dict[str, Any]:
    """One pour with everything that a phone needs without signal."""
    site, lots = pour.plan.machine.site, lots_of(pour)
    basis, log = basis_of(pour.plan, lots), log_of(pour, lots={pour.plan.data_sheet.grout_system_id: lots})
    return {
        "record_id": pour.pk,
        "label": str(pour),
        "machine": machine(pour),
        "site": {
            "id": site.pk,
            "name": site.name,
            "zone": site.zone,
            "emergency_contact": site.emergency_contact,
            "environmental_contact": site.environmental_contact,
            "is_demo": site.is_demo,
        },
        "grout": told.grout(pour, basis),
        "takeoff": told.takeoff(basis),
        "points": told.points(log),
        "lots": [{"lot_no": lot.lot_no, "expires_on": str(lot.expires_on)} for lot in lots],
        "first_lot": pour.plan.lot.lot_no if pour.plan.lot else (lots[0].lot_no if lots else ""),
        "people": people(site.pk),
        "kinds": told.kinds(basis.grout_kind, cautions_of(basis.grout_kind)),
        "rules": told.RULES,
        "log": log_since(pour, 0, log),
        **{name: part(pour) for name, part in TOLD.items()},
    }
