"""Releases of milestones: signed on the evidence, against it with a reason, taken back."""

import hashlib
import json

import pytest
from django.db import DatabaseError, transaction
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.curing.evidence import all_evidence, standing_releases, text_and_hash
from groutjobs.curing.release_actions import release_milestone, withdraw_release
from groutjobs.curing.release_models import MilestoneRelease
from groutjobs.errors import NotAllowed, Stale
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import pour_whole
from tests.curing.asking import errors_of, fresh_pour, signed_in, site_of, statuses, stranger
from tests.factories import make_cure_readings, make_person

pytestmark = pytest.mark.django_db
PASSWORD = "a long enough passphrase"
REASON = "Cubes of the supplier's field kit broke at 60 MPa."


def cured(hours: int = 59, temp_c: float = 23.0) -> Pour:
    """Read every two hours at the reference temperature, so that equivalent age is the time itself."""
    pour = fresh_pour()
    make_cure_readings(pour=pour, temps=[(float(hour), temp_c) for hour in range(0, hours + 1, 2)])
    return pour_whole().get(pk=pour.pk)


def released(pour: Pour, code: str, reason: str = "") -> MilestoneRelease:
    digest = text_and_hash(all_evidence(pour)[code])[1]
    by = make_person(site=site_of(pour), roles=(Role.ENGINEER,))
    return release_milestone(pour=pour, code=code, evidence_sha256=digest, reason=reason, by=by)


def test_the_engineer_signs_with_the_password_and_the_evidence_is_kept() -> None:
    pour = cured()
    engineer = make_person(site=site_of(pour), roles=(Role.ENGINEER,))
    engineer.set_password(PASSWORD)
    engineer.save()
    client = signed_in(site_of(pour))
    client.force_login(engineer)
    address = reverse("curing:release_add", args=[pour.pk, "strip"])
    digest = client.get(address).context["sha256"]
    wrong = client.post(address, {"evidence_sha256": digest, "password": "another"})
    assert "not your password" in errors_of(wrong, "password")
    client.post(address, {"evidence_sha256": digest, "password": PASSWORD})
    row = MilestoneRelease.objects.get()
    # SHA-256 of the text by the standard library, FIPS 180-4: the hash that was signed is that of the kept text.
    assert row.evidence_sha256 == digest == hashlib.sha256(row.evidence_text.encode()).hexdigest()
    evidence = json.loads(row.evidence_text)
    assert evidence["milestone"]["state"] == "reached"
    assert evidence["against"] == []
    assert (row.is_against, row.printed_name) == (False, engineer.name)


def test_against_the_evidence_it_needs_a_reason() -> None:
    pour = cured(hours=12)
    with pytest.raises(NotAllowed, match="does not carry"):
        released(pour, "tension")
    row = released(pour, "tension", REASON)
    assert (row.is_against, row.reason) == (True, REASON)


def test_what_was_not_read_is_not_signed() -> None:
    pour = cured()
    by = make_person(site=site_of(pour), roles=(Role.ENGINEER,))
    digest = text_and_hash(all_evidence(pour)["strip"])[1]
    make_cure_readings(pour=pour, temps=[(59.5, 23.0)])
    with pytest.raises(Stale, match="not what you read"):
        release_milestone(pour=pour, code="strip", evidence_sha256=digest, reason="", by=by)


def test_a_release_is_taken_back_with_a_reason_and_given_anew() -> None:
    pour = cured()
    row = released(pour, "strip")
    with pytest.raises(NotAllowed, match="released already"):
        released(pour, "strip")
    with pytest.raises(NotAllowed, match="reason"):
        withdraw_release(release=row, reason="no", by=row.released_by)
    withdraw_release(release=row, reason="The probe was in the air.", by=row.released_by)
    assert standing_releases(pour) == {}
    again = released(pour, "strip")
    assert standing_releases(pour) == {"strip": again}
    page = signed_in(site_of(pour), Role.CREW).get(reverse("curing:release_list", args=[pour.pk]))
    assert "The probe was in the air." in page.content.decode()


def test_a_release_is_never_changed_nor_deleted() -> None:
    released(cured(), "strip")
    for change in (
        lambda: MilestoneRelease.objects.update(reason="other"),
        lambda: MilestoneRelease.objects.all().delete(),
    ):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            change()


def test_only_an_engineer_releases() -> None:
    pour = cured()
    address = reverse("curing:release_add", args=[pour.pk, "strip"])
    found = statuses("get", address, site_of(pour), {})
    assert {role for role, status in found.items() if status == 200} == {Role.ENGINEER}
    assert stranger().get(address).status_code == 404
    assert signed_in(site_of(pour), Role.ENGINEER).put(address).status_code == 405
    nothing = reverse("curing:release_add", args=[pour.pk, "other"])
    assert signed_in(site_of(pour), Role.ENGINEER).get(nothing).status_code == 404
