"""The tree over the record, RFC 9162 section 2.1: roots, and proofs that need few hashes. Pure.

A leaf is hashed behind the byte 00 and a node behind 01, so that neither can be taken for the other. Every function
asks for the hash of a stretch of leaves [low, high) through `Stretch`; where hashes are kept does not matter.
"""

import hashlib
from collections.abc import Callable, Sequence

from groutjobs.errors import Unusable

Stretch = Callable[[int, int], bytes]
SOURCE = "RFC9162"
EMPTY = hashlib.sha256(b"").digest()


def leaf_hash(content: bytes) -> bytes:
    return hashlib.sha256(b"\x00" + content).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


def split_of(size: int) -> int:
    """The largest power of two below the size: so many leaves lie to the left."""
    return 1 << ((size - 1).bit_length() - 1)


def stretch_of(leaves: Sequence[bytes]) -> Stretch:
    """Stretches over leaf hashes that lie in memory."""

    def stretch(low: int, high: int) -> bytes:
        if high - low == 1:
            return leaves[low]
        middle = low + split_of(high - low)
        return node_hash(stretch(low, middle), stretch(middle, high))

    return stretch


def root_of(stretch: Stretch, size: int) -> bytes:
    """The head of the tree over the first `size` leaves."""
    return stretch(0, size) if size else EMPTY


def inclusion_proof(stretch: Stretch, index: int, size: int) -> list[bytes]:
    """The hashes beside the way from a leaf (counted from 0) to the root, the lowest first."""
    if not 0 <= index < size:
        raise Unusable("leaf", f"number {index} is not in a tree of {size}", source=SOURCE)
    return _way(stretch, index, 0, size)


def _way(stretch: Stretch, index: int, low: int, high: int) -> list[bytes]:
    if high - low == 1:
        return []
    middle = low + split_of(high - low)
    if index < middle:
        return [*_way(stretch, index, low, middle), stretch(middle, high)]
    return [*_way(stretch, index, middle, high), stretch(low, middle)]


def consistency_proof(stretch: Stretch, old: int, size: int) -> list[bytes]:
    """What shows that the tree of `size` leaves begins with the tree of `old` leaves."""
    if not 0 < old <= size:
        raise Unusable("tree size", f"{old} is no earlier size of a tree of {size}", source=SOURCE)
    return _parts(stretch, old, 0, size, is_whole=True)


def _parts(stretch: Stretch, old: int, low: int, high: int, *, is_whole: bool) -> list[bytes]:
    if old == high - low:
        return [] if is_whole else [stretch(low, high)]
    middle = low + split_of(high - low)
    if old <= middle - low:
        return [*_parts(stretch, old, low, middle, is_whole=is_whole), stretch(middle, high)]
    return [*_parts(stretch, old - (middle - low), middle, high, is_whole=False), stretch(low, middle)]


def is_included(leaf: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes) -> bool:
    """Whether the proof leads from the leaf to the root; RFC 9162 2.1.3.2."""
    if not 0 <= index < size:
        return False
    place, last, found = index, size - 1, leaf
    for hashed in proof:
        if last == 0:
            return False
        if place % 2 or place == last:
            found = node_hash(hashed, found)
            while not place % 2 and place:
                place, last = place >> 1, last >> 1
        else:
            found = node_hash(found, hashed)
        place, last = place >> 1, last >> 1
    return last == 0 and found == root


def is_consistent(old: int, old_root: bytes, size: int, root: bytes, proof: Sequence[bytes]) -> bool:
    """Whether the proof shows that the later tree begins with the earlier one; RFC 9162 2.1.4.2."""
    if old == size:
        return not proof and old_root == root
    if not 0 < old < size or not proof:
        return False
    hashes = [old_root, *proof] if old & (old - 1) == 0 else list(proof)
    place, last = old - 1, size - 1
    while place % 2:
        place, last = place >> 1, last >> 1
    first = second = hashes[0]
    for hashed in hashes[1:]:
        if last == 0:
            return False
        if place % 2 or place == last:
            first, second = node_hash(hashed, first), node_hash(hashed, second)
            while not place % 2 and place:
                place, last = place >> 1, last >> 1
        else:
            second = node_hash(second, hashed)
        place, last = place >> 1, last >> 1
    return last == 0 and first == old_root and second == root
