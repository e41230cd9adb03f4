"""Reads of the turnover that cross stages."""

import datetime as dt
from typing import Any

from django.db.models import Max, Min, QuerySet

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow, Event
from groutjobs.audit.queries import events_about
from groutjobs.curing.models import CureInspection, InspectionDecision, ReadingImport
from groutjobs.curing.release_models import MilestoneRelease, ReleaseWithdrawal
from groutjobs.curing.sample_models import SampleResult
from groutjobs.curing.watch_models import KeptHeating, ReadingAside, WetEntry
from groutjobs.equipment.models import Site
from groutjobs.nonconformances.models import Nonconformance, NonconformanceStep
from groutjobs.outages.models import ScheduledPour
from groutjobs.planning.models import PlanPoint
from groutjobs.pours.models import Photo, Pour, PourEntry
from groutjobs.signing.models import Addendum, LateDecision, PourRecord, RecordSignature, SignatureVoid
from groutjobs.signing.queries import signer_of
from groutjobs.signing.rules import Signer
from groutjobs.turnover.models import (
    STATES_IN_FORCE,
    STATES_UNDER_WAY,
    Acceptance,
    ReaderLink,
    Recipient,
    SavedSearch,
    Signature,
    TurnoverReport,
    Withdrawal,
)
from groutjobs.windows.models import PourHours

EQUAL = {
    "site": "pour__plan__machine__site_id",
    "machine": "pour__plan__machine__tag__iexact",
    "state": "state",
    "grout": "facts__grout",
}
"""Filter of the register → column it must equal."""
OF_POUR: tuple[type[Any], ...] = (
    PourEntry, Photo, ReadingImport, ReadingAside, WetEntry, KeptHeating, MilestoneRelease, SampleResult,
    CureInspection, Nonconformance, PourRecord, TurnoverReport,
)  # fmt: skip
"""Tables with a column `pour` whose rows belong to the trail of a pour."""


def report_whole() -> QuerySet[TurnoverReport]:
    """Reports with the rows that every page about one of them shows."""
    return TurnoverReport.objects.select_related(
        "pour__plan__machine__site", "pour__plan__data_sheet__grout_system", "frozen_by", "seal_key"
    ).prefetch_related("signatures__signer")


def recorders_of(pour: Pour) -> frozenset[int]:
    """Everybody who recorded a part of this pour: entries, photos, readings, inspections."""
    authors = PourEntry.objects.filter(pour=pour).order_by().values_list("author_id")
    others = (
        Photo.objects.filter(pour=pour).order_by().values_list("added_by_id"),
        ReadingImport.objects.filter(pour=pour).order_by().values_list("brought_by_id"),
        CureInspection.objects.filter(pour=pour).order_by().values_list("made_by_id"),
    )
    return frozenset(person_id for (person_id,) in authors.union(*others))


def signer_for(person: User, pour: Pour) -> Signer:
    """The person as the rules of signing see him or her; readings and inspections are parts of a report too."""
    return signer_of(person, pour, recorders_of(pour))


def trail_of(pour: Pour) -> QuerySet[Event]:
    """The record about this pour and everything its report rests on, the plan's sources included, oldest first."""
    plan = pour.plan
    machine = plan.machine
    rows: list[AuditedRow] = [machine.site, machine, plan.data_sheet.grout_system, plan.data_sheet, plan, pour]
    rows += [row for row in (getattr(machine, "foundation", None), getattr(machine, "baseplate", None)) if row]
    rows += [plan.lot] if plan.lot else []
    return events_about(
        rows,
        PlanPoint.objects.filter(plan=plan),
        PourHours.objects.filter(plan=plan),
        ScheduledPour.objects.filter(plan=plan),
        *(model.objects.filter(pour=pour) for model in OF_POUR),
        ReleaseWithdrawal.objects.filter(release__pour=pour),
        InspectionDecision.objects.filter(inspection__pour=pour),
        NonconformanceStep.objects.filter(nonconformance__pour=pour),
        RecordSignature.objects.filter(record__pour=pour),
        SignatureVoid.objects.filter(signature__record__pour=pour),
        Addendum.objects.filter(record__pour=pour),
        LateDecision.objects.filter(record__pour=pour),
        Signature.objects.filter(report__pour=pour),
        Recipient.objects.filter(report__pour=pour),
        ReaderLink.objects.filter(recipient__report__pour=pour),
        Acceptance.objects.filter(report__pour=pour),
        Withdrawal.objects.filter(report__pour=pour),
    )


def recorded_since(report: TurnoverReport) -> dict[str, int]:
    """What was added to the record after the report was frozen, in words with counts; empty where nothing was."""
    pour, at = report.pour_id, report.frozen_at
    counts = {
        "entries of the pour": PourEntry.objects.filter(pour=pour, received_at__gt=at).count(),
        "photos": Photo.objects.filter(pour=pour, added_at__gt=at).count(),
        "sets of cure readings": ReadingImport.objects.filter(pour=pour, brought_at__gt=at).count(),
        "inspections": CureInspection.objects.filter(pour=pour, entered_at__gt=at).count(),
    }
    return {name: count for name, count in counts.items() if count}


def reports_of(pour: Pour) -> QuerySet[TurnoverReport]:
    """All revisions of the report of a pour, the newest first."""
    return TurnoverReport.objects.filter(pour=pour).select_related("frozen_by").order_by("-revision")


def under_way(pour: Pour) -> TurnoverReport | None:
    """The report of this pour that is being signed, sealed or waits to be issued; there is at most one."""
    return TurnoverReport.objects.filter(pour=pour, state__in=STATES_UNDER_WAY).first()


def in_force(pour: Pour) -> TurnoverReport | None:
    """The revision that stands for this pour: issued, perhaps accepted, not superseded or withdrawn."""
    return TurnoverReport.objects.filter(pour=pour, state__in=STATES_IN_FORCE).first()


def withdrawal_of(report: TurnoverReport) -> Withdrawal | None:
    """That somebody asked to withdraw this report, and whether a second person agreed."""
    return Withdrawal.objects.filter(report=report).select_related("proposed_by", "agreed_by").first()


def acceptance_of(report: TurnoverReport) -> Acceptance | None:
    """That the client took this report over, and how."""
    return Acceptance.objects.filter(report=report).select_related("entered_by", "link__recipient").first()


def reader_link(token_sha256: str) -> ReaderLink | None:
    """The link of this secret address with the report behind it, whether open, expired or revoked."""
    rows = ReaderLink.objects.select_related(
        "recipient__report__pour__plan__machine__site", "recipient__report__seal_key", "made_by"
    ).defer("recipient__report__manifest_text", "recipient__report__pour__plan__result")
    return rows.filter(token_sha256=token_sha256).first()


def report_listed() -> QuerySet[TurnoverReport]:
    """Reports as a list of them shows them; the long results of plans stay in the database."""
    return report_whole().defer("pour__plan__result")


def found_reports(
    reports: QuerySet[TurnoverReport],
    *,
    words: str = "",
    since: dt.date | None = None,
    until: dt.date | None = None,
    year: str = "",
    open_only: bool = False,
    **equal: str,
) -> QuerySet[TurnoverReport]:
    """Those reports that hold all the words and match the filters; empty filters let everything through."""
    for word in words.casefold().split():
        reports = reports.filter(search_text__contains=word)
    for name, lookup in EQUAL.items():
        if equal.get(name):
            reports = reports.filter(**{lookup: equal[name]})
    if year:
        reports = reports.filter(frozen_at__year=int(year))
    if since:
        reports = reports.filter(frozen_at__gte=dt.datetime.combine(since, dt.time.min, dt.UTC))
    if until:
        reports = reports.filter(frozen_at__lt=dt.datetime.combine(until + dt.timedelta(days=1), dt.time.min, dt.UTC))
    return reports.filter(facts__open_nonconformances__gt=0) if open_only else reports


def register_choices(reports: QuerySet[TurnoverReport], person: User) -> dict[str, list[tuple[str, str]]]:
    """What each filter of the register offers: only what the person may see."""
    grouts = reports.order_by("facts__grout").values_list("facts__grout", flat=True).distinct()
    return {
        "site": [(str(site.pk), site.name) for site in sites_where(person)],
        "grout": [(name, name) for name in grouts if name],
        "year": [(str(year), str(year)) for year in years_of(reports)],
    }


def saved_searches(person: User) -> list[SavedSearch]:
    """The searches of the register that this person keeps."""
    return list(SavedSearch.objects.filter(person=person))


def years_of(reports: QuerySet[TurnoverReport]) -> list[int]:
    """The years in which these reports were frozen, the latest first."""
    span = reports.order_by().aggregate(first=Min("frozen_at"), last=Max("frozen_at"))
    if span["first"] is None:
        return []
    return list(range(span["last"].year, span["first"].year - 1, -1))


def sites_where(person: User) -> list[Site]:
    """The sites at which the person holds any role."""
    return list(Site.objects.filter(memberships__user=person).distinct())
