"""What an uploaded PDF is, in plain words: ours or not, whole or changed, in force or not. Nothing of it is kept."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from groutjobs.audit.models import Event
from groutjobs.turnover import verify_report
from groutjobs.turnover.checking import checked
from groutjobs.turnover.models import ReportState, SealKey, TurnoverReport
from groutjobs.turnover.queries import report_whole
from groutjobs.turnover.verify_report import Found

STANDS = {
    ReportState.SEALED: "It is sealed, but it was not issued yet.",
    ReportState.ISSUED: "It is issued and in force.",
    ReportState.ACCEPTED: "It is issued, accepted by the client, and in force.",
    ReportState.SUPERSEDED: "It is superseded: a later revision took its place. Ask for that one.",
    ReportState.WITHDRAWN: "It is withdrawn: two people took it back. Do not rely on it.",
}


@dataclass(frozen=True)
class Verdict:
    """The answer in one sentence, the report it belongs to where there is one, and each thing that was looked at."""

    is_ours: bool
    words: str
    report: TurnoverReport | None
    found: Sequence[Found]


def verdict_on(content: bytes) -> Verdict:
    """Judge an uploaded file: first by the hash in our register, then by what the file says of itself."""
    sha256 = hashlib.sha256(content).hexdigest()
    report = report_whole().filter(pdf_sha256=sha256).select_related("seal_key").first()
    found = verify_report.check(content)
    if report is not None:
        return _known(content, report, found)
    return _unknown(content, found)


def _known(content: bytes, report: TurnoverReport, found: list[Found]) -> Verdict:
    found = [*found, _noted(report), _by_pyhanko(content, report.seal_key)]
    holds = all(one.holds for one in found)
    words = "This is, byte for byte, a file that we sealed." if holds else "We know this file, but a check failed."
    return Verdict(holds, words, report, found)


def _noted(report: TurnoverReport) -> Found:
    event = Event.objects.filter(
        object_kind="turnoverreport", object_id=str(report.pk), kind__in=["report.sealed", "report.issued"]
    ).first()
    if event is None or report.pdf_sha256 not in event.body:
        return Found("record", False, "The record of this installation does not hold the hash of the file.")
    return Found("record", True, f"Its hash stands in the record of this installation at event {event.seq}.")


def _by_pyhanko(content: bytes, key: SealKey | None) -> Found:
    if key is None:
        return Found(
            "signature", False, "It was issued before this installation sealed its reports; its hash is known."
        )
    judged = checked(content, key.certificate)["seal"]
    if not judged["holds"]:
        return Found("signature", False, f"pyHanko does not find the signature valid: {judged['words']}.")
    stamp = judged["time_stamp"]
    told = (
        f" The authority {stamp['by']} gives {stamp['at']} as its time; whether to trust it is yours." if stamp else ""
    )
    return Found("signature", True, f"pyHanko finds the signature valid; sealed by {key.subject}.{told}")


def _unknown(content: bytes, found: list[Found]) -> Verdict:
    """A file whose hash we do not know: a changed copy of ours, or not ours at all."""
    report = _by_record(content)
    key = _key_named(content)
    bad = next((one for one in found if not one.holds), None)
    if report is None and key is None:
        return Verdict(
            False, "This is no report of ours: we know neither its hash, its seal nor its record.", None, found
        )
    if bad is not None:
        words = f"This is not the file that we sealed. {bad.words}"
    else:
        words = "This is not the file that we sealed, although it carries its record or names our seal."
    if key is not None and bad is None:
        found = [*found, _by_pyhanko(content, key)]
    return Verdict(False, words, report, found)


def _by_record(content: bytes) -> TurnoverReport | None:
    try:
        record = verify_report.record_of(content)
    except verify_report.Unreadable:
        return None
    return report_whole().filter(manifest_sha256=hashlib.sha256(record).hexdigest()).first()


def _key_named(content: bytes) -> SealKey | None:
    try:
        seal = verify_report.seal_of(content)
        name = verify_report.octets_after(seal.signature, verify_report.SIGNING_CERTIFICATE_V2).hex()
    except (verify_report.Unreadable, IndexError):
        return None
    return SealKey.objects.filter(fingerprint=name).first()


def stands(report: TurnoverReport) -> str:
    """How the report stands today, in one sentence."""
    return STANDS.get(ReportState(report.state), "It is not sealed.")


def report_by_code(number: str, revision: int, prefix: str) -> TurnoverReport | None:
    """The report of a QR code: its number, revision and the beginning of its hash, which only a holder knows."""
    rows = report_whole().exclude(pdf_sha256="").filter(number=number, revision=revision)
    return rows.filter(manifest_sha256__startswith=prefix.lower()).first()
