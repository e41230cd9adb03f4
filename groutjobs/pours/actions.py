"""Writing the pour log. Entries are stored first and judged later: only what is malformed or foreign is refused."""

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID, uuid4

from django.db.models import Max
from django.utils import timezone

from groutjobs.accounts.models import Membership, Role, User
from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.errors import NotAllowed, Unusable
from groutjobs.planning.models import PlanState, PourPlan
from groutjobs.pours import photos
from groutjobs.pours.bodies import SOURCE, checked_body, title_of
from groutjobs.pours.calc import basis_of
from groutjobs.pours.models import EntryKind, Photo, PhotoOriginal, Pour, PourEntry
from groutjobs.pours.news import log_grew
from groutjobs.pours.queries import log_of, may_record, pour_whole, unfinished_pour

OPENERS = frozenset({Role.ENGINEER, Role.CREW_LEAD})
DECLARERS = frozenset({Role.ENGINEER, Role.CREW_LEAD})
REASON_MAX = 300


class SameIdOtherContent(NotAllowed):
    """An entry with this id is stored with other content. Both cannot be true; the stored one stays."""


@action
def open_pour(*, plan: PourPlan, by: User) -> Pour:
    """Open the pour log of an approved plan; hold points and readings can then be entered."""
    plan = (
        PourPlan.objects.select_for_update(of=("self",))
        .select_related("machine__site", "data_sheet__grout_system")
        .get(pk=plan.pk)
    )
    if not may_record(by, plan.machine.site_id) & OPENERS:
        raise NotAllowed("only an engineer or a crew lead of the site opens a pour; ask one of them")
    if plan.state != PlanState.APPROVED:
        raise NotAllowed(f"{plan} is {plan.get_state_display().lower()}; a pour is opened on the approved plan")
    unfinished = unfinished_pour(plan)
    if unfinished:
        raise NotAllowed(f"{unfinished} is not finished; complete its record before another pour is opened")
    basis_of(plan, [])
    last = Pour.objects.filter(plan__machine=plan.machine).aggregate(last=Max("number"))["last"] or 0
    pour = Pour.objects.create(plan=plan, number=last + 1, opened_by=by)
    record(pour, by=by, kind="pour.opened")
    return pour


@action
def add_entry(
    *,
    pour: Pour,
    kind: str,
    body: Mapping[str, Any],
    by: User,
    happened_at: dt.datetime | None = None,
    id: UUID | None = None,
    entered_at: dt.datetime | None = None,
    device: str = "",
    replaces: PourEntry | None = None,
    reason: str = "",
    sent: Mapping[str, Any] | None = None,
    vouched_by: User | None = None,
) -> PourEntry:
    """Store one fact; the same id again stores nothing new. Times not given are the moment of receipt.

    The row of the pour is locked, so that two requests with one id cannot both find it missing. `sent` tells how it
    came from a phone. `vouched_by` decided that the fact is entered although its author holds no role today.
    """
    whole = pour_whole().select_for_update(of=("self",)).get(pk=pour.pk)
    entry = PourEntry(
        id=id or uuid4(), pour=whole, kind=kind, body=checked_body(kind, body), author=by, device=device[:64],
        replaces=replaces, reason=reason.strip(),
    )  # fmt: skip
    stored = PourEntry.objects.filter(pk=entry.pk).first()
    if stored:
        _require_same(stored, entry, happened_at)
        unchanged()
        return stored
    if vouched_by is None:
        _require_right(whole, kind, by)
    _require_correction(whole, entry)
    _require_references(whole, entry)
    entry.received_at = timezone.now()
    entry.entered_at = entered_at or entry.received_at
    entry.happened_at = happened_at or entry.entered_at
    entry.rev = whole.entries.count() + 1
    entry.sent = {**sent, "late": whole.locked_at is not None} if sent is not None else None
    entry.save(force_insert=True)
    record(entry, by=vouched_by or by, kind="pour.entry_added", reason=entry.reason, device=entry.device)
    _renew_state(whole, by)
    pour.state, pour.poured_at, pour.placed_at = whole.state, whole.poured_at, whole.placed_at
    log_grew.send(sender=Pour, pour=whole, by=vouched_by or by, entry=entry)
    return entry


def _require_same(stored: PourEntry, entry: PourEntry, happened_at: dt.datetime | None) -> None:
    same = all(
        getattr(stored, name) == getattr(entry, name)
        for name in ("pour_id", "kind", "body", "author_id", "replaces_id", "reason")
    )
    if not same or (happened_at is not None and stored.happened_at != happened_at):
        raise SameIdOtherContent(
            f"an entry with the id {stored.pk} is already stored with other content; nothing was changed. "
            "Go back to the pour log and enter this again as a new entry"
        )


def _require_right(pour: Pour, kind: str, by: User) -> None:
    held = may_record(by, pour.plan.machine.site_id)
    if not held:
        raise NotAllowed("you have no role at this site that writes in the pour log; ask the site administrator")
    if kind == EntryKind.DECLARED_COMPLETE and not held & DECLARERS:
        raise NotAllowed("a crew lead or an engineer of the site declares the pour complete; ask one of them")
    if kind == EntryKind.RESOLVED and not held & DECLARERS:
        raise NotAllowed("a crew lead or an engineer of the site says which of two entries counts; ask one of them")


def _require_correction(pour: Pour, entry: PourEntry) -> None:
    """A correction names an entry of this pour, of its own kind unless it strikes it out, and has a reason."""
    if entry.replaces is None:
        if entry.kind == EntryKind.STRUCK:
            raise Unusable("correction", "names no entry to strike out", source=SOURCE)
        if entry.kind == EntryKind.RESOLVED:
            _require_reason(entry, "decision")
        elif entry.reason:
            raise Unusable("reason", "belongs to a correction, and this entry corrects nothing", source=SOURCE)
        return
    if entry.replaces.pour_id != pour.pk:
        raise Unusable("correction", "names an entry of another pour", source=SOURCE)
    _require_reason(entry, "correction")
    if entry.kind not in {entry.replaces.kind, EntryKind.STRUCK}:
        reason = f"{title_of(entry.kind)} cannot take the place of {title_of(entry.replaces.kind)}; strike it out"
        raise Unusable("correction", reason, source=SOURCE)


def _require_reason(entry: PourEntry, of_what: str) -> None:
    if not entry.reason or len(entry.reason) > REASON_MAX:
        reason = f"has {len(entry.reason)} characters; 1 to {REASON_MAX} are taken"
        raise Unusable(f"reason of the {of_what}", reason, source=SOURCE)


def _require_references(pour: Pour, entry: PourEntry) -> None:
    """Point, witness, leak and photos must exist and belong to this pour, its plan or its site."""
    body = entry.body
    if "point_id" in body and not pour.plan.points.filter(pk=body["point_id"]).exists():
        raise Unusable("Hold point", "is not in the plan of this pour", source=SOURCE)
    if "witness_id" in body:
        site = pour.plan.machine.site_id
        if not Membership.objects.filter(user=body["witness_id"], site=site, user__is_active=True).exists():
            raise Unusable("Witness", "is not a person of this site", source=SOURCE)
    if "leak" in body and not pour.entries.filter(pk=body["leak"], kind=EntryKind.LEAK).exists():
        raise Unusable("Leak", "is not in this pour log", source=SOURCE)
    if "keeps" in body:
        sides = {body["keeps"], *body["over"]}
        if body["keeps"] in body["over"] or pour.entries.filter(pk__in=sides).count() != len(sides):
            raise Unusable("Decision", "names an entry that is not in this pour log, or one twice", source=SOURCE)
    _require_photos(pour, body.get("photos", ()))


def _require_photos(pour: Pour, ids: Iterable[int]) -> None:
    wanted = set(ids)
    if wanted and pour.photos.filter(pk__in=wanted).count() != len(wanted):
        raise Unusable("Photo", "is not among the photographs of this pour; take it again", source=SOURCE)


def _renew_state(pour: Pour, by: User) -> None:
    log, before = log_of(pour), snapshot(pour)
    pour.state, pour.poured_at, pour.placed_at = log.state, log.poured_at, log.placed_at
    pour.save(update_fields=["state", "poured_at", "placed_at"])
    record(pour, by=by, kind="pour.state_changed", before=before)


@action
def add_photo(*, pour: Pour, content: bytes, by: User) -> Photo:
    """Keep a photograph of this pour; the same picture again gives the row that is there."""
    _require_right(pour, "", by)
    return _kept_photo(pour, content, by)


@action
def add_photo_of_phone(*, pour: Pour, content: bytes, sha256: str, by: User) -> Photo:
    """Keep the photograph that an entry of a phone names by the hash of its bytes."""
    photo = _kept_photo(pour, content, by)
    original, is_new = PhotoOriginal.objects.get_or_create(pour=pour, sha256=sha256, defaults={"photo": photo})
    if is_new:
        record(original, by=by, kind="photo.original_kept")
    return photo


def _kept_photo(pour: Pour, content: bytes, by: User) -> Photo:
    kept = photos.keep(content)
    pour = pour_whole().select_for_update(of=("self",)).get(pk=pour.pk)
    photo = pour.photos.filter(sha256=kept.sha256).first()
    if photo:
        unchanged()
        return photo
    photos.store(kept)
    photo = Photo.objects.create(
        pour=pour, sha256=kept.sha256, width_px=kept.width_px, height_px=kept.height_px,
        byte_count=len(kept.content), taken_at=kept.taken_at, added_by=by,
    )  # fmt: skip
    record(photo, by=by, kind="photo.added")
    log_grew.send(sender=Pour, pour=pour, by=by, entry=None)
    return photo
