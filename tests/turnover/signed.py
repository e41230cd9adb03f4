"""Steps that several tests of the turnover take."""

from typing import Any

from django.test import Client

from groutjobs.accounts.models import User
from groutjobs.turnover.actions import freeze_report, sign_report
from groutjobs.turnover.models import Meaning, Signature, TurnoverReport
from tests.turnover.finished import Job


def frozen(job: Job, **deviations: str) -> TurnoverReport:
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
