"""What a person asked to be reminded of, duties that somebody has in hand, and the mails that were written."""

from typing import ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.equipment.models import Site
from groutjobs.outages.models import ScheduledPour


class DutyInHand(AuditedRow):
    """Somebody says that a duty of a chosen pour is begun or done. Another choice of the hour starts afresh."""

    site_path: ClassVar[str] = "scheduled_pour__plan__machine__site"

    scheduled_pour = models.ForeignKey(ScheduledPour, models.PROTECT, related_name="in_hand")
    code = models.CharField(max_length=40)
    said_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    said_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["said_at"]
        constraints = [models.UniqueConstraint(fields=["scheduled_pour", "code"], name="groutjobs_dutyinhand_once")]

    def __str__(self) -> str:
        return f"{self.code} of scheduled pour {self.scheduled_pour_id}"


class ReminderChoice(AuditedRow):
    """Whether a person wants mail about a site. Without a row: no."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="reminder_choices")
    person = models.ForeignKey(User, models.PROTECT, related_name="reminder_choices")
    by_mail = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "person"], name="groutjobs_reminderchoice_once")]

    def __str__(self) -> str:
        return f"reminders of person {self.person_id}"


class PersonalCalendar(AuditedRow):
    """A secret address at which calendar programs read what is a person's at a site. Only its hash is kept."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="personal_calendars")
    person = models.ForeignKey(User, models.PROTECT, related_name="personal_calendars")
    code_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(default=timezone.now)
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"calendar of person {self.person_id}"


class MailKind(models.TextChoices):
    DIGEST = "digest", "daily digest"
    MOVED = "moved", "something accepted moved"


class MailState(models.TextChoices):
    WAITING = "waiting", "waiting to be sent"
    SENT = "sent", "sent"
    GIVEN_UP = "given_up", "given up"
    NOTHING = "nothing", "nothing to say"


class Mail(models.Model):
    """One mail to one person: written once, sent once, kept with what went wrong. Not part of the record.

    There is one digest of a day, also where it had nothing to say; `about` is a hash of what moved.
    """

    site = models.ForeignKey(Site, models.PROTECT, related_name="mails")
    person = models.ForeignKey(User, models.PROTECT, related_name="mails")
    kind = models.CharField(max_length=8, choices=MailKind)
    about = models.CharField(max_length=64, blank=True)
    day = models.DateField("day at the site")
    subject = models.CharField(max_length=200)
    body = models.TextField()
    state = models.CharField(max_length=8, choices=MailState, default=MailState.WAITING)
    tries = models.PositiveSmallIntegerField(default=0)
    fault = models.CharField(max_length=300, blank=True)
    written_at = models.DateTimeField(default=timezone.now)
    next_try_at = models.DateTimeField(default=timezone.now)
    sent_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-written_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "site", "day"], condition=models.Q(kind="digest"), name="groutjobs_mail_digest_a_day"
            ),
            models.UniqueConstraint(
                fields=["person", "site", "about"], condition=models.Q(kind="moved"), name="groutjobs_mail_moved_once"
            ),
        ]
        indexes = [models.Index(fields=["state", "next_try_at"], name="groutjobs_mail_due")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} to person {self.person_id}"


class ReminderRound(models.Model):
    """The one row that tells when the next round of reminders waits in the queue, so that one chain of them runs."""

    queued_for = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"round of reminders at {self.queued_for}"
