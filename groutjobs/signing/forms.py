"""Forms of the pour record: reasons for what is missing, a signature, sending back, void, addendum, late entries."""

from collections.abc import Sequence
from typing import Any

from django import forms

from groutjobs.accounts.forms import ProofForm
from groutjobs.fields import ReasonField, SheetForm, StatedField, TextField
from groutjobs.findings import Finding


class ReadyForm(SheetForm):
    """One reason for each thing that is missing and goes ahead all the same."""

    def __init__(self, *args: Any, missing: Sequence[Finding], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for item in missing:
            self.fields[item.code] = ReasonField(label=f"Why it goes ahead although: {item.message}")


class NameForm(ProofForm):
    """A name under the record: what was seen, the statement ticked, password and code."""

    seen_sha256 = forms.CharField(widget=forms.HiddenInput)
    has_read = StatedField(label="I have read the record and mean the sentence above")
    field_order = ["has_read", "has_read_trail", "password", "code"]

    def __init__(self, *args: Any, with_trail: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if with_trail:
            self.fields["has_read_trail"] = StatedField(label="I have read the change trail of this pour")
            self.order_fields(self.field_order)


class ReasonForm(SheetForm):
    reason = ReasonField(label="Reason")


class AddendumForm(ProofForm):
    """What a locked record must be read with; signed as it is sent."""

    wrong = TextField(label="What is wrong in the record", max_length=500, long=True)
    right = TextField(label="What is right", max_length=500, long=True)
    evidence = TextField(label="Evidence: who or what shows it", max_length=500, long=True)
    reason = ReasonField(label="Why it was not right from the start")
    field_order = ["wrong", "right", "evidence", "reason", "password", "code"]
