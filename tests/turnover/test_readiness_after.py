"""Open nonconformances, releases and overdue instruments in the readiness list and the manifest."""

import pytest

from groutjobs.accounts.models import Role
from groutjobs.errors import NotAllowed
from groutjobs.nonconformances import actions
from groutjobs.pours.models import Pour
from groutjobs.turnover.actions import _accepted
from groutjobs.turnover.readiness import blockers_of, readiness
from tests.curing.asking import site_of
from tests.curing.test_release import REASON, cured, released
from tests.factories import make_person

pytestmark = pytest.mark.django_db


def codes(pour: Pour) -> set[str]:
    return {finding.code for finding in readiness(pour)}


def test_an_open_nonconformance_blocks_and_only_with_a_disposition_is_it_accepted() -> None:
    pour = cured(hours=4)
    engineer = make_person(site=site_of(pour), roles=(Role.ENGINEER,))
    row = actions.raise_nonconformance(pour=pour, found="Honeycomb at the shoulder.", by=engineer)
    assert "turnover.nonconformance_undecided_1" in codes(pour)
    blocker = next(item for item in blockers_of(readiness(pour)) if "nonconformance" in item.code)
    with pytest.raises(NotAllowed, match=r"NC-1 .* cannot be accepted as a deviation"):
        _accepted([blocker], {blocker.code: "for the test of this very rule"}, by=engineer)
    actions.decide(row=row, disposition="use_as_is", because="It carries nothing.", source="drawing 7", by=engineer)
    assert "turnover.nonconformance_1" in codes(pour)
    actions.close(row=row, words="Seen, as decided.", by=engineer)
    assert not {code for code in codes(pour) if "nonconformance" in code}


def test_missing_releases_and_those_against_the_evidence_are_told() -> None:
    pour = cured(hours=12)
    assert "turnover.no_release_strip" in codes(pour)
    released(pour, "strip", REASON)
    found = codes(pour)
    assert "turnover.no_release_strip" not in found
    assert "turnover.release_against_strip" in found
