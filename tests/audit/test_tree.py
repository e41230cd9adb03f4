"""The tree over the record: published heads, an independent definition, and proofs of every pair of sizes."""

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.audit import tree, verify_record
from groutjobs.errors import Unusable

# The eight leaves and the heads over the first n of them with which implementations of RFC 6962 are tested
# (certificate transparency, merkle tree tests). From memory; SHA-256 leaves no room for a figure that is nearly right.
LEAVES = [bytes.fromhex(one) for one in ("", "00", "10", "2021", "3031", "40414243", "5051525354555657",
                                         "606162636465666768696a6b6c6d6e6f")]  # fmt: skip
HEADS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
# Inclusion of the first leaf in the tree of eight, same source, from memory.
PATH_0_OF_8 = [
    "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
    "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
    "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
]
ALL = [tree.leaf_hash(leaf) for leaf in LEAVES]


def by_definition(leaves: list[bytes]) -> bytes:
    """MTH of RFC 9162 2.1.1, word for word and without this program's functions."""
    if not leaves:
        return hashlib.sha256().digest()
    if len(leaves) == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return hashlib.sha256(b"\x01" + by_definition(leaves[:k]) + by_definition(leaves[k:])).digest()


@pytest.mark.parametrize("size", range(9))
def test_heads_are_the_published_ones(size: int) -> None:
    assert tree.root_of(tree.stretch_of(ALL), size).hex() == HEADS[size]
    assert by_definition(LEAVES[:size]).hex() == HEADS[size]


def test_the_published_path_of_the_first_leaf() -> None:
    assert [one.hex() for one in tree.inclusion_proof(tree.stretch_of(ALL), 0, 8)] == PATH_0_OF_8


@given(st.lists(st.binary(max_size=40), max_size=70))
def test_it_equals_the_recursive_definition(contents: list[bytes]) -> None:
    leaves = [tree.leaf_hash(one) for one in contents]
    assert tree.root_of(tree.stretch_of(leaves), len(leaves)) == by_definition(contents)


@given(st.lists(st.binary(min_size=32, max_size=32), max_size=200))
def test_the_verifier_grows_the_same_tree(hashes: list[bytes]) -> None:
    grown = verify_record.Tree()
    for one in hashes:
        grown.add(one.hex())
    assert grown.root() == by_definition(hashes).hex()


@given(st.integers(1, 130), st.data())
def test_every_leaf_is_proved_and_no_other_passes(size: int, data: st.DataObject) -> None:
    leaves = [tree.leaf_hash(bytes([number])) for number in range(size)]
    index = data.draw(st.integers(0, size - 1))
    stretch = tree.stretch_of(leaves)
    proof, root = tree.inclusion_proof(stretch, index, size), tree.root_of(stretch, size)
    assert tree.is_included(leaves[index], index, size, proof, root)
    assert not tree.is_included(tree.leaf_hash(b"other"), index, size, proof, root)
    assert not tree.is_included(leaves[index], index, size, [*proof, root], root)
    assert len(proof) <= (size - 1).bit_length()
    if proof:
        assert not tree.is_included(leaves[index], index, size, [*proof[:-1], tree.EMPTY], root)
        assert not tree.is_included(leaves[index], index, size, proof[:-1], root)


@given(st.integers(1, 130), st.data())
def test_growth_is_proved_and_a_rewritten_past_is_not(size: int, data: st.DataObject) -> None:
    leaves = [tree.leaf_hash(bytes([number])) for number in range(size)]
    old = data.draw(st.integers(1, size))
    stretch = tree.stretch_of(leaves)
    proof, root, old_root = tree.consistency_proof(stretch, old, size), tree.root_of(stretch, size), stretch(0, old)
    assert tree.is_consistent(old, old_root, size, root, proof)
    forged = [*leaves[: old - 1], tree.leaf_hash(b"forged"), *leaves[old:]]
    assert not tree.is_consistent(old, tree.stretch_of(forged)(0, old), size, root, proof)
    assert not tree.is_consistent(old, old_root, size, root, [*proof, root])
    if proof:
        assert not tree.is_consistent(old, old_root, size, root, proof[:-1])


@pytest.mark.parametrize(("index", "size"), [(-1, 3), (3, 3), (0, 0)])
def test_it_refuses_a_leaf_outside_the_tree(index: int, size: int) -> None:
    with pytest.raises(Unusable, match="is not in a tree"):
        tree.inclusion_proof(tree.stretch_of(ALL), index, size)
    assert not tree.is_included(ALL[0], index, size, [], ALL[0])


@pytest.mark.parametrize(("old", "size"), [(0, 3), (4, 3)])
def test_it_refuses_a_size_that_was_never_before(old: int, size: int) -> None:
    with pytest.raises(Unusable, match="is no earlier size"):
        tree.consistency_proof(tree.stretch_of(ALL), old, size)
    assert not tree.is_consistent(old, ALL[0], size, ALL[0], [])
