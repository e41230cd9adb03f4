"""Anchors: signed words on how long the record is and what its tree comes to, made after each signature and daily.

Hashes of whole stretches of 64 events and more are kept, so that an anchor reads what is new and some tens of rows,
however long the record has grown. Anchors and nodes stand over the record and are no events in it.
"""

import datetime as dt
from collections.abc import Iterator, Sequence
from uuid import UUID

from django.apps import apps
from django.db import transaction
from django.utils import timezone
from django_tasks import TaskResultStatus, task, task_backends
from django_tasks_db.models import DBTaskResult

from groutjobs.audit.chain import canonical
from groutjobs.audit.keys import signing_key
from groutjobs.audit.models import Anchor, Event, Head, RecordKey, TreeNode
from groutjobs.audit.tree import Stretch, consistency_proof, inclusion_proof, leaf_hash, node_hash, root_of, split_of

BLOCK = 64
HEIGHT = 6
"""2^6 events to a block; lower hashes are made anew from the events when they are asked for."""
CHUNK = 256
SHORT = 20
DAILY = dt.timedelta(hours=24)
PREFIX = b"groutjobs anchor 1\n"


def latest_anchor() -> Anchor | None:
    """The last anchor there is; a report prints it."""
    return Anchor.objects.select_related("key").last()


def anchor_words(anchor: Anchor) -> str:
    """The short form for paper: the size of the tree and the first 20 characters of its root."""
    return f"{anchor.tree_size} {anchor.root[:SHORT]}"


def make_anchor(*, occasion: str = "", older_than: dt.timedelta | None = None) -> Anchor:
    """Anchor the record as it stands, events of the transaction under way included.

    The head is locked, so that anchors and events have one order. With `older_than` the last anchor stands while it
    is younger. An anchor of an unchanged record is worth having too: it shows that the record was still kept.
    """
    with transaction.atomic():
        private, key = signing_key()
        head = Head.objects.select_for_update().get(pk=1)
        last, now = latest_anchor(), timezone.now()
        if last is not None and older_than is not None and now - last.at < older_than:
            return last
        _keep_nodes(head.seq)
        anchor = Anchor(
            log_id=log_id(),
            epoch=_epoch(),
            tree_size=head.seq,
            root=root_of(record_stretch(), head.seq).hex(),
            at=now,
            key=key,
            occasion=occasion[:60],
        )
        anchor.signature = private.sign(signed_text(anchor)).hex()
        anchor.save(force_insert=True)
        transaction.on_commit(queue_daily)
        return anchor


@task()
def anchor_daily() -> str:
    """Anchor the record once a day, also where nobody signs; repeating it adds nothing."""
    try:
        return anchor_words(make_anchor(occasion="daily", older_than=DAILY))
    finally:
        queue_daily()


def queue_daily() -> None:
    """Leave the next daily anchor in the queue, unless one waits there."""
    if not task_backends["default"].supports_defer:
        return
    waits = DBTaskResult.objects.filter(task_path=anchor_daily.module_path, status=TaskResultStatus.READY)
    if not waits.exists():
        anchor_daily.using(run_after=timezone.now() + DAILY).enqueue()


def signed_text(anchor: Anchor) -> bytes:
    """The bytes that the signature covers."""
    return PREFIX + canonical(facts_of(anchor)).encode()


def facts_of(anchor: Anchor) -> dict[str, str]:
    """What an anchor says, as text; sizes are decimal."""
    return {
        "at": anchor.at.astimezone(dt.UTC).isoformat(timespec="microseconds"),
        "epoch": str(anchor.epoch),
        "key": anchor.key.fingerprint,
        "log": anchor.log_id,
        "root": anchor.root,
        "size": str(anchor.tree_size),
    }


def anchor_lines() -> Iterator[str]:
    """The file of anchors: the public keys, then every anchor, one to a line."""
    for key in RecordKey.objects.all():
        yield canonical({"key": {"fingerprint": key.fingerprint, "public": key.public_key, "from": _utc(key.made_at)}})
    for anchor in Anchor.objects.select_related("key").iterator(chunk_size=2000):
        yield canonical({"anchor": facts_of(anchor), "signature": anchor.signature})


def _utc(moment: dt.datetime) -> str:
    return moment.astimezone(dt.UTC).isoformat(timespec="seconds")


def log_id() -> str:
    """The name of this record among all records: the fingerprint of its first key."""
    return RecordKey.objects.values_list("fingerprint", flat=True)[0]


def _epoch() -> UUID:
    """Which life of the database this is. The mark belongs to a stage above, so it is asked by its name."""
    mark = apps.get_model("groutjobs", "ServerMark")._default_manager.latest("pk")
    epoch: UUID = mark.epoch
    return epoch


def proof_of(seq: int, anchor: Anchor) -> list[str]:
    """The hashes that show that the event of this number is under the anchor."""
    return [one.hex() for one in inclusion_proof(record_stretch(), seq - 1, anchor.tree_size)]


def growth_of(old: Anchor, new: Anchor) -> list[str]:
    """The hashes that show that the record under the new anchor begins with the record under the old one."""
    return [one.hex() for one in consistency_proof(record_stretch(), old.tree_size, new.tree_size)]


def record_stretch() -> Stretch:
    """Hashes of stretches of the record: kept ones where they are whole, else from the events."""

    def stretch(low: int, high: int) -> bytes:
        width = high - low
        if width >= BLOCK and width & (width - 1) == 0:
            kept = TreeNode.objects.filter(height=width.bit_length() - 1, index=low // width).first()
            if kept is not None:
                return bytes.fromhex(kept.node_hash)
        if width <= BLOCK:
            return _folded(_leaves(low, high))
        middle = low + split_of(width)
        return node_hash(stretch(low, middle), stretch(middle, high))

    return stretch


def _leaves(low: int, high: int) -> list[bytes]:
    found = Event.objects.filter(seq__gt=low, seq__lte=high).order_by("seq").values_list("event_hash", flat=True)
    return [leaf_hash(bytes.fromhex(one)) for one in found]


def _folded(leaves: Sequence[bytes]) -> bytes:
    if len(leaves) == 1:
        return leaves[0]
    middle = split_of(len(leaves))
    return node_hash(_folded(leaves[:middle]), _folded(leaves[middle:]))


def _keep_nodes(size: int) -> None:
    """Keep the hash of every whole stretch of 64 events and more that is new."""
    kept = TreeNode.objects.filter(height=HEIGHT).order_by("-index").values_list("index", flat=True).first()
    first, end = (-1 if kept is None else kept) + 1, size // BLOCK
    for start in range(first, end, CHUNK):
        stop = min(start + CHUNK, end)
        leaves = _leaves(start * BLOCK, stop * BLOCK)
        _keep_level(HEIGHT, start, [_folded(leaves[at : at + BLOCK]) for at in range(0, len(leaves), BLOCK)])


def _keep_level(height: int, first: int, hashes: list[bytes]) -> None:
    """Keep these nodes side by side, then those above them that are whole now."""
    TreeNode.objects.bulk_create(
        TreeNode(height=height, index=first + number, node_hash=one.hex()) for number, one in enumerate(hashes)
    )
    if first % 2:
        left = TreeNode.objects.get(height=height, index=first - 1)
        first, hashes = first - 1, [bytes.fromhex(left.node_hash), *hashes]
    above = [node_hash(hashes[at], hashes[at + 1]) for at in range(0, len(hashes) - 1, 2)]
    if above:
        _keep_level(height + 1, first // 2, above)
