"""The pour record: an append-only set of entries. State is derived from entries; a correction is another entry."""

import uuid
from typing import Any, ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.errors import NotAllowed
from groutjobs.planning.models import PourPlan


class PourState(models.TextChoices):
    """How far a pour is, derived from its entries by pours/fold.py and kept beside them for lists."""

    PREPARED = "prepared", "In preparation"
    RELEASED = "released", "Released to pour"
    POURED = "poured", "Pouring"
    PLACED = "placed", "Placed, curing"
    SETTLED = "settled", "Record complete"


STATES_OPEN_FOR_ENTRIES = frozenset({PourState.PREPARED, PourState.RELEASED, PourState.POURED, PourState.PLACED})
STATES_OPEN_FOR_READINGS = frozenset({PourState.POURED, PourState.PLACED, PourState.SETTLED})


class Pour(AuditedRow):
    """One pour of one approved plan."""

    site_path: ClassVar[str] = "plan__machine__site"

    plan = models.ForeignKey(PourPlan, models.PROTECT, related_name="pours")
    number = models.PositiveIntegerField(default=1)
    state = models.CharField(max_length=10, choices=PourState, default=PourState.PREPARED)
    poured_at = models.DateTimeField("first grout placed", null=True)
    placed_at = models.DateTimeField("last grout placed", null=True)
    opened_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now)
    locked_at = models.DateTimeField("since when a report holds this record", null=True)
    voided_at = models.DateTimeField("since when two people declared the record void", null=True)

    class Meta:
        ordering = ["-opened_at"]
        constraints = [models.UniqueConstraint(fields=["plan", "number"], name="groutjobs_pour_number_once")]

    def __str__(self) -> str:
        return f"{self.plan.machine.tag} pour {self.number}"


class EntryKind(models.TextChoices):
    POINT_ANSWER = "point_answer", "Hold point answered"
    READING = "reading", "Reading"
    LIQUIDS_STARTED = "liquids_started", "Resin and hardener started"
    AGGREGATE_IN = "aggregate_in", "Aggregate in"
    WETTED_OUT = "wetted_out", "Wetted out"
    PLACED = "placed", "Batch placed"
    DISCARDED = "discarded", "Batch discarded"
    COMPARTMENT_FULL = "compartment_full", "Compartment full, vent bleeding"
    LEAK = "leak", "Leak"
    LEAK_CLOSED = "leak_closed", "Leak closed"
    STOPPED = "stopped", "Work stopped"
    RESUMED = "resumed", "Work resumed"
    SAMPLE = "sample", "Sample cast"
    NOTE = "note", "Note"
    DECLARED_COMPLETE = "declared_complete", "Pour declared complete"
    STRUCK = "struck", "Entry struck out"
    RESOLVED = "resolved", "Conflict settled"


class PourEntry(AuditedRow):
    """One fact. Its id is made where it is typed, so that sending it twice stores it once. Never changed."""

    site_path: ClassVar[str] = "pour__plan__machine__site"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    pour = models.ForeignKey(Pour, models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=20, choices=EntryKind)
    body = models.JSONField("values in SI, and as typed", default=dict)
    happened_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    received_at = models.DateTimeField(default=timezone.now)
    author = models.ForeignKey(User, models.PROTECT, related_name="+")
    device = models.CharField(max_length=64, blank=True)
    # Not one-to-one: two phones without signal may both correct one entry. Both corrections are kept and shown.
    replaces = models.ForeignKey("self", models.PROTECT, null=True, related_name="replacements")
    reason = models.CharField(max_length=300, blank=True)
    # Columns that may be empty: a table that is made anew on SQLite loses its triggers.
    rev = models.PositiveIntegerField("number within the pour, in the order of receipt", null=True)
    sent = models.JSONField("how it came from a phone", null=True)

    class Meta:
        ordering = ["happened_at", "entered_at", "id"]
        indexes = [models.Index(fields=["pour", "happened_at"], name="groutjobs_pourentry_in_order")]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(replaces__isnull=True) | ~models.Q(reason=""),
                name="groutjobs_pourentry_correction_has_reason",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind="struck") | models.Q(replaces__isnull=False),
                name="groutjobs_pourentry_struck_names_entry",
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise NotAllowed("an entry is never changed; enter a correction that replaces it, with a reason")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise NotAllowed("an entry is never deleted; enter a correction that replaces it, with a reason")


class Photo(AuditedRow):
    """A photograph by the hash of its bytes. The stored copy is re-encoded: no place, no hidden content."""

    site_path: ClassVar[str] = "pour__plan__machine__site"

    sha256 = models.CharField(max_length=64)
    pour = models.ForeignKey(Pour, models.PROTECT, related_name="photos")
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    byte_count = models.PositiveIntegerField()
    taken_at = models.DateTimeField(null=True)
    added_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    added_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["pour", "sha256"], name="groutjobs_photo_once")]

    def __str__(self) -> str:
        return f"photo {self.sha256[:12]}"


class PhotoOriginal(AuditedRow):
    """The bytes that a phone sent for a photograph, by their hash; an entry of a phone names its pictures so."""

    site_path: ClassVar[str] = "pour__plan__machine__site"

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="photo_originals")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="originals")
    sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["pour", "sha256"], name="groutjobs_photooriginal_once")]

    def __str__(self) -> str:
        return f"original {self.sha256[:12]}"
