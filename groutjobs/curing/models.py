"""Cure readings and cure inspections."""

from typing import Any, ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.errors import NotAllowed
from groutjobs.instruments.models import Instrument
from groutjobs.pours.models import Pour


class Probe(models.TextChoices):
    GROUT = "grout", "Grout"
    CONCRETE = "concrete", "Concrete"
    PLATE = "plate", "Plate"
    AIR = "air", "Air"


class ReadingImport(AuditedRow):
    """One file of readings, or one reading typed by hand: who brought it, when, and the hash of the file.

    It may be set aside with a reason; its readings then no longer drive the clock, and stay.
    """

    site_path: ClassVar[str] = "pour__plan__machine__site"

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="reading_imports")
    file_name = models.CharField(max_length=120, blank=True)
    file_sha256 = models.CharField(max_length=64, blank=True)
    row_count = models.PositiveIntegerField("readings in it", default=0)
    new_count = models.PositiveIntegerField("readings that were not on record yet", default=0)
    brought_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    brought_at = models.DateTimeField(default=timezone.now)
    set_aside_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    set_aside_at = models.DateTimeField(null=True)
    set_aside_why = models.CharField(max_length=300, blank=True)
    logger_name = models.CharField("logger that sent it, or whose file it is", max_length=130, blank=True)
    logger_id = models.BigIntegerField("number of that logger", null=True)
    read_with = models.ForeignKey(Instrument, models.PROTECT, null=True, related_name="reading_imports")

    class Meta:
        ordering = ["-brought_at", "-pk"]

    def __str__(self) -> str:
        return self.file_name or (f"sent by {self.logger_name}" if self.logger_name else "reading by hand")


class Readings(models.QuerySet["CureReading"]):
    def in_use(self) -> "Readings":
        """Those that were not set aside."""
        return self.filter(set_aside=False)


class CureReading(models.Model):
    """A temperature at a moment. Many: filed under their import, which the record holds with its hash."""

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="readings", db_index=False)
    brought_in = models.ForeignKey(ReadingImport, models.PROTECT, related_name="readings")
    probe = models.CharField(max_length=10, choices=Probe)
    read_at = models.DateTimeField()
    temp_c = models.FloatField()
    typed = models.CharField("as entered, with unit", max_length=30, blank=True)
    set_aside = models.BooleanField(default=False)
    aside_id = models.BigIntegerField("number of the span that it was set aside with", null=True)

    objects = Readings.as_manager()

    class Meta:
        ordering = ["read_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["pour", "probe", "read_at"],
                condition=models.Q(set_aside=False),
                name="groutjobs_curereading_once",
            ),
        ]
        # The cure page reads one pour out of millions of readings: from the first index alone, without the rows.
        indexes = [
            models.Index(
                fields=["pour", "probe", "read_at", "temp_c"],
                condition=models.Q(set_aside=False),
                name="groutjobs_curereading_in_use",
            ),
            models.Index(fields=["pour", "read_at"], name="groutjobs_curereading_pour"),
        ]

    def __str__(self) -> str:
        return f"{self.probe} {self.temp_c:g} °C"


class InspectionKind(models.TextChoices):
    LEVEL = "level", "Level survey"
    SOUNDING = "sounding", "Sounding"
    BOLTS = "bolts", "Bolt tightening"
    JACKSCREWS = "jackscrews", "Jackscrews out and plugged"
    JOINTS = "joints", "Joints and edges"
    SOFT_FOOT = "soft_foot", "Soft foot"
    HANDOVER = "handover", "Hand-over to alignment"


KINDS_ALWAYS_MADE = frozenset({InspectionKind.LEVEL, InspectionKind.SOUNDING, InspectionKind.BOLTS})
"""Without these nothing is turned over; the others are made where the job has them."""


class Verdict(models.TextChoices):
    ACCEPTED = "accepted", "Accepted"
    REFUSED = "refused", "Not accepted"
    OPEN = "open", "Not judged yet"


class Course(models.TextChoices):
    """What becomes of the hollow places of a sounding; the engineer decides."""

    LEAVE = "leave", "Leave as it is"
    INJECT = "inject", "Inject resin and sound again"
    REDO = "redo", "Remove and grout again"


class CureInspection(AuditedRow):
    """One inspection of the set plate or the cured grout: rows as entered, result as computed, verdict by a person.

    Never changed. A later one of the same kind replaces it, with the reason in its remarks; so each kind of a pour is
    one chain, and its last link is the one that counts.
    """

    site_path: ClassVar[str] = "pour__plan__machine__site"

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="inspections")
    kind = models.CharField(max_length=10, choices=InspectionKind)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    instrument = models.CharField("instrument and serial number", max_length=80)
    calibration_due_on = models.DateField()
    inputs = models.JSONField("rows as entered, and limits with their source", default=dict)
    result = models.JSONField("what was computed, with engine version and sources", default=dict)
    verdict = models.CharField(max_length=10, choices=Verdict)
    remarks = models.TextField(blank=True)
    replaces = models.OneToOneField("self", models.PROTECT, null=True, related_name="replaced_by")
    entered_at = models.DateTimeField(default=timezone.now)
    op_id = models.UUIDField("the phone's own id of it", null=True)
    sent = models.JSONField("how it came from a phone: which one, its clock, the proof of its author", null=True)
    # A column that may be empty: a table that is made anew on SQLite loses its triggers.
    made_with = models.ForeignKey(Instrument, models.PROTECT, null=True, related_name="inspections")

    class Meta:
        ordering = ["made_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["pour", "kind"],
                condition=models.Q(replaces__isnull=True),
                name="groutjobs_cureinspection_one_chain",
            ),
            models.CheckConstraint(
                condition=models.Q(replaces__isnull=True) | ~models.Q(remarks=""),
                name="groutjobs_cureinspection_reason",
            ),
            models.UniqueConstraint(
                fields=["op_id"],
                condition=models.Q(op_id__isnull=False),
                name="groutjobs_cureinspection_op_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.pour.plan.machine.tag}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise NotAllowed("an inspection is never changed; record a new one that replaces it, with a reason")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise NotAllowed("an inspection is never deleted; record a new one that replaces it, with a reason")

    @property
    def last_decision(self) -> "InspectionDecision | None":
        """The decision that counts, from the prefetched ones where they are."""
        return max(self.decisions.all(), key=lambda one: one.pk, default=None)

    @property
    def is_calibrated_kind(self) -> bool:
        """Whether a due date of calibration says anything: sheets filled in by eye carry the day they were made."""
        if self.made_with is not None and not self.made_with.needs_calibration:
            return False
        return self.kind not in {InspectionKind.JACKSCREWS, InspectionKind.HANDOVER}

    @property
    def standing_verdict(self) -> Verdict:
        """The verdict as it stands today: that of the last decision, else the one that came with it."""
        last = self.last_decision
        return Verdict(last.verdict if last else self.verdict)

    @property
    def photo_hashes(self) -> list[str]:
        """Pictures of a phone that it names, by the hash of their bytes."""
        named: list[str] = self.inputs.get("blobs", [])
        return named


class InspectionDecision(AuditedRow):
    """What a person decided about an inspection after it was made: one that came from a phone has no verdict yet, and
    what becomes of hollow places is for the engineer. Never changed; the last one counts."""

    site_path: ClassVar[str] = "inspection__pour__plan__machine__site"

    inspection = models.ForeignKey(CureInspection, models.PROTECT, related_name="decisions")
    verdict = models.CharField(max_length=10, choices=Verdict)
    course = models.CharField("what becomes of hollow places", max_length=10, choices=Course, blank=True)
    grounds = models.TextField()
    plan = models.JSONField("holes and resin of an injection, with what they were worked out from", default=dict)
    by = models.ForeignKey(User, models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(grounds=""), name="groutjobs_inspectiondecision_grounds"),
        ]

    def __str__(self) -> str:
        return f"decision on {self.inspection}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise NotAllowed("a decision is never changed; a later one takes its place")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise NotAllowed("a decision is never deleted; a later one takes its place")
