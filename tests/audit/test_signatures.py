"""Ed25519 as the one-file verifier checks it, against published vectors and another library."""

import random

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from groutjobs.audit.verify_record import L, is_signed, point_of

# RFC 8032, 7.1, tests 1 to 3: public key, message, signature. From memory; a wrong digit would fail.
PUBLISHED = [
    (
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe"
        "24655141438e7a100b",
    ),
    (
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302a"
        "eeb00d291612bb0c00",
    ),
    (
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed2"
        "8dc027beceea1ec40a",
    ),
]


@pytest.mark.parametrize(("public", "message", "signature"), PUBLISHED)
def test_the_published_signatures_are_good(public: str, message: str, signature: str) -> None:
    assert is_signed(bytes.fromhex(public), bytes.fromhex(message), bytes.fromhex(signature))
    assert not is_signed(bytes.fromhex(public), bytes.fromhex(message) + b"x", bytes.fromhex(signature))


def test_it_agrees_with_another_library_on_good_and_spoilt_signatures() -> None:
    """The cryptography package signs; every flipped bit of message, key or signature is found."""
    chance = random.Random(9162)  # noqa: S311 (a test that can be repeated)
    for number in range(12):
        private = Ed25519PrivateKey.from_private_bytes(chance.randbytes(32))
        public = private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
        message = chance.randbytes(number * 7)
        signature = private.sign(message)
        assert is_signed(public, message, signature)
        for part in (public, signature):
            spoilt = bytearray(part)
            spoilt[chance.randrange(len(spoilt))] ^= 1 << chance.randrange(8)
            assert not is_signed(*(bytes(spoilt) if one is part else one for one in (public, message, signature)))


def test_it_refuses_what_is_no_signature() -> None:
    public, _, signature = (bytes.fromhex(one) for one in PUBLISHED[0])
    larger = signature[:32] + (int.from_bytes(signature[32:], "little") + L).to_bytes(32, "little")
    assert not is_signed(public, b"", larger)  # RFC 8032 5.1.7: S is below the order of the group
    assert not is_signed(public, b"", signature[:63])
    assert not is_signed(public[:31], b"", signature)
    assert point_of(b"\xff" * 32) is None
    assert point_of(bytes.fromhex("01" + "00" * 30 + "80")) is None
