"""Instruments of a site and their calibrations."""

import datetime as dt
from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.equipment.models import Site


class InstrumentKind(models.TextChoices):
    LEVEL = "level", "Level"
    THERMOMETER = "thermometer", "Thermometer"
    WRENCH = "wrench", "Torque wrench"
    STRETCH = "stretch", "Stretch gauge"
    HAMMER = "hammer", "Sounding hammer"
    INDICATOR = "indicator", "Dial indicator"
    FEELER = "feeler", "Feeler gauge"
    CRACK = "crack", "Crack gauge"
    LOGGER = "logger", "Data logger"
    OTHER = "other", "Other"


KINDS_WITHOUT_CALIBRATION = frozenset({InstrumentKind.HAMMER})
"""What gives no number needs no calibration. Common practice, no source."""


class Instrument(AuditedRow):
    """A tool of a site that gives readings. Retired, it stays on the sheets that name it and is chosen no more."""

    site_path: ClassVar[str] = "site"

    site = models.ForeignKey(Site, models.PROTECT, related_name="instruments")
    kind = models.CharField(max_length=12, choices=InstrumentKind)
    name = models.CharField("what it is, without a maker", max_length=60)
    serial = models.CharField("serial or inventory number", max_length=40)
    span = models.CharField("range and smallest step", max_length=60, blank=True)
    added_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    added_at = models.DateTimeField(default=timezone.now)
    retired_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    retired_at = models.DateTimeField(null=True)
    retired_because = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["kind", "name", "serial"]
        constraints = [
            models.UniqueConstraint(fields=["site", "kind", "serial"], name="groutjobs_instrument_serial_once"),
            models.CheckConstraint(
                condition=Q(retired_at__isnull=True) | (Q(retired_by__isnull=False) & ~Q(retired_because="")),
                name="groutjobs_instrument_retired_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} no. {self.serial}"

    @property
    def needs_calibration(self) -> bool:
        return self.kind not in KINDS_WITHOUT_CALIBRATION

    def calibration_on(self, day: dt.date) -> "Calibration | None":
        """The newest calibration made by that day that was not struck; reads the prefetched rows."""
        rows = [row for row in self.calibrations.all() if row.calibrated_on <= day and not hasattr(row, "replaced_by")]
        return max(rows, key=lambda row: (row.calibrated_on, row.pk), default=None)


class Calibration(AuditedRow):
    """One calibration as its certificate has it. Never changed: a wrong row is replaced by another, with a reason."""

    site_path: ClassVar[str] = "instrument__site"

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="calibrations")
    calibrated_on = models.DateField()
    due_on = models.DateField()
    certificate_no = models.CharField(max_length=60)
    by_whom = models.CharField("laboratory or person", max_length=100)
    remark = models.CharField(max_length=300, blank=True)
    replaces = models.OneToOneField("self", models.PROTECT, null=True, related_name="replaced_by")
    entered_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-calibrated_on", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(due_on__gt=F("calibrated_on")), name="groutjobs_calibration_forward"),
            models.CheckConstraint(
                condition=Q(replaces__isnull=True) | ~Q(remark=""), name="groutjobs_calibration_replaced_why"
            ),
        ]

    def __str__(self) -> str:
        return f"calibration {self.certificate_no}"
