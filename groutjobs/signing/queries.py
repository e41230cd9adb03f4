"""Reads of pour records: what is signed, what stands in the way, what came late."""

import datetime as dt
import hashlib
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef

from groutjobs import units
from groutjobs.accounts.models import Membership, Role, User
from groutjobs.audit.anchors import anchor_words
from groutjobs.audit.chain import canonical, plain
from groutjobs.findings import Finding, Level
from groutjobs.pours.models import EntryKind, Photo, Pour, PourEntry
from groutjobs.pours.photos import path_of
from groutjobs.pours.queries import log_of
from groutjobs.signing.models import LateDecision, PourRecord, RecordSignature, RecordState
from groutjobs.signing.rules import Signer
from groutjobs.sync.models import PhoneOp
from groutjobs.sync.queries import phones_of, waiting_ops

SOURCE = "GROUTJOBS"


def record_of(pour: Pour) -> PourRecord | None:
    return PourRecord.objects.select_related("anchor", "void_asked_by", "voided_by").filter(pour=pour).first()


def state_of(pour: Pour) -> RecordState:
    """Where the record of a pour stands; it is being written until somebody declares it complete."""
    found = PourRecord.objects.filter(pour=pour).values_list("state", flat=True).first()
    return RecordState(found) if found else RecordState.OPEN


def content_sha256(pour: Pour, last_rev: int, ready_at: dt.datetime) -> str:
    """The hash of what is signed: every entry up to this one, every photograph that was there, and the plan."""
    entries = PourEntry.objects.filter(pour=pour, rev__lte=last_rev).order_by("rev")
    photos = Photo.objects.filter(pour=pour, added_at__lte=ready_at)
    content = {
        "pour": pour.pk,
        "plan": pour.plan_id,
        "plan_revision": pour.plan.revision,
        "entries": [_entry(entry) for entry in entries],
        "photos": sorted(photos.values_list("sha256", flat=True)),
    }
    return hashlib.sha256(canonical(plain(content)).encode()).hexdigest()


def _entry(entry: PourEntry) -> dict[str, Any]:
    return {field.attname: plain(getattr(entry, field.attname)) for field in entry._meta.concrete_fields}


def last_rev(pour: Pour) -> int:
    found = PourEntry.objects.filter(pour=pour).order_by("-rev").values_list("rev", flat=True).first()
    return found or 0


def in_the_way(pour: Pour, *, system: str = units.METRIC) -> tuple[list[Finding], list[Finding]]:
    """What keeps the record from being ready: what no reason helps, and what goes ahead with a reason."""
    log = log_of(pour, system=system)
    hard = [*_not_in(pour), *_lost(pour)]
    if log.declared_at is None:
        hard.insert(
            0, _finding("declared", "The pour is not declared complete.", "The crew lead does it on the phone.")
        )
    if log.missing_blobs:
        words = f"{len(log.missing_blobs)} pictures that entries name have not come, or cannot be read."
        hard.append(_finding("pictures", words, "Open the app on the phone where there is signal."))
    lacks = [item for item in log.what_stands_in_the_way if item.code != "complete.not_declared"]
    hard += [item for item in lacks if item.code.startswith("entry.conflict")]
    soft = [_coded(item, number) for number, item in enumerate(lacks) if not item.code.startswith("entry.conflict")]
    return hard, soft


def _coded(item: Finding, number: int) -> Finding:
    return Finding(
        level=item.level, code=f"missing_{number}", message=item.message, about=item.about, hint=item.hint,
        source=item.source,
    )  # fmt: skip


def _not_in(pour: Pour) -> list[Finding]:
    found = [
        _finding(
            f"phone_{number}",
            f"{phone.device.name} still holds at least {phone.at_least} entries that it has not sent.",
            "Open the app on it where there is signal. If it is lost, say so under Phones, with a reason.",
        )
        for number, phone in enumerate(phones_of(pour), 1)
    ]
    waiting = waiting_ops(PhoneOp.objects.filter(pour=pour)).count()
    if waiting:
        words = f"{waiting} entries came from phones and wait for a decision or for another entry."
        found.append(_finding("waiting", words, "Decide about each under Phones, with a reason."))
    return found


def _lost(pour: Pour) -> list[Finding]:
    lost = [photo for photo in Photo.objects.filter(pour=pour) if not path_of(photo.sha256).exists()]
    words = f"{len(lost)} photographs of this pour are not in the store."
    return [_finding("photos_lost", words, "The site administrator restores them from the backup.")] if lost else []


def _finding(code: str, message: str, hint: str) -> Finding:
    return Finding(level=Level.BLOCKER, code=f"record.{code}", message=message, hint=hint, source=SOURCE)


def grades_of(pour: Pour) -> dict[str, int]:
    """How many entries of phones have a time of which grade; listed before anybody signs."""
    found: dict[str, int] = {}
    for sent in PourEntry.objects.filter(pour=pour, sent__isnull=False).values_list("sent", flat=True):
        grade = str((sent or {}).get("grade", ""))
        found[grade] = found.get(grade, 0) + 1
    return dict(sorted(found.items()))


def recorders_of(pour: Pour) -> set[int]:
    """Who made an entry or added a photograph; none of them reviews."""
    authors = PourEntry.objects.filter(pour=pour).order_by().values_list("author_id", flat=True).distinct()
    return {*authors, *Photo.objects.filter(pour=pour).order_by().values_list("added_by_id", flat=True).distinct()}


def signer_for(person: User, pour: Pour) -> Signer:
    """The person as the rules of the pour record see him or her."""
    return signer_of(person, pour, recorders_of(pour))


def signer_of(person: User, pour: Pour, recorders: Collection[int]) -> Signer:
    """The person with the roles at the site of the pour, and whether among its recorders."""
    roles = Membership.objects.filter(user=person, site=pour.plan.machine.site_id).values_list("role", flat=True)
    return Signer(
        person_id=person.pk,
        roles=frozenset(Role(role) for role in roles),
        has_recorded=person.pk in recorders,
    )


def names_of(record: PourRecord) -> list[RecordSignature]:
    """Every name under the record or an addendum, void ones too, in the order of signing."""
    return list(record.signatures.select_related("signer", "void__by", "addendum"))


def reviewers_of(pour: Pour) -> set[int]:
    """Who reviewed the record that is locked; the approver of the report is somebody else."""
    found = RecordSignature.objects.filter(record__pour=pour, meaning="reviewed", void=None)
    return set(found.values_list("signer_id", flat=True))


def record_json(pour: Pour) -> dict[str, Any]:
    """State, names and addenda of the record for the manifest of a report; void names too."""
    row = record_of(pour)
    if row is None:
        return {"state": RecordState.OPEN.value, "names": [], "addenda": []}
    return {
        "state": row.state,
        "state_words": row.get_state_display(),
        "content_sha256": row.content_sha256,
        "last_rev": row.last_rev,
        "locked_at": row.locked_at.astimezone(dt.UTC).isoformat(timespec="seconds") if row.locked_at else None,
        "anchor": anchor_words(row.anchor) if row.anchor else "",
        "explained": row.explained,
        "names": [_name_json(one) for one in names_of(row)],
        "addenda": [
            {"number": one.number, "wrong": one.wrong, "right": one.right, "evidence": one.evidence,
             "reason": one.reason, "content_sha256": one.content_sha256}
            for one in row.addenda.all()
        ],
    }  # fmt: skip


def _name_json(name: RecordSignature) -> dict[str, Any]:
    void = getattr(name, "void", None)
    return {
        "meaning": name.get_meaning_display(),
        "sentence": name.sentence,
        "name": name.printed_name,
        "signed_at": name.signed_at.astimezone(dt.UTC).isoformat(timespec="seconds"),
        "addendum": name.addendum.number if name.addendum else None,
        "content_sha256": name.content_sha256,
        "void": void.reason if void else "",
    }


@dataclass(frozen=True)
class Late:
    """An entry that came after the lock, and what was decided about it."""

    entry: PourEntry
    decision: LateDecision | None


def late_entries(record: PourRecord) -> list[Late]:
    """Entries behind the last one that was signed, where the record is locked."""
    if record.state != RecordState.LOCKED:
        return []
    entries = list(
        PourEntry.objects.filter(pour=record.pour_id, rev__gt=record.last_rev).select_related("author").order_by("rev")
    )
    decided = {one.entry_id: one for one in record.late_decisions.select_related("by", "addendum")}
    return [Late(entry, decided.get(entry.pk)) for entry in entries]


def undecided(record: PourRecord) -> list[PourEntry]:
    if record.state != RecordState.LOCKED:
        return []
    entries = PourEntry.objects.filter(pour=record.pour_id, rev__gt=record.last_rev, late_decision=None)
    return list(entries.order_by("rev"))


def is_declared(pour: Pour) -> bool:
    """Whether a declaration stands that no later entry struck out or replaced by striking."""
    declared = PourEntry.objects.filter(pour=pour, kind=EntryKind.DECLARED_COMPLETE)
    struck = PourEntry.objects.filter(replaces=OuterRef("pk"))
    return declared.filter(~Exists(struck)).exists()
