"""The sheet of a plan: every section, both unit systems, pictures, and a fixed number of queries."""

import xml.etree.ElementTree as ET
from typing import Any

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role, UnitSystem
from groutjobs.planning.drawing import timetable_picture
from groutjobs.planning.models import PourPlan
from tests.factories import make_foundation, make_machine, make_person, make_plan, make_point
from tests.planning.sheets import engineer_of, planned, signed_in

pytestmark = pytest.mark.django_db


def page_of(plan: PourPlan, person: Any = None) -> str:
    client = signed_in(person or engineer_of(plan.machine.site))
    answer = client.get(reverse("planning:plan_detail", args=[plan.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_it_shows_every_section_and_the_cautions_with_their_sources() -> None:
    text = page_of(planned())
    for section in (
        "Takeoff",
        "To order",
        "Head and uplift",
        "Lifts and heat of cure",
        "Material in the store",
        "Order of work",
        "Batch timetable",
        "Hold points",
        "As entered",
        "Revisions",
    ):
        assert f">{section}</h2>" in text
    for source in ("CFR1926.1153", "CFR1910.1200", "NIOSH94-110", "RCRA"):
        assert source in text
    assert "supplier&#x27;s instruction, local codes" in text or "supplier's instruction, local codes" in text


def test_every_number_of_the_result_unfolds_on_the_page() -> None:
    plan = planned()
    text = page_of(plan)
    assert text.count('<details id="number-') == len(plan.result["numbers"])


def test_a_reader_of_us_units_sees_no_metric_volume() -> None:
    plan = planned()
    reader = make_person(site=plan.machine.site, roles=(Role.AUDITOR,), unit_system=UnitSystem.US)
    text = page_of(plan, reader)
    net_ft3 = plan.result["net_l"] / 28.316846592
    assert f"{net_ft3:.3f} ft³" in text
    assert f"{plan.result['net_l']:.1f} L" not in text


def test_only_an_engineer_is_offered_to_change_and_approve() -> None:
    plan = planned()
    offered = reverse("planning:plan_approve", args=[plan.pk])
    assert offered in page_of(plan)
    assert offered not in page_of(plan, make_person(site=plan.machine.site, roles=(Role.CREW_LEAD,)))


def test_a_stranger_finds_nothing_and_post_is_no_way() -> None:
    plan = planned()
    address = reverse("planning:plan_detail", args=[plan.pk])
    assert signed_in(make_person(roles=(Role.ENGINEER,))).get(address).status_code == 404
    assert signed_in(engineer_of(plan.machine.site)).post(address).status_code == 405


def test_a_drafted_plan_whose_machine_can_no_longer_be_computed_says_why() -> None:
    plan = planned()
    plan.machine.foundation.survey_points.update(elevation_mm=400.0)
    text = page_of(plan)
    assert "It cannot be computed" in text
    assert reverse("planning:plan_approve", args=[plan.pk]) not in text


def test_a_plan_whose_machine_lost_its_survey_says_what_is_missing() -> None:
    plan = planned()
    plan.machine.foundation.survey_points.all().delete()
    assert "3 or more surveyed points" in page_of(plan)


def test_text_that_people_typed_is_shown_and_never_run() -> None:
    plan = planned(make_machine(tag="<b>P</b>", service="<script>x</script>"))
    text = page_of(plan)
    assert "<script>x" not in text
    assert "&lt;script&gt;x" in text


def test_the_page_asks_no_more_when_there_is_more(django_assert_max_num_queries: Any) -> None:
    plan = planned()
    person = engineer_of(plan.machine.site)
    client, address = signed_in(person), reverse("planning:plan_detail", args=[plan.pk])
    counts = []
    for extra in (0, 30):
        for number in range(extra):
            make_point(plan=plan, position=100 + number)
            plan.machine.foundation.survey_points.create(x_mm=30.0 + 90 * number, y_mm=500.0, elevation_mm=101.0)
            make_plan(machine=plan.machine, made_by=person, revision=2 + number, state="superseded")
        with django_assert_max_num_queries(20) as asked:
            client.get(address)
        counts.append(len(asked))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("kits_per_batch", [1, 2, 7])
def test_the_batch_picture_is_well_formed_and_shows_every_batch(kits_per_batch: int) -> None:
    times = planned(kits_per_batch=kits_per_batch).result["timetable"]
    picture = ET.fromstring(timetable_picture(times))  # noqa: S314
    labels = [node.text or "" for node in picture.iter("{http://www.w3.org/2000/svg}text")]
    assert sum(label.startswith("Batch ") for label in labels) == len(times["batches"])
    assert not [node for node in picture.iter() if "style" in node.attrib]


def test_the_batch_picture_keeps_inside_its_frame_for_a_long_pour() -> None:
    times = planned(place_min=60.0, mixers=1).result["timetable"]
    picture = ET.fromstring(timetable_picture(times))  # noqa: S314
    width = float(picture.attrib["viewBox"].split()[2])
    for bar in picture.iter("{http://www.w3.org/2000/svg}rect"):
        assert float(bar.attrib["x"]) + float(bar.attrib["width"]) <= width


def test_a_machine_with_a_foundation_alone_is_not_planned() -> None:
    machine = make_machine(bare=True)
    make_foundation(machine=machine)
    client = signed_in(engineer_of(machine.site))
    text = client.get(reverse("planning:plan_add", args=[machine.pk])).content.decode()
    assert "Enter the plate:" in text
    assert "Enter the foundation:" not in text
