"""Results of strength samples: load over area, against the requirement and the clock, replaced with a reason."""

import datetime as dt
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.curing.sample_models import SampleResult
from groutjobs.pours.models import Pour, PourEntry
from tests.curing.asking import errors_of, signed_in, site_of, site_time, statuses, stranger
from tests.curing.test_release import cured
from tests.factories import make_entry

pytestmark = pytest.mark.django_db


def cast(pour: Pour) -> PourEntry:
    assert pour.placed_at is not None
    body = {"label": "P-1-1", "batch": 1}
    return make_entry(pour=pour, kind="sample", body=body, happened_at=pour.placed_at)


def fields(pour: Pour, entry: PourEntry, **given: Any) -> dict[str, Any]:
    assert pour.placed_at is not None
    data = {
        "entry": str(entry.pk), "specimen": "1 of 3", "kept": "beside", "shape": "cube", "lab": "a laboratory",
        "tested_at": site_time(pour, pour.placed_at + dt.timedelta(hours=48)), "report_no": "R-1",
        "required_source": "the specification", "replaces": "", "remarks": "",
    }  # fmt: skip
    for name, text in {"side_mm": "50", "width_mm": "", "height_mm": "", "load_kn": "200"}.items():
        data |= {name: text, f"{name}_unit": "kN" if name == "load_kn" else "mm"}
    for name, text in {"reported_mpa": "", "required_mpa": "55"}.items():
        data |= {name: text, f"{name}_unit": "MPa"}
    return data | given


def post(pour: Pour, data: dict[str, Any]) -> Any:
    return signed_in(site_of(pour), Role.INSPECTOR).post(reverse("curing:sample_add", args=[pour.pk]), data)


def test_a_cube_passes_by_load_over_area_and_stands_beside_the_clock() -> None:
    """[ASTMC579] defines strength as load over area: 200 kN on 50 mm by 50 mm is 80 MPa."""
    pour = cured()
    post(pour, fields(pour, cast(pour)))
    row = SampleResult.objects.get()
    assert row.strength_mpa == pytest.approx(80.0)
    assert row.verdict == "accepted"
    # Read at the reference temperature throughout, so the equivalent age is the time itself [ASTMC1074].
    assert row.inputs["expected"]["age_h"] == pytest.approx(48.0, abs=0.1)
    assert row.result["ratio"] == pytest.approx(80.0 / row.inputs["expected"]["expected_mpa"])
    page = signed_in(site_of(pour), Role.AUDITOR).get(reverse("curing:sample_list", args=[pour.pk]))
    assert "passed" in page.content.decode()
    assert page.context["rate"]["count"] == 1


def test_a_cylinder_in_inches_and_pounds_fails_below_the_requirement() -> None:
    """The area of 4 in is 12.566 in²; 50 000 lbf over it are 3 979 psi, 27.4 MPa, by arithmetic."""
    pour = cured()
    given = {"shape": "cylinder", "side_mm": "4", "side_mm_unit": "in", "load_kn": "50000", "load_kn_unit": "lbf"}
    post(pour, fields(pour, cast(pour), **given))
    row = SampleResult.objects.get()
    assert row.strength_mpa == pytest.approx(27.43, abs=0.01)
    assert row.verdict == "refused"
    assert {item["code"] for item in row.result["findings"]} == {"sample.below", "sample.unlike"}


def test_a_report_that_is_not_load_over_area_is_asked_about() -> None:
    pour = cured()
    post(pour, fields(pour, cast(pour), reported_mpa="70"))
    assert "sample.not_load_over_area" in {item["code"] for item in SampleResult.objects.get().result["findings"]}


def test_a_second_result_of_the_same_specimen_replaces_with_a_reason() -> None:
    pour = cured()
    entry = cast(pour)
    post(pour, fields(pour, entry))
    assert "is on record" in errors_of(post(pour, fields(pour, entry)))
    first = SampleResult.objects.get()
    assert "say why" in errors_of(post(pour, fields(pour, entry, replaces=str(first.pk))))
    post(pour, fields(pour, entry, replaces=str(first.pk), remarks="load misread", load_kn="190"))
    assert [row.result["strength_mpa"] for row in SampleResult.objects.order_by("pk")] == [80.0, 76.0]


def test_what_is_missing_is_named() -> None:
    pour = cured()
    entry = cast(pour)
    assert "write one of them" in errors_of(post(pour, fields(pour, entry, load_kn="")), "load_kn")
    assert "has a source" in errors_of(post(pour, fields(pour, entry, required_source="")), "required_source")
    assert pour.placed_at is not None
    early = site_time(pour, pour.placed_at - dt.timedelta(hours=1))
    assert "before the sample was cast" in errors_of(post(pour, fields(pour, entry, tested_at=early)))
    assert not SampleResult.objects.exists()


def test_a_result_is_never_changed_nor_deleted() -> None:
    pour = cured()
    post(pour, fields(pour, cast(pour)))
    for change in (lambda: SampleResult.objects.update(lab="other"), lambda: SampleResult.objects.all().delete()):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            change()


def test_who_enters_results() -> None:
    pour = cured(hours=4)
    cast(pour)
    address = reverse("curing:sample_add", args=[pour.pk])
    found = statuses("get", address, site_of(pour), {})
    assert {role for role, status in found.items() if status == 200} == {Role.INSPECTOR, Role.ENGINEER, Role.CREW_LEAD}
    assert stranger().get(address).status_code == 404
    assert signed_in(site_of(pour), Role.ENGINEER).put(address).status_code == 405
