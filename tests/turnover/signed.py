"""Steps that several tests of the turnover take."""

from typing import Any

from django.test import Client

from groutjobs.accounts.models import User
from groutjobs.signing.actions import decide_late
from groutjobs.signing.models import PourRecord
from groutjobs.signing.queries import undecided
from groutjobs.turnover.actions import freeze_report, sign_report
from groutjobs.turnover.models import Meaning, Signature, TurnoverReport
from tests.turnover.finished import Job


def settle_late(job: Job) -> None:
    """Say of every entry that came after the lock of the pour record that it has no effect."""
    row = PourRecord.objects.get(pour=job.pour)
    for entry in undecided(row):
        decide_late(pour=job.pour, entry=entry, by=job.engineer, reason="seen; it changes nothing that was signed")


def frozen(job: Job, **deviations: str) -> TurnoverReport:
    settle_late(job)
    return freeze_report(pour=job.pour, by=job.engineer, deviations=deviations)


def sign(report: TurnoverReport, meaning: Meaning, by: User) -> Signature:
    return sign_report(report=report, meaning=meaning, by=by, manifest_sha256=report.manifest_sha256)


def signed_by_all(job: Job) -> TurnoverReport:
    """Frozen and signed by the crew lead and both engineers; the drawing task waits for the commit."""
    report = frozen(job)
    for meaning, person in zip(Meaning, (job.lead, job.second, job.engineer), strict=True):
        sign(report, meaning, person)
    report.refresh_from_db()
    return report


def client_of(person: User) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def text_of(response: Any) -> str:
    return str(response.content.decode())
