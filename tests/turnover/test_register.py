"""The register finds reports by number, tag, service, person, lot and site, and shows only those of one's sites."""

from typing import Any

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Membership, Role
from groutjobs.turnover.models import ReportState, TurnoverReport
from tests.factories import make_approved_plan, make_machine, make_person, make_pour, make_site
from tests.turnover.finished import Job
from tests.turnover.signed import client_of, frozen, text_of

pytestmark = pytest.mark.django_db
URL = reverse("turnover:register")


def stored_report(job: Job, *, words: str = "", **columns: Any) -> TurnoverReport:
    """A row of the register without its facts in full; search and lists need no more."""
    pour = make_pour(plan=make_approved_plan(machine=make_machine(site=job.site), points=False))
    defaults = {
        "number": f"T-{pour.pk:05d}", "frozen_by": job.engineer, "manifest_sha256": "0" * 64, "manifest_text": "{}",
        "facts": {"grout": "Test epoxy", "lots": ["L1"], "placed_l": 300.0, "net_l": 305.0, "deviations": 0},
    }  # fmt: skip
    return TurnoverReport.objects.create(pour=pour, search_text=words, **defaults | columns)


def found(job: Job, **query: str) -> str:
    response = client_of(job.auditor).get(URL, query)
    assert response.status_code == 200
    return text_of(response)


@pytest.mark.parametrize("word", ["T-", "lot-77", "Brine Booster", "Lead Testperson", "test works", "inspector"])
def test_a_report_is_found_by_what_is_on_it(job: Job, word: str) -> None:
    report = frozen(job)
    assert str(report) in found(job, words=word)


def test_it_is_found_by_tag_and_not_by_words_that_are_not_on_it(job: Job) -> None:
    report = frozen(job)
    assert str(report) in found(job, words=f"{job.pour.plan.machine.tag} brine")
    page = found(job, words=f"{job.pour.plan.machine.tag} compressor")
    assert str(report) not in page
    assert "No report holds all these words" in page


@pytest.mark.parametrize("word", ["%", "_", "' OR 1=1 --", "\\"])
def test_signs_of_the_database_are_plain_letters(job: Job, word: str) -> None:
    report = stored_report(job, words="plain words")
    assert str(report) not in found(job, words=word)


def test_filters_by_state_site_and_year(job: Job) -> None:
    report = stored_report(job)
    report.state, report.returned_because = ReportState.RETURNED, "a test"
    report.save()
    year = str(report.frozen_at.year)
    assert str(report) in found(job, state="returned", site=str(job.site.pk), year=year)
    assert str(report) not in found(job, state="issued")


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ({"state": "drawn"}, "State “drawn” is none of"),
        ({"year": "soon"}, "Year of freezing “soon” is none of"),
        ({"site": "99999999"}, "Site “99999999” is none of"),
        ({"words": "x" * 101}, "longer than 100 characters"),
        ({"words": "a\x00b"}, "NUL"),
    ],
)
def test_a_wrong_filter_comes_back_with_a_sentence(job: Job, query: dict[str, str], sentence: str) -> None:
    assert sentence in found(job, **query)


def test_the_site_of_a_stranger_is_no_choice(job: Job) -> None:
    other = make_site(name="A works of others")
    assert "A works of others" not in found(job)
    assert "is none of" in found(job, site=str(other.pk))


@pytest.mark.parametrize("who", ["engineer", "lead", "inspector", "auditor", "administrator"])
def test_everybody_of_the_site_reads_it(job: Job, who: str) -> None:
    report = stored_report(job)
    assert str(report) in text_of(client_of(getattr(job, who)).get(URL))


def test_a_stranger_sees_none_of_it(job: Job) -> None:
    report = stored_report(job)
    response = client_of(job.stranger).get(URL)
    assert response.status_code == 200
    assert str(report) not in text_of(response)


def test_a_person_without_any_role_and_a_wrong_method_are_refused(job: Job) -> None:
    assert client_of(make_person()).get(URL).status_code == 403
    assert client_of(job.auditor).post(URL).status_code == 405


def test_a_colleague_of_two_sites_sees_both(job: Job) -> None:
    report = stored_report(job)
    Membership.objects.create(user=job.stranger, site=job.site, role=Role.AUDITOR)
    assert str(report) in text_of(client_of(job.stranger).get(URL))


def test_pages_hold_twenty_five_and_keep_the_search(job: Job) -> None:
    for _ in range(30):
        stored_report(job, words="many")
    page = found(job, words="many")
    assert "30 reports, page 1 of 2" in page
    assert "words=many" in page
    assert page.count("/reports/") == 25
    assert found(job, words="many", page="2").count("/reports/") == 5


def test_queries_do_not_grow_with_the_rows(job: Job, django_assert_max_num_queries: Any) -> None:
    client = client_of(job.auditor)
    for _ in range(20):
        stored_report(job)
    with django_assert_max_num_queries(10):
        client.get(URL)


def test_a_fragment_answers_a_part_of_the_page(job: Job) -> None:
    report = stored_report(job)
    page = text_of(client_of(job.auditor).get(URL, headers={"HX-Request": "true"}))
    assert str(report) in page
    assert "<h1>" not in page
    assert 'id="found-reports"' in page
