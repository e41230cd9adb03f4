"""The seal of the organisation: its key in a file outside the database, and PAdES on a PDF by pyHanko.

One signature after all names, which are content of the manifest. It certifies that nothing may change afterwards.
"""

import datetime as dt
import io
import os
from dataclasses import dataclass
from pathlib import Path

from asn1crypto import keys
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign import signers
from pyhanko.sign.fields import MDPPerm, SigSeedSubFilter
from pyhanko.sign.timestamps import TimeStamper
from pyhanko_certvalidator.registry import SimpleCertificateStore

from groutjobs.errors import GroutJobsError
from groutjobs.keeping import key_file

NAME = "report-seal.pem"
FIELD = "Seal"
YEARS = 10
SUBJECT = "Seal of turnover reports"
REASON = "Seals this turnover report; nothing may be changed or added after it"


class NotSealed(GroutJobsError):
    """The report could not be sealed; nothing was issued. The text says why."""


@dataclass(frozen=True)
class Seal:
    """Key and certificate as they lie in the file."""

    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate

    @property
    def fingerprint(self) -> str:
        return self.certificate.fingerprint(hashes.SHA256()).hex()

    @property
    def pem(self) -> str:
        return self.certificate.public_bytes(serialization.Encoding.PEM).decode()

    @property
    def subject(self) -> str:
        return self.certificate.subject.rfc4514_string()[:200]


def seal_path() -> Path:
    return key_file(NAME)


def new_seal(organisation: str, at: dt.datetime) -> Seal:
    """A fresh P-256 key with a certificate of its own making for ten years."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, organisation.strip()[:64] or "organisation not named"),
            x509.NameAttribute(NameOID.COMMON_NAME, SUBJECT),
        ]
    )
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - dt.timedelta(minutes=5))
        .not_valid_after(at.replace(year=at.year + YEARS, day=min(at.day, 28)))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_signing_only(), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return Seal(key, certificate)


def _signing_only() -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=True, content_commitment=True, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=False, crl_sign=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip


def keep_seal(seal: Seal, path: Path) -> None:
    """Write key and certificate for this user alone; a key that is there already is never written over."""
    private = seal.key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(private + seal.pem.encode())
        file.flush()
        os.fsync(file.fileno())


def kept_seal() -> Seal:
    """The key of the file; NotSealed where it is missing or cannot be read."""
    path = seal_path()
    try:
        content = path.read_bytes()
        key = serialization.load_pem_private_key(content, password=None)
        certificate = x509.load_pem_x509_certificate(content)
    except FileNotFoundError as error:
        raise NotSealed(
            f"the key of the seal, {path.name}, is not in the folder of the keys; restore it, or replace it with "
            "“manage.py seal_key --replace REASON”"
        ) from error
    except (OSError, ValueError) as error:
        raise NotSealed(f"the key of the seal, {path.name}, cannot be read: {error}") from error
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise NotSealed(f"the key of the seal, {path.name}, is not a key on the curve P-256")
    return Seal(key, certificate)


def seal_pdf(pdf: bytes, seal: Seal, *, place: str, timestamper: TimeStamper | None = None) -> bytes:
    """The PDF with the seal appended: PAdES B-B, or B-T where a time-stamp authority is given."""
    certificate = asn1_x509.Certificate.load(seal.certificate.public_bytes(serialization.Encoding.DER))
    private = seal.key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    signer = signers.SimpleSigner(
        signing_cert=certificate,
        signing_key=keys.PrivateKeyInfo.load(private),
        cert_registry=SimpleCertificateStore.from_certs([certificate]),  # type: ignore[no-untyped-call]
    )
    metadata = signers.PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        certify=True,
        docmdp_permissions=MDPPerm.NO_CHANGES,
        subfilter=SigSeedSubFilter.PADES,
        reason=REASON,
        location=place[:100],
    )
    try:
        writer = IncrementalPdfFileWriter(io.BytesIO(pdf))
        sealed = signers.PdfSigner(metadata, signer=signer, timestamper=timestamper).sign_pdf(writer)
    except Exception as error:  # pyHanko, the network of the authority and the key each have errors of their own
        raise NotSealed(f"the seal could not be put on: {error or type(error).__name__}") from error
    return bytes(sealed.getvalue())
