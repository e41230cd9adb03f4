"""Anchors: what they cover, how they are signed, and that only new events are read for the next one."""

from pathlib import Path
from typing import Any

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from groutjobs.audit import anchors, tree
from groutjobs.audit.anchors import (
    anchor_words,
    facts_of,
    growth_of,
    latest_anchor,
    make_anchor,
    proof_of,
    record_stretch,
    signed_text,
)
from groutjobs.audit.models import Anchor, Event, RecordKey, TreeNode
from groutjobs.errors import NotAllowed
from groutjobs.keeping import key_file
from tests.audit.written import fault_of, write_events
from tests.factories import make_machine

pytestmark = pytest.mark.django_db


def leaves() -> list[bytes]:
    found = Event.objects.order_by("seq").values_list("event_hash", flat=True)
    return [tree.leaf_hash(bytes.fromhex(one)) for one in found]


@pytest.mark.parametrize("count", [1, 62, 63, 64, 127, 128, 200])
def test_its_root_is_that_of_all_events(count: int) -> None:
    """One event is the key's own."""
    write_events(make_machine(bare=True), count)
    anchor = make_anchor()
    assert anchor.tree_size == count + 1
    assert anchor.root == tree.root_of(tree.stretch_of(leaves()), count + 1).hex()


def test_it_grows_and_every_anchor_is_proved_to_begin_the_next() -> None:
    machine = make_machine(bare=True)
    made = []
    for batch in (3, 70, 1, 64, 130):
        write_events(machine, batch)
        made.append(make_anchor())
    hashes, last = leaves(), made[-1]
    for anchor in made:
        assert anchor.root == tree.root_of(tree.stretch_of(hashes), anchor.tree_size).hex()
        proof = [bytes.fromhex(one) for one in growth_of(anchor, last)]
        sides = (anchor.tree_size, bytes.fromhex(anchor.root), last.tree_size, bytes.fromhex(last.root))
        assert tree.is_consistent(*sides, proof)
    for seq in (1, 64, 65, 200, last.tree_size):
        proof = [bytes.fromhex(one) for one in proof_of(seq, last)]
        assert tree.is_included(hashes[seq - 1], seq - 1, last.tree_size, proof, bytes.fromhex(last.root))


def test_the_next_anchor_reads_what_is_new_and_few_rows_more(monkeypatch: pytest.MonkeyPatch) -> None:
    machine = make_machine(bare=True)
    write_events(machine, 400)
    make_anchor()
    write_events(machine, 1, start=400)
    read: list[int] = []
    real = anchors._leaves

    def counted(low: int, high: int) -> list[bytes]:
        read.append(high - low)
        return real(low, high)

    monkeypatch.setattr(anchors, "_leaves", counted)
    with CaptureQueriesContext(connection) as queries:
        make_anchor()
    assert sum(read) <= 64
    assert len(queries) <= 25


def test_kept_nodes_are_those_of_the_tree() -> None:
    write_events(make_machine(bare=True), 300)
    make_anchor()
    stretch = tree.stretch_of(leaves())
    assert {(node.height, node.index) for node in TreeNode.objects.all()} == {
        (6, 0), (6, 1), (6, 2), (6, 3), (7, 0), (7, 1), (8, 0),
    }  # fmt: skip
    for node in TreeNode.objects.all():
        width = 2**node.height
        assert node.node_hash == stretch(node.index * width, (node.index + 1) * width).hex()
    assert record_stretch()(0, 301) == stretch(0, 301)


def test_another_library_finds_its_signature_good() -> None:
    write_events(make_machine(bare=True), 2)
    anchor = make_anchor()
    public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(anchor.key.public_key))
    public.verify(bytes.fromhex(anchor.signature), signed_text(anchor))
    anchor.tree_size += 1
    with pytest.raises(InvalidSignature):
        public.verify(bytes.fromhex(anchor.signature), signed_text(anchor))


def test_its_short_form_has_size_and_twenty_characters() -> None:
    write_events(make_machine(bare=True), 2)
    anchor = make_anchor()
    assert anchor_words(anchor) == f"3 {anchor.root[:20]}"
    assert latest_anchor() == anchor
    assert facts_of(anchor)["log"] == RecordKey.objects.get().fingerprint


def test_the_key_is_made_once_and_only_this_user_reads_it() -> None:
    make_anchor()
    make_anchor()
    assert RecordKey.objects.count() == 1
    assert Event.objects.filter(kind="record.key_changed").count() == 1
    assert key_file("record.pem").stat().st_mode & 0o077 == 0


def test_a_lost_key_is_not_replaced_in_silence(settings: Any, tmp_path: Path) -> None:
    make_anchor()
    settings.KEY_ROOT = tmp_path / "other"
    with pytest.raises(NotAllowed, match=r"is not in record\.pem"):
        make_anchor()
    with pytest.raises(CommandError, match="at least 10 characters"):
        call_command("record", "new-key", reason="lost")
    call_command("record", "new-key", reason="the folder of keys was lost with the disk")
    keys = list(RecordKey.objects.all())
    assert len(keys) == 2
    assert make_anchor().key == keys[1]
    assert make_anchor().log_id == keys[0].fingerprint
    event = Event.objects.filter(kind="record.key_changed").latest("seq")
    assert event.reason == "the folder of keys was lost with the disk"


def test_a_key_that_the_record_does_not_know_signs_nothing(settings: Any, tmp_path: Path) -> None:
    make_anchor()
    settings.KEY_ROOT = tmp_path / "other"
    key_file("record.pem").write_bytes(_other_key())
    with pytest.raises(NotAllowed, match="is not the one that the record knows"):
        make_anchor()


def _other_key() -> bytes:
    return Ed25519PrivateKey.generate().private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def test_the_command_verifies_and_anchors(capsys: pytest.CaptureFixture[str]) -> None:
    write_events(make_machine(bare=True), 5)
    call_command("record", "anchor")
    call_command("record", "anchor", hours=24.0)
    assert Anchor.objects.count() == 1
    call_command("record", "verify")
    assert "The record holds" in capsys.readouterr().out


def test_a_forged_anchor_is_found() -> None:
    write_events(make_machine(bare=True), 5)
    make_anchor()
    key, anchor = anchors.anchor_lines()
    assert fault_of([], [key, anchor]) == "the export is empty"
    forged = anchor.replace('"size":"6"', '"size":"5"')
    assert fault_of([], [key, forged]) == "line 2 of the anchors: the signature of the anchor of 5 events is not good"
    assert "names a key that does not stand above it" in fault_of([], [anchor])
