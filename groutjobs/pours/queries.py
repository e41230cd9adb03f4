"""Reads of pours that pages and later stages share."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from django.db.models import Q, QuerySet

from groutjobs import units
from groutjobs.accounts.models import ROLES_THAT_RECORD, Membership, User
from groutjobs.planning.models import GroutLot, PlanPoint, PourPlan
from groutjobs.pours.calc import StoredLot, basis_of
from groutjobs.pours.fold import fold
from groutjobs.pours.log import Fact, PourLog
from groutjobs.pours.models import PhotoOriginal, Pour, PourEntry, PourState

LotsBySystem = Mapping[int, Sequence[StoredLot]]


def pour_whole() -> QuerySet[Pour]:
    """Pours with plan, machine, its foundation and baseplate, site and data sheet: one query."""
    return Pour.objects.select_related(
        "plan__machine__site", "plan__machine__foundation", "plan__machine__baseplate",
        "plan__data_sheet__grout_system", "plan__lot", "opened_by",
    )  # fmt: skip


def fact_of(entry: PourEntry, originals: Mapping[str, int]) -> Fact:
    """An entry without its table; its author must have been fetched with it. `originals`: photo ids by hash."""
    body, blobs = entry.body, entry.body.get("blobs", [])
    if blobs:
        body = body | {"photos": [originals[blob] for blob in blobs if blob in originals]}
    return Fact(
        id=entry.pk,
        kind=entry.kind,
        body=body,
        happened_at=entry.happened_at,
        entered_at=entry.entered_at,
        received_at=entry.received_at,
        author_id=entry.author_id,
        author=entry.author.name,
        device=entry.device,
        replaces_id=entry.replaces_id,
        reason=entry.reason,
        sent=entry.sent or {},
        rev=entry.rev or 0,
        missing_blobs=tuple(blob for blob in blobs if blob not in originals),
    )


def log_of(pour: Pour, *, system: str = units.METRIC, lots: LotsBySystem | None = None) -> PourLog:
    """The log of one pour from pour_whole(); four queries, and one where phones sent pictures."""
    return logs_of([pour], system=system, lots=lots)[pour.pk]


def logs_of(
    pours: Sequence[Pour], *, system: str = units.METRIC, lots: LotsBySystem | None = None
) -> dict[int, PourLog]:
    """Logs by pour id; four or five queries for any number of pours from pour_whole(), one less with the lots."""
    entries: defaultdict[int, list[PourEntry]] = defaultdict(list)
    for entry in PourEntry.objects.filter(pour__in=pours).select_related("author"):
        entries[entry.pour_id].append(entry)
    points: defaultdict[int, list[PlanPoint]] = defaultdict(list)
    for point in PlanPoint.objects.filter(plan__in={pour.plan_id for pour in pours}).order_by("position"):
        points[point.plan_id].append(point)
    if lots is None:
        lots = _lots({pour.plan.data_sheet.grout_system_id for pour in pours})
    originals = _originals([pour_id for pour_id, of_pour in entries.items() if any("blobs" in e.body for e in of_pour)])
    names = _witness_names(entry for of_pour in entries.values() for entry in of_pour)
    return {
        pour.pk: fold(
            basis_of(pour.plan, lots[pour.plan.data_sheet.grout_system_id]),
            points[pour.plan_id],
            [fact_of(entry, originals[pour.pk]) for entry in entries[pour.pk]],
            names=names,
            system=system,
        )
        for pour in pours
    }


def _lots(grout_system_ids: set[int]) -> defaultdict[int, list[StoredLot]]:
    lots: defaultdict[int, list[StoredLot]] = defaultdict(list)
    for lot in GroutLot.objects.filter(grout_system__in=grout_system_ids).order_by("expires_on", "pk"):
        lots[lot.grout_system_id].append(StoredLot(lot.lot_no, lot.expires_on))
    return lots


def _originals(pour_ids: Sequence[int]) -> defaultdict[int, dict[str, int]]:
    """Ids of photographs by the hash that phones know, for pours in which an entry names a picture so."""
    found: defaultdict[int, dict[str, int]] = defaultdict(dict)
    if pour_ids:
        rows = PhotoOriginal.objects.filter(pour__in=pour_ids).values_list("pour_id", "sha256", "photo_id")
        for pour_id, sha256, photo_id in rows:
            found[pour_id][sha256] = photo_id
    return found


def lots_of(pour: Pour) -> list[StoredLot]:
    """Lots of the pour's grout in the store, the one that expires first in front."""
    return _lots({pour.plan.data_sheet.grout_system_id})[pour.plan.data_sheet.grout_system_id]


def _witness_names(entries: Iterable[PourEntry]) -> dict[int, str]:
    ids = {entry.body["witness_id"] for entry in entries if "witness_id" in entry.body}
    return dict(User.objects.filter(pk__in=ids).values_list("pk", "name"))


def people_of(site_id: int) -> list[tuple[int, str]]:
    """Id and name of everyone who may record or witness at the site, by name."""
    members = Membership.objects.filter(site=site_id, user__is_active=True)
    return list(members.values_list("user_id", "user__name").distinct().order_by("user__name", "user_id"))


def open_pours(pours: QuerySet[Pour] | None = None, *, since: dt.datetime | None = None) -> QuerySet[Pour]:
    """Pours whose record is not complete, and those opened or placed since a moment; newest first."""
    rows = pour_whole() if pours is None else pours
    wanted = ~Q(state=PourState.SETTLED)
    if since:
        wanted |= Q(placed_at__gte=since) | Q(opened_at__gte=since)
    return rows.filter(wanted, voided_at=None).order_by("-opened_at", "-pk")


def unfinished_pour(plan: PourPlan) -> Pour | None:
    """The pour of this plan's machine whose record is not complete, if there is one."""
    return pour_whole().filter(plan__machine=plan.machine_id, voided_at=None).exclude(state=PourState.SETTLED).first()


def lot_numbers(pour: Pour) -> list[str]:
    """Lots of the pour's grout in the store, the plan's lot first, then the one that expires first."""
    lots = GroutLot.objects.filter(grout_system=pour.plan.data_sheet.grout_system_id).order_by("expires_on", "pk")
    numbers = list(lots.values_list("lot_no", flat=True))
    first = pour.plan.lot.lot_no if pour.plan.lot else ""
    return sorted(numbers, key=lambda number: number != first)


def may_record(user: User, site_id: int) -> set[str]:
    """Roles by which this person writes entries at the site."""
    held = Membership.objects.filter(user=user, site=site_id, role__in=ROLES_THAT_RECORD)
    return set(held.values_list("role", flat=True))
