"""Chosen pours with their duties, for one site, outage, plan or person; a fixed number of queries for any number."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Exists, F, OuterRef, Prefetch, QuerySet, Subquery

from groutjobs import units
from groutjobs.accounts.models import Membership, User
from groutjobs.equipment.models import Site
from groutjobs.outages.duties import Duty, DutyKind, duties
from groutjobs.outages.models import OutageCrew, OutageSchedule, ScheduledPour, ScheduleState
from groutjobs.outages.queries import scheduled_pours
from groutjobs.planning.models import PlanPoint, PlanState
from groutjobs.pours.models import Pour, PourState
from groutjobs.reminders.models import DutyInHand, Mail, MailState, PersonalCalendar, ReminderChoice
from groutjobs.reminders.standing import Facts, Standing, standing
from groutjobs.turnover.models import STATES_IN_FORCE, STATES_UNDER_WAY, TurnoverReport
from groutjobs.windows.models import PourHours

LOOKED_BACK = dt.timedelta(days=21)
POINTS_BEFORE = ("H", "W")
REPORT_STANDS = tuple(STATES_UNDER_WAY | STATES_IN_FORCE)
MOST_POURS = 200
AHEAD = dt.timedelta(days=7)
Steps = Mapping[tuple[int | None, str], list[dict[str, Any]]]


@dataclass(frozen=True)
class DutyRow:
    """One duty of one chosen pour as it stands now."""

    pour: ScheduledPour
    duty: Duty
    standing: Standing
    is_said: bool

    @property
    def is_late(self) -> bool:
        return self.standing.manner == "stop"

    @property
    def is_moment(self) -> bool:
        return self.duty.kind is DutyKind.CURE

    @property
    def is_ahead(self) -> bool:
        """Still to be done, or still to come by itself."""
        return self.standing.is_open or self.standing.word == "comes by itself"

    @property
    def may_be_said(self) -> bool:
        """Whether a person can say that it is in hand: from a day before on, where nothing speaks for itself."""
        is_near = self.standing.is_open and self.standing.word != "later"
        return (is_near or self.is_said) and self.duty.kind is not DutyKind.POUR


def pours_with_duties(site: Site, now: dt.datetime) -> QuerySet[Any]:
    """Chosen pours of a site, from three weeks ago until they are turned over, with all that their duties need."""
    newest = (
        PourHours.objects.filter(plan=OuterRef("plan"), is_trial=False)
        .order_by("-made_at", "-pk")
        .values("made_at")[:1]
    )
    before = PlanPoint.objects.filter(plan=OuterRef("plan"), before_pour=True, code__in=POINTS_BEFORE).order_by()
    counted = before.values("plan").annotate(count=Count("pk")).values("count")
    rows = scheduled_pours().filter(plan__machine__site=site, plan__state=PlanState.APPROVED)
    opened = Pour.objects.filter(plan=OuterRef("plan")).order_by("-number").values("state")[:1]
    reported = TurnoverReport.objects.filter(pour__plan=OuterRef("plan"), state__in=REPORT_STANDS)
    rows = rows.filter(~Exists(reported), starts_at__gte=now - LOOKED_BACK).annotate(
        looked_at=Subquery(newest), point_count=Subquery(counted), pour_state=Subquery(opened)
    )
    return rows.prefetch_related(Prefetch("in_hand", DutyInHand.objects.select_related("said_by")))


def accepted_steps(site: Site) -> Steps:
    """Steps of the accepted schedules of a site by outage and tag; one query."""
    rows = OutageSchedule.objects.filter(outage__site=site, state=ScheduleState.ACCEPTED).defer("result")
    found: dict[tuple[int | None, str], list[dict[str, Any]]] = {}
    for schedule in rows.annotate(steps=F("result__steps")).order_by("pk"):
        for row in schedule.steps or []:
            told = row | {"schedule": schedule.number, "accepted_at": schedule.accepted_at or schedule.asked_at}
            found.setdefault((schedule.outage_id, row["job"]), []).append(told)
    return found


def steps_for(pour: ScheduledPour, steps: Steps) -> list[dict[str, Any]]:
    """The steps that the accepted schedule gives the machine; none where it pours at another hour."""
    own = steps.get((pour.outage_id, pour.plan.machine.tag), [])
    poured = next((row["starts_at"] for row in own if row["kind"] == "pour"), None)
    return own if poured and dt.datetime.fromisoformat(poured) == pour.starts_at else []


def facts_of(pour: Any) -> Facts:
    """Read off prefetched rows; no query."""
    state = pour.pour_state or PourState.PREPARED
    looked_at = max(moment for moment in (pour.looked_at, pour.chosen_at) if moment)
    return Facts(
        starts_at=pour.starts_at,
        is_released=state != PourState.PREPARED,
        is_begun=state not in {PourState.PREPARED, PourState.RELEASED},
        looked_at=looked_at,
        in_hand={row.code: row.said_by.name for row in pour.in_hand.all()},
    )


def duty_rows(pours: Iterable[Any], steps: Steps, now: dt.datetime, system: str = units.METRIC) -> list[DutyRow]:
    """All duties of these pours: late ones first, then by their latest start."""
    rows = []
    for pour in pours:
        facts = facts_of(pour)
        for duty in duties_of(pour, steps, system):
            rows.append(DutyRow(pour, duty, standing(duty, facts, now), duty.code in facts.in_hand))
    return sorted(rows, key=lambda row: (not row.is_late, row.duty.begins_at, row.pour.plan.machine.tag))


def duties_of(pour: Any, steps: Steps, system: str = units.METRIC) -> list[Duty]:
    return duties(
        starts_at=pour.starts_at,
        counted_from=pour.basis,
        milestones=pour.milestones,
        steps=steps_for(pour, steps),
        points=pour.point_count or 0,
        system=system,
    )


def site_duties(site: Site, now: dt.datetime, system: str, **only: Any) -> list[DutyRow]:
    """Duties of the chosen pours of a site, narrowed by a lookup such as outage=…; four queries."""
    pours = pours_with_duties(site, now).filter(**only)[:MOST_POURS]
    return duty_rows(pours, accepted_steps(site), now, system)


def due_rows(rows: Iterable[DutyRow], now: dt.datetime, ahead: dt.timedelta = AHEAD) -> list[DutyRow]:
    """Those that somebody still has to do, or that come by themselves, up to so far ahead."""
    return [row for row in rows if row.is_ahead and row.duty.begins_at <= now + ahead]


def crews_of_person(person: User, site: Site) -> list[OutageCrew]:
    """The crews of a person at a site that are there."""
    return list(OutageCrew.objects.filter(outage__site=site, people=person, is_there=True))


def own_calendar(site: Site, person: User) -> PersonalCalendar | None:
    return PersonalCalendar.objects.filter(site=site, person=person, revoked_at=None).first()


def calendar_of_code(code_sha256: str) -> PersonalCalendar | None:
    """The calendar of a code that still holds: not revoked, its person active and with a role at the site."""
    rows = PersonalCalendar.objects.filter(code_sha256=code_sha256, revoked_at=None, person__is_active=True)
    at_site = Membership.objects.filter(user=OuterRef("person"), site=OuterRef("site"))
    return rows.filter(Exists(at_site)).select_related("site", "person").first()


def wants_mail(site: Site, person: User) -> bool:
    return ReminderChoice.objects.filter(site=site, person=person, by_mail=True).exists()


def people_to_remind(site: Site) -> list[User]:
    """Active people with a role at the site who asked for mail."""
    asked = ReminderChoice.objects.filter(site=site, person=OuterRef("pk"), by_mail=True)
    at_site = Membership.objects.filter(site=site, user=OuterRef("pk"))
    return list(User.objects.filter(Exists(asked), Exists(at_site), is_active=True).order_by("pk"))


def sites_to_remind() -> QuerySet[Site]:
    """Sites of which somebody wants mail."""
    asked = ReminderChoice.objects.filter(site=OuterRef("pk"), by_mail=True)
    return Site.objects.filter(Exists(asked)).order_by("pk")


def newest_search_ids(pours: Iterable[ScheduledPour]) -> dict[int, int]:
    """The newest search of the plan of each pour, by plan."""
    rows = PourHours.objects.filter(is_trial=False, plan__in=[pour.plan_id for pour in pours]).order_by("made_at", "pk")
    return dict(rows.values_list("plan_id", "pk"))


def failing_mails(site: Site) -> list[Mail]:
    """Mails of a site that could not be sent yet or were given up, newest first, for who looks after it."""
    rows = Mail.objects.filter(site=site).exclude(fault="").exclude(state=MailState.SENT)
    return list(rows.select_related("person")[:20])


def mails_due(now: dt.datetime) -> QuerySet[Mail]:
    rows = Mail.objects.filter(state=MailState.WAITING, next_try_at__lte=now)
    return rows.select_related("person", "site").order_by("next_try_at", "pk")


def schedules_to_watch(site: Site, now: dt.datetime) -> QuerySet[OutageSchedule]:
    """Accepted schedules of outages that are not over, with what they rest on."""
    rows = OutageSchedule.objects.filter(outage__site=site, state=ScheduleState.ACCEPTED, outage__ends_at__gt=now)
    return rows.select_related("outage__site").order_by("pk")
