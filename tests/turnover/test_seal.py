"""A sealed file: three checkers agree on the whole one, and each finds what was changed or added.

The outside readers are pdfsig of poppler and qpdf, programs, and pyHanko's validator; ours uses the standard library.
"""

import datetime as dt
import hashlib
import io
import random
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from functools import cache

import pytest
from asn1crypto import keys
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign.timestamps.dummy_client import DummyTimeStamper

from groutjobs.turnover.checking import checked
from groutjobs.turnover.report import run_renderer
from groutjobs.turnover.sealing import NotSealed, Seal, new_seal, seal_pdf
from groutjobs.turnover.time_stamps import HttpxTimeStamper
from groutjobs.turnover.verify_report import check, seal_of
from tests.turnover.pdf_text import poppler

RECORD = '{"report":{"number":"T-00001","revision":1},"machine":{"tag":"P-101A"}}'
HTML = (
    "<!doctype html><html lang='en'><title>T-1</title><body><h1>P-101A</h1><p>Grouted and accepted.</p></body></html>"
)
NOW = dt.datetime.now(dt.UTC)


@cache
def sealed() -> tuple[bytes, Seal]:
    """A small report with its record, drawn as real ones are."""
    seal = new_seal("Test owner", NOW)
    return seal_pdf(plain(), seal, place="Test works"), seal


def authority() -> DummyTimeStamper:
    """A time-stamp authority of our own making [RFC3161], played by pyHanko; nothing is asked over a network."""
    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Test authority of time")])
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(NOW - dt.timedelta(days=1))
        .not_valid_after(NOW + dt.timedelta(days=30))
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.TIME_STAMPING]), critical=True)
        .sign(key, hashes.SHA256())
    )
    private = key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    public = certificate.public_bytes(serialization.Encoding.DER)
    return DummyTimeStamper(asn1_x509.Certificate.load(public), keys.PrivateKeyInfo.load(private), fixed_dt=NOW)


def plain() -> bytes:
    record = {"name": "record.json", "text": RECORD, "description": "record", "at": "2026-01-01T00:00:00Z"}
    return run_renderer({"html": HTML, "files": {}, "identifier": "0" * 64, "attachments": [record]})


def bad(content: bytes) -> list[str]:
    _, seal = sealed()
    record = hashlib.sha256(RECORD.encode()).hexdigest()
    return [one.name for one in check(content, record_sha256=record, seal=seal.fingerprint) if not one.holds]


def added_revision() -> bytes:
    """The sealed file with a revision behind the seal, which leaves every sealed byte as it was."""
    content, _ = sealed()
    writer = IncrementalPdfFileWriter(io.BytesIO(content))
    writer.root["/Note"] = writer.add_object(writer.root["/Pages"].get_object())
    writer.update_root()  # type: ignore[no-untyped-call]
    out = io.BytesIO()
    writer.write(out)  # type: ignore[no-untyped-call]
    return out.getvalue()


def test_all_checkers_find_the_whole_file_good() -> None:
    content, seal = sealed()
    assert bad(content) == []
    said = poppler("pdfsig", "@", pdf=content)
    assert "Signature is Valid" in said
    assert "Total document signed" in said
    judged = checked(content, seal.pem)
    assert judged["seal"]["holds"], judged
    assert judged["seal"]["whole_file"]
    assert judged["gaps"] == []


def test_the_time_of_an_authority_is_kept_and_told() -> None:
    seal = new_seal("Test owner", NOW)
    content = seal_pdf(plain(), seal, place="Test works", timestamper=authority())
    judged = checked(content, seal.pem)
    assert judged["seal"]["holds"], judged
    assert judged["seal"]["whole_file"]
    assert judged["seal"]["time_stamp"]["at"] == NOW.isoformat()
    assert "Test authority of time" in judged["seal"]["time_stamp"]["by"]
    assert judged["gaps"] == []
    assert [one.words for one in check(content, seal=seal.fingerprint) if not one.holds] == []
    assert "Signature is Valid" in poppler("pdfsig", "@", pdf=content)
    place = content.index(b"/Title")
    assert not checked(content[:place] + b"/Titel" + content[place + 6 :], seal.pem)["seal"]["holds"]


def test_without_an_authority_no_time_is_claimed() -> None:
    content, seal = sealed()
    assert checked(content, seal.pem)["seal"]["time_stamp"] == {}


def test_an_authority_that_does_not_answer_leaves_the_report_unsealed() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
    with pytest.raises(NotSealed, match="the seal could not be put on"):
        seal_pdf(
            plain(), new_seal("Test owner", NOW), place="", timestamper=HttpxTimeStamper(f"https://127.0.0.1:{port}/")
        )


def test_qpdf_finds_no_fault_of_structure() -> None:
    path = shutil.which("qpdf")
    assert path, "qpdf is not installed"
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        file.write(sealed()[0])
        file.flush()
        run = subprocess.run([path, "--check", file.name], capture_output=True, check=False)  # noqa: S603
    assert run.returncode == 0, run.stdout


def flipped(count: int) -> Iterator[tuple[int, bytes]]:
    """The file with one byte changed, at places drawn over all of it."""
    content, _ = sealed()
    draw = random.Random(20261126)  # noqa: S311  places to look at, no secret
    for place in draw.sample(range(9, len(content)), count):
        yield place, content[:place] + bytes([content[place] ^ 0x01]) + content[place + 1 :]


def test_every_flipped_byte_is_found() -> None:
    """Bytes inside the signature itself are covered by its own mathematics, which our checker leaves to others."""
    content, _ = sealed()
    missed = [place for place, changed in flipped(400) if not bad(changed)]
    low, high = _signature_between(content)
    assert [place for place in missed if not low <= place < high] == []


def _signature_between(content: bytes) -> tuple[int, int]:
    place = seal_of(content)
    return place.gap_at, place.gap_end


def test_pyhanko_finds_a_flip_inside_the_signature() -> None:
    content, seal = sealed()
    low, high = _signature_between(content)
    place = low + len(content[low:high].rstrip(b"0>")) - 20
    digit = b"0" if content[place : place + 1] != b"0" else b"1"
    changed = content[:place] + digit + content[place + 1 :]
    assert not checked(changed, seal.pem)["seal"]["holds"]


def test_an_appended_revision_is_found_although_the_signature_stays_valid() -> None:
    changed = added_revision()
    said = poppler("pdfsig", "@", pdf=changed)
    assert "Signature is Valid" in said
    assert "Total document signed" not in said.replace("Not total document signed", "")
    assert bad(changed)[0] == "coverage"
    _, seal = sealed()
    judged = checked(changed, seal.pem)["seal"]
    assert not (judged["holds"] and judged.get("whole_file"))


@pytest.mark.parametrize("tail", [b"\n", b"%%EOF\n", b"0" * 5000])
def test_bytes_after_the_end_are_found(tail: bytes) -> None:
    assert bad(sealed()[0] + tail)


def test_another_seal_is_told_apart() -> None:
    content, _ = sealed()
    other = new_seal("Another owner", NOW)
    assert not checked(content, other.pem)["seal"]["holds"]
    assert [one.name for one in check(content, seal=other.fingerprint) if not one.holds] == ["key"]
