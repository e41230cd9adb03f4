"""Random histories of a pour record: whatever people try in whatever order, the rules of signing always hold."""

import itertools
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed, Stale
from groutjobs.pours.actions import add_entry
from groutjobs.pours.models import PourEntry
from groutjobs.signing import actions
from groutjobs.signing.models import PourRecord, RecordMeaning, RecordSignature, RecordState
from groutjobs.signing.queries import content_sha256, in_the_way, recorders_of
from tests.turnover.finished import Job, opened_job

REASON = "a reason that an auditor can read"
PEOPLE = st.sampled_from(["lead", "engineer", "second", "inspector", "administrator"])
_numbers = itertools.count()


class Histories(RuleBasedStateMachine):
    """Each rule may be refused by the program; the database must agree with what was let through."""

    job: Job
    locked_as: str = ""

    def __init__(self) -> None:
        super().__init__()
        self.outer = transaction.atomic()
        self.outer.__enter__()
        self.job, self.locked_as = opened_job(), ""

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.outer.__exit__(None, None, None)

    def attempt(self, step: Any, **values: Any) -> None:
        try:
            with transaction.atomic():
                step(pour=self.job.pour, **values)
        except (NotAllowed, Stale):
            return

    def row(self) -> PourRecord | None:
        return PourRecord.objects.filter(pour=self.job.pour).first()

    @rule(who=PEOPLE, kind=st.sampled_from(["note", "declared_complete"]))
    def enter(self, who: str, kind: str) -> None:
        body = {"text": f"seen {next(_numbers)}"} if kind == "note" else {}
        self.attempt(add_entry, kind=kind, body=body, by=getattr(self.job, who))

    @rule(who=PEOPLE)
    def strike_the_declaration(self, who: str) -> None:
        declared = PourEntry.objects.filter(pour=self.job.pour, kind="declared_complete").last()
        if declared:
            self.attempt(
                add_entry, kind="struck", body={}, by=getattr(self.job, who), replaces=declared, reason="too early"
            )

    @rule(who=PEOPLE)
    def make_ready(self, who: str) -> None:
        _, soft = in_the_way(self.job.pour)
        reasons = {item.code: REASON for item in soft}
        self.attempt(actions.make_ready, by=getattr(self.job, who), reasons=reasons)

    @rule(who=PEOPLE, meaning=st.sampled_from([RecordMeaning.PERFORMED, RecordMeaning.REVIEWED]))
    def sign(self, who: str, meaning: RecordMeaning) -> None:
        row = self.row()
        seen = row.content_sha256 if row else ""
        self.attempt(
            actions.sign_record, meaning=meaning, by=getattr(self.job, who), seen_sha256=seen, proved_by="password"
        )

    @rule(who=PEOPLE)
    def send_back(self, who: str) -> None:
        self.attempt(actions.send_back, reason=REASON, by=getattr(self.job, who))

    @rule(who=PEOPLE, is_second=st.booleans(), is_wanted=st.sampled_from([False, False, False, True]))
    def void(self, who: str, is_second: bool, is_wanted: bool) -> None:
        if is_wanted and is_second:
            self.attempt(actions.void_record, by=getattr(self.job, who))
        elif is_wanted:
            self.attempt(actions.ask_void, reason=REASON, by=getattr(self.job, who))

    @rule(who=PEOPLE)
    def state_addendum(self, who: str) -> None:
        texts = {name: f"{name}, in words" for name in ("wrong", "right", "evidence")}
        self.attempt(actions.state_addendum, by=getattr(self.job, who), reason=REASON, proved_by="password", **texts)

    @invariant()
    def no_name_without_its_hash_in_the_record(self) -> None:
        for name in RecordSignature.objects.filter(record__pour=self.job.pour):
            event = Event.objects.get(object_kind="recordsignature", object_id=str(name.pk))
            assert name.content_sha256 in event.body

    @invariant()
    def names_that_count_are_for_the_content_as_it_is(self) -> None:
        row = self.row()
        if row is None or row.state not in {RecordState.PERFORMED, RecordState.READY}:
            return
        assert row.ready_at is not None
        assert content_sha256(self.job.pour, PourEntry.objects.filter(pour=self.job.pour).count(), row.ready_at) == (
            row.content_sha256
        )

    @invariant()
    def a_name_that_counts_belongs_to_this_round(self) -> None:
        row = self.row()
        if row is not None:
            standing = row.signatures.filter(addendum=None, void=None)
            assert {name.round for name in standing} <= {row.round}

    @invariant()
    def locked_content_never_changes(self) -> None:
        row = self.row()
        if row is None or row.state != RecordState.LOCKED:
            assert not self.locked_as
            return
        self.locked_as = self.locked_as or row.content_sha256
        assert row.ready_at is not None
        assert self.locked_as == row.content_sha256 == content_sha256(self.job.pour, row.last_rev, row.ready_at)
        assert row.anchor is not None

    @invariant()
    def recorder_and_reviewer_are_two_people(self) -> None:
        row = self.row()
        if row is None or row.state != RecordState.LOCKED:
            return
        names = {name.meaning: name.signer_id for name in row.signatures.filter(addendum=None, void=None)}
        assert set(names) == {RecordMeaning.PERFORMED, RecordMeaning.REVIEWED}
        assert names[RecordMeaning.REVIEWED] != names[RecordMeaning.PERFORMED]
        signed = PourEntry.objects.filter(pour=self.job.pour, rev__lte=row.last_rev)
        assert names[RecordMeaning.REVIEWED] not in set(signed.values_list("author_id", flat=True))
        assert recorders_of(self.job.pour)

    @invariant()
    def void_is_the_word_of_two_people(self) -> None:
        row = self.row()
        if row is not None and row.state == RecordState.VOID:
            assert row.void_asked_by_id
            assert row.voided_by_id
            assert row.void_asked_by_id != row.voided_by_id


@pytest.mark.django_db
def test_the_rules_hold_in_random_histories() -> None:
    few = settings(max_examples=25, stateful_step_count=14, deadline=None, suppress_health_check=list(HealthCheck))
    run_state_machine_as_test(Histories, settings=few)
    assert RecordState.LOCKED in RecordState


@pytest.mark.django_db
def test_a_history_can_reach_the_lock() -> None:
    """The machine above is worth something only if its steps lead to the end."""
    machine = Histories()
    machine.enter("inspector", "note")
    machine.enter("lead", "declared_complete")
    machine.make_ready("lead")
    machine.sign("lead", RecordMeaning.PERFORMED)
    machine.sign("engineer", RecordMeaning.REVIEWED)
    row = machine.row()
    assert row is not None
    assert row.state == RecordState.LOCKED
    machine.locked_content_never_changes()
    machine.enter("lead", "note")
    machine.locked_content_never_changes()
    machine.recorder_and_reviewer_are_two_people()
    machine.teardown()
