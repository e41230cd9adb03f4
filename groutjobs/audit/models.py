"""The append-only record: one row for each change, chained by hash, written in the transaction of the change."""

from typing import Any, ClassVar

from django.db import models
from django.utils import timezone


class AuditedRow(models.Model):
    """A row that belongs to a site and whose changes are recorded.

    `site_path` is the lookup from this model to its site; the access door filters by it and the record files
    each event under that site. `personal_fields` enter the record as salted commitments only, so that a name
    can be erased by law without breaking the chain.
    """

    site_path: ClassVar[str] = "site"
    personal_fields: ClassVar[tuple[str, ...]] = ()

    class Meta:
        abstract = True

    def owning_site_id(self) -> int | None:
        row: Any = self
        *parents, last = self.site_path.split("__")
        for name in parents:
            row = getattr(row, name)
        return int(getattr(row, f"{last}_id")) if last != "self" else int(row.pk)


class MeasuredRow(models.Model):
    """A row with quantities. Columns hold SI values; `as_entered` holds the text and unit that were typed."""

    as_entered = models.JSONField(default=dict, blank=True, editable=False)

    class Meta:
        abstract = True


class Event(models.Model):
    """One recorded change. Never updated, never deleted: triggers of the database refuse both."""

    seq = models.BigIntegerField(primary_key=True)
    prev_hash = models.CharField(max_length=64)
    event_hash = models.CharField(max_length=64, unique=True)
    at = models.DateTimeField()
    actor_id = models.BigIntegerField(null=True)
    device = models.CharField(max_length=64, blank=True)
    kind = models.CharField(max_length=60)
    object_kind = models.CharField(max_length=40)
    object_id = models.CharField(max_length=64)
    object_label = models.CharField(max_length=200)
    site_id = models.BigIntegerField(null=True)
    reason = models.TextField(blank=True)
    body = models.TextField()

    class Meta:
        ordering = ["seq"]
        indexes = [
            models.Index(fields=["site_id", "-seq"], name="groutjobs_event_site"),
            models.Index(fields=["object_kind", "object_id", "seq"], name="groutjobs_event_object"),
        ]

    def __str__(self) -> str:
        return f"{self.seq} {self.kind}"


class Head(models.Model):
    """The end of the chain. One row, locked for each append, so that the chain has one order."""

    seq = models.BigIntegerField()
    event_hash = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"head at {self.seq}"


class RecordKey(AuditedRow):
    """A key that signs anchors, its public half alone. The last row is the key in use; the first names the log."""

    site_path: ClassVar[str] = ""

    fingerprint = models.CharField("SHA-256 of the public key", max_length=64, unique=True)
    public_key = models.CharField("Ed25519 public key, as hex", max_length=64)
    reason = models.CharField("why it took the place of the key before", max_length=300, blank=True)
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"key {self.fingerprint[:16]}"

    def owning_site_id(self) -> int | None:
        return None


class TreeNode(models.Model):
    """The hash of a whole stretch of the tree: 2^height events, the index-th stretch of that height."""

    height = models.PositiveSmallIntegerField()
    index = models.BigIntegerField()
    node_hash = models.CharField(max_length=64)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["height", "index"], name="groutjobs_treenode_once")]

    def __str__(self) -> str:
        return f"node {self.height}/{self.index}"


class Anchor(models.Model):
    """A signed word on how long the record was and what its tree came to. Printed, mailed, kept by others."""

    log_id = models.CharField(max_length=64)
    epoch = models.UUIDField()
    tree_size = models.BigIntegerField()
    root = models.CharField(max_length=64)
    at = models.DateTimeField()
    key = models.ForeignKey(RecordKey, models.PROTECT, related_name="anchors")
    signature = models.CharField("Ed25519, as hex", max_length=128)
    occasion = models.CharField("why it was made", max_length=60, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.tree_size} {self.root[:20]}"
