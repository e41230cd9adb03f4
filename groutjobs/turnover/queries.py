"""Reads of the turnover that cross stages."""

from collections.abc import Iterable

from django.db.models import Max, Min, QuerySet

from groutjobs.accounts.models import Membership, Role, User
from groutjobs.audit.models import AuditedRow, Event
from groutjobs.audit.queries import events_about
from groutjobs.curing.models import CureInspection, ReadingImport
from groutjobs.equipment.models import Site
from groutjobs.outages.models import ScheduledPour
from groutjobs.pours.models import Photo, Pour, PourEntry
from groutjobs.signing.models import Addendum, LateDecision, PourRecord, RecordSignature, SignatureVoid
from groutjobs.turnover.models import STATES_UNDER_WAY, Signature, TurnoverReport
from groutjobs.turnover.signing import Signer
from groutjobs.windows.models import PourHours


def report_whole() -> QuerySet[TurnoverReport]:
    """Reports with the rows that every page about one of them shows."""
    return TurnoverReport.objects.select_related(
        "pour__plan__machine__site", "pour__plan__data_sheet__grout_system", "frozen_by"
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
    """The person as the rules of signing see him or her."""
    roles = Membership.objects.filter(user=person, site=pour.plan.machine.site_id).values_list("role", flat=True)
    return Signer(
        person_id=person.pk,
        roles=frozenset(Role(role) for role in roles),
        has_recorded=person.pk in recorders_of(pour),
    )


def rows_of(pour: Pour) -> list[AuditedRow]:
    """The rows whose changes belong to the report of this pour, the plan's sources included."""
    plan = pour.plan
    machine = plan.machine
    rows: list[AuditedRow] = [machine.site, machine, plan.data_sheet.grout_system, plan.data_sheet, plan, pour]
    rows += [row for row in (getattr(machine, "foundation", None), getattr(machine, "baseplate", None)) if row]
    rows += [plan.lot] if plan.lot else []
    lists: Iterable[QuerySet[AuditedRow]] = (
        plan.points.all(),
        PourHours.objects.filter(plan=plan).defer("result"),
        ScheduledPour.objects.filter(plan=plan),
        PourEntry.objects.filter(pour=pour),
        Photo.objects.filter(pour=pour),
        ReadingImport.objects.filter(pour=pour),
        CureInspection.objects.filter(pour=pour).defer("result", "inputs"),
        PourRecord.objects.filter(pour=pour),
        RecordSignature.objects.filter(record__pour=pour),
        SignatureVoid.objects.filter(signature__record__pour=pour),
        Addendum.objects.filter(record__pour=pour),
        LateDecision.objects.filter(record__pour=pour),
        TurnoverReport.objects.filter(pour=pour),
        Signature.objects.filter(report__pour=pour),
    )
    for found in lists:
        rows += found
    return rows


def trail_of(pour: Pour) -> QuerySet[Event]:
    """The record about this pour and everything it rests on, oldest first."""
    return events_about(rows_of(pour))


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
    """The report of this pour that is being signed or drawn; there is at most one."""
    return TurnoverReport.objects.filter(pour=pour, state__in=STATES_UNDER_WAY).first()


def found_reports(
    reports: QuerySet[TurnoverReport], *, words: str = "", site: str = "", state: str = "", year: str = ""
) -> QuerySet[TurnoverReport]:
    """Those reports that hold all the words and match the filters; empty filters let everything through."""
    for word in words.casefold().split():
        reports = reports.filter(search_text__contains=word)
    if site:
        reports = reports.filter(pour__plan__machine__site_id=int(site))
    if state:
        reports = reports.filter(state=state)
    if year:
        reports = reports.filter(frozen_at__year=int(year))
    return reports


def years_of(reports: QuerySet[TurnoverReport]) -> list[int]:
    """The years in which these reports were frozen, the latest first."""
    span = reports.order_by().aggregate(first=Min("frozen_at"), last=Max("frozen_at"))
    if span["first"] is None:
        return []
    return list(range(span["last"].year, span["first"].year - 1, -1))


def sites_where(person: User) -> list[Site]:
    """The sites at which the person holds any role."""
    return list(Site.objects.filter(memberships__user=person).distinct())
