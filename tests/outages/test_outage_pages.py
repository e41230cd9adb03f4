"""Outages: adding, moving, listing, and the sheet with its pours."""

import datetime as dt
import xml.etree.ElementTree as ET

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.outages.actions import add_outage, change_outage, choose_hour
from groutjobs.outages.drawing import outage_picture
from groutjobs.outages.models import Outage, ScheduledPour
from groutjobs.outages.queries import outages_listed, pours_in, unscheduled_plans
from groutjobs.outages.tables import pour_rows
from groutjobs.windows.queries import start_hour
from tests.factories import make_machine, make_person, make_site
from tests.weather.asking import HUGE, errors_in, signed_in, stranger, utc
from tests.windows.asked import planned, searched

pytestmark = pytest.mark.django_db
TYPED = {"name": "Spring", "starts_at": "2026-05-04T06:00", "ends_at": "2026-05-12T18:00"}


@pytest.fixture
def site() -> Site:
    return make_site()


def make_outage(site: Site, name: str = "Spring") -> Outage:
    return add_outage(site=site, name=name, starts_at=utc(4, 10), ends_at=utc(12, 22), by=make_person())


def pour_in(
    outage: Outage, *, index: int = 16, align_by_at: dt.datetime | None = None, reason: str = ""
) -> ScheduledPour:
    found = searched(planned(machine=make_machine(site=outage.site)))
    return choose_hour(
        plan=found.plan, pour_hours=found, starts_at=start_hour(found, index).at, outage=outage,
        align_by_at=align_by_at, reason=reason, by=found.made_by,
    )  # fmt: skip


def test_an_engineer_adds_an_outage(site: Site) -> None:
    response = signed_in(site, Role.ENGINEER).post(reverse("outages:outage_add", args=[site.pk]), TYPED)
    outage = Outage.objects.get(site=site)
    assert response["Location"] == reverse("outages:outage_detail", args=[outage.pk])
    assert (outage.starts_at, outage.ends_at) == (utc(4, 10), utc(12, 22))
    assert Event.objects.filter(kind="outage.added").count() == 1


def test_an_outage_is_moved_with_a_reason(site: Site) -> None:
    outage = make_outage(site)
    url = reverse("outages:outage_change", args=[outage.pk])
    client = signed_in(site, Role.ENGINEER)
    assert "Spring" in client.get(url).content.decode()
    refused = client.post(url, TYPED | {"ends_at": "2026-05-10T18:00", "reason": ""})
    assert "Reason is empty" in errors_in(refused)
    assert client.post(url, TYPED | {"ends_at": "2026-05-10T18:00", "reason": "steam is back"}).status_code == 302
    outage.refresh_from_db()
    assert outage.ends_at == utc(10, 22)
    assert Event.objects.get(kind="outage.changed").reason == "steam is back"


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"name": ""}, ["Name is empty"]),
        ({"name": HUGE}, ["10000000 characters", "80"]),
        ({"starts_at": ""}, ["Starts is empty"]),
        ({"starts_at": "Monday"}, ["Starts “Monday”", "ISO8601"]),
        ({"ends_at": "2026-05-04T06:00"}, ["Ends is not after Starts"]),
        ({"starts_at": "2026-03-08T02:30"}, ["the clocks of America/New_York skip this time"]),
        ({"name": "Taken"}, ["already has an outage named Taken"]),
    ],
)
def test_a_wrong_entry_comes_back(site: Site, fields: dict[str, str], words: list[str]) -> None:
    make_outage(site, "Taken")
    response = signed_in(site, Role.ENGINEER).post(reverse("outages:outage_add", args=[site.pk]), TYPED | fields)
    assert response.status_code == 422
    assert [word for word in words if word not in errors_in(response)] == []
    (name, text) = next(iter(fields.items()))
    assert response.context["form"][name].value() == text


def test_actions_refuse_times_in_the_wrong_order(site: Site) -> None:
    outage = make_outage(site)
    with pytest.raises(NotAllowed, match="ends before it starts"):
        add_outage(site=site, name="Other", starts_at=utc(5, 0), ends_at=utc(5, 0), by=make_person())
    with pytest.raises(NotAllowed, match="ends before it starts"):
        change_outage(outage=outage, name="Spring", starts_at=utc(5, 0), ends_at=utc(4, 0), by=make_person())
    other = make_outage(site, "Autumn")
    with pytest.raises(NotAllowed, match="already has an outage named Spring"):
        change_outage(outage=other, name="Spring", starts_at=utc(4, 0), ends_at=utc(5, 0), by=make_person())


@pytest.mark.parametrize("role", list(Role))
def test_every_role_reads_and_engineers_write(site: Site, role: Role) -> None:
    outage, client = make_outage(site), signed_in(site, role)
    assert "Spring" in client.get(reverse("outages:outage_list")).content.decode()
    assert "Spring" in client.get(reverse("outages:outage_detail", args=[outage.pk])).content.decode()
    expected = 200 if role is Role.ENGINEER else 403
    assert client.get(reverse("outages:outage_add", args=[site.pk])).status_code == expected
    assert client.get(reverse("outages:outage_change", args=[outage.pk])).status_code == expected


def test_a_stranger_sees_nothing_and_a_wrong_method_is_refused(site: Site) -> None:
    outage = make_outage(site)
    assert "Spring" not in stranger().get(reverse("outages:outage_list")).content.decode()
    for name, key in (("outage_detail", outage.pk), ("outage_change", outage.pk), ("outage_add", site.pk)):
        assert stranger().get(reverse(f"outages:{name}", args=[key])).status_code == 404
    engineer = signed_in(site, Role.ENGINEER)
    assert engineer.post(reverse("outages:outage_detail", args=[outage.pk])).status_code == 405
    assert engineer.post(reverse("outages:outage_list")).status_code == 405


def test_the_sheet_tells_what_is_late_and_why(site: Site) -> None:
    outage = make_outage(site)
    fine = pour_in(outage, align_by_at=utc(9, 12))
    late = pour_in(outage, index=20, align_by_at=utc(6, 0), reason="agreed with the plant manager")
    rows = {row.pour.pk: row for row in pour_rows(pours_in(outage))}
    assert (rows[fine.pk].state, rows[late.pk].state) == ("accepted", "blocker")
    assert rows[fine.pk].spare_h
    assert rows[late.pk].spare_h is None
    assert rows[late.pk].late_h
    text = signed_in(site, Role.CREW).get(reverse("outages:outage_detail", args=[outage.pk])).content.decode()
    assert "after it is due" in text
    assert "agreed with the plant manager" in text


def test_approved_plans_without_an_hour_are_offered(site: Site) -> None:
    outage = make_outage(site)
    waiting = planned(machine=make_machine(site=site))
    planned(machine=make_machine(site=site), state="drafted")
    planned()
    chosen = pour_in(outage)
    assert list(unscheduled_plans(site)) == [waiting]
    text = signed_in(site, Role.ENGINEER).get(reverse("outages:outage_detail", args=[outage.pk])).content.decode()
    assert reverse("windows:pour_hours", args=[waiting.pk]) in text
    assert [vars(row)["pour_count"] for row in outages_listed()] == [1]
    assert chosen.outage == outage


def test_more_pours_ask_no_more_often(site: Site) -> None:
    outage, client = make_outage(site), signed_in(site, Role.ENGINEER)
    pour = pour_in(outage)
    url = reverse("outages:outage_detail", args=[outage.pk])
    client.get(url)
    with CaptureQueriesContext(connection) as once:
        client.get(url)
    for _ in range(4):
        machine = make_machine(site=site)
        ScheduledPour.objects.create(
            plan=planned(machine=machine), outage=outage, pour_hours=pour.pour_hours, starts_at=pour.starts_at,
            milestones=pour.milestones, chosen_by=pour.chosen_by,
        )  # fmt: skip
        planned(machine=make_machine(site=site))
    with CaptureQueriesContext(connection) as more:
        client.get(url)
    assert len(more) == len(once) <= 10


def test_the_picture_is_plain_svg_with_every_pour_and_letter(site: Site) -> None:
    outage = make_outage(site)
    pour = pour_in(outage, align_by_at=utc(9, 12))
    root = ET.fromstring(outage_picture(outage, pours_in(outage)))  # noqa: S314
    assert not [element for element in root.iter() if "style" in element.attrib]
    words = [element.text or "" for element in root.iter() if element.tag.endswith("}text")]
    assert {pour.plan.machine.tag, "S", "J", "AT", "forecast ends", "start", "end"} <= set(words)


def test_an_outage_without_pours_is_drawn_too(site: Site) -> None:
    assert "no pour is scheduled yet" in outage_picture(make_outage(site), [])
