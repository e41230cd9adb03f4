"""Loggers of a site: how their files and channels are to be read, where they stand, and the keys they send with."""

from typing import ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.equipment.models import Site
from groutjobs.pours.models import Pour

CHANNEL_PROBES = ("grout", "concrete", "plate", "air")


class Logger(AuditedRow):
    """A data logger of a site with the reading of its files, remembered from one file to the next.

    `columns` names, in the order of the file, what each column is: {"name", "probe", "unit"}, the unit "c" or "f".
    Columns that are not named are left out. The same names are the channels of what it sends.
    """

    site_path: ClassVar[str] = "site"

    site = models.ForeignKey(Site, models.PROTECT, related_name="loggers")
    name = models.CharField(max_length=60)
    serial = models.CharField("serial number", max_length=60, blank=True)
    time_column = models.CharField("name of the column with the time", max_length=60)
    date_column = models.CharField("name of the column with the day, where apart", max_length=60, blank=True)
    time_format = models.CharField("how its times are written", max_length=40)
    clock = models.CharField("how its clock runs", max_length=20)
    columns = models.JSONField(default=list)
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    retired_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="groutjobs_logger_name")]

    def __str__(self) -> str:
        return f"{self.name} ({self.serial})" if self.serial else self.name

    def channel(self, name: str) -> dict[str, str] | None:
        """What a column or channel is; None where it is not known."""
        return next((row for row in self.columns if row["name"].casefold() == name.strip().casefold()), None)


class LoggerStand(AuditedRow):
    """From when to when a logger stood at a pour; what it sends goes to the pour at which it stood then."""

    site_path: ClassVar[str] = "logger__site"

    logger = models.ForeignKey(Logger, models.PROTECT, related_name="stands")
    pour = models.ForeignKey(Pour, models.PROTECT, related_name="logger_stands")
    from_at = models.DateTimeField()
    until_at = models.DateTimeField(null=True)
    set_by = models.ForeignKey(User, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-from_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["logger"], condition=models.Q(until_at=None), name="groutjobs_loggerstand_one_place"
            ),
            models.CheckConstraint(
                condition=models.Q(until_at=None) | models.Q(until_at__gte=models.F("from_at")),
                name="groutjobs_loggerstand_forward",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.logger.name} at {self.pour}"


class LoggerKey(AuditedRow):
    """A key with which a logger sends readings. Shown once when made; only its hash is kept."""

    site_path: ClassVar[str] = "logger__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("key_hash",)

    logger = models.ForeignKey(Logger, models.PROTECT, related_name="keys")
    key_hash = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    revoked_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return f"key of {self.logger.name} made {self.made_at:%Y-%m-%d %H:%M}"


class LoggerBatch(AuditedRow):
    """What one call of a logger brought, and the answer it got: the same call again gets the same answer."""

    site_path: ClassVar[str] = "logger__site"

    logger = models.ForeignKey(Logger, models.PROTECT, related_name="batches")
    key = models.ForeignKey(LoggerKey, models.PROTECT, related_name="+")
    batch_id = models.CharField("id given by the logger", max_length=64)
    body_sha256 = models.CharField(max_length=64)
    answer = models.JSONField(default=dict)
    stored_count = models.PositiveIntegerField(default=0)
    refused_count = models.PositiveIntegerField(default=0)
    received_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-received_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["logger", "batch_id"], name="groutjobs_loggerbatch_once"),
        ]

    def __str__(self) -> str:
        return f"{self.batch_id} of {self.logger.name}"


class CallCount(models.Model):
    """How many calls about one thing fell into one stretch of time; counted for all processes together."""

    about = models.CharField(max_length=64)
    begins_at = models.DateTimeField()
    count = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["about", "begins_at"], name="groutjobs_callcount_once")]
        indexes = [models.Index(fields=["begins_at"], name="groutjobs_callcount_begins")]

    def __str__(self) -> str:
        return f"{self.count} calls"
