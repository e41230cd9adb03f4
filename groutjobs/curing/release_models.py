"""Releases of milestones: the signed decision of an engineer, frozen with the evidence that it stands on."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone

from groutjobs.accounts.models import User, new_salt
from groutjobs.audit.models import AuditedRow
from groutjobs.pours.models import Pour


class MilestoneRelease(AuditedRow):
    """One milestone of one pour released. Never changed; it ends only by a withdrawal with a reason."""

    site_path: ClassVar[str] = "pour__plan__machine__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("printed_name", "salt")

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="releases")
    milestone = models.CharField(max_length=20)
    label = models.CharField(max_length=60)
    sentence = models.CharField("the sentence that was signed", max_length=300)
    evidence_text = models.TextField("what the decision stands on, canonical JSON")
    evidence_sha256 = models.CharField(max_length=64)
    is_against = models.BooleanField("released although the evidence does not carry it", default=False)
    reason = models.CharField(max_length=500, blank=True)
    released_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    printed_name = models.CharField(max_length=100)
    released_at = models.DateTimeField(default=timezone.now)
    salt = models.CharField(max_length=32, default=new_salt, editable=False)

    class Meta:
        ordering = ["released_at", "pk"]
        indexes = [models.Index(fields=["pour", "milestone"], name="groutjobs_release_pour")]
        constraints = [
            models.CheckConstraint(
                condition=Q(is_against=False) | ~Q(reason=""), name="groutjobs_release_against_has_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"release: {self.label}"


class ReleaseWithdrawal(AuditedRow):
    """A release taken back. Both stay on record."""

    site_path: ClassVar[str] = "release__pour__plan__machine__site"

    release = models.OneToOneField(MilestoneRelease, models.PROTECT, related_name="withdrawal")
    reason = models.CharField(max_length=500)
    withdrawn_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="groutjobs_releasewithdrawal_reason")]

    def __str__(self) -> str:
        return f"withdrawal of {self.release}"
