"""Forms of the turnover: freezing with accepted deviations, signing, sending back, and the search of the register."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groutjobs.accounts.forms import ProofForm
from groutjobs.equipment.models import Site
from groutjobs.fields import PickField, SheetForm, TextField, quoted
from groutjobs.findings import Finding
from groutjobs.turnover.models import ReportState

REASON_LEAST, REASON_MOST = 10, 300


class ReasonField(TextField):
    """Why: a sentence of 10 to 300 characters."""

    def __init__(self, *, label: str, **kwargs: Any) -> None:
        super().__init__(label=label, max_length=REASON_MOST, long=True, **kwargs)

    def clean(self, value: Any) -> str:
        text = super().clean(value).strip()
        if text and len(text) < REASON_LEAST:
            raise ValidationError(
                f"{self.label} {quoted(text)} has {len(text)} characters; a reason has at least {REASON_LEAST} "
                "[GROUTJOBS].",
                code="short",
            )
        return text


class TickField(forms.BooleanField):
    """A statement that must be ticked."""

    def clean(self, value: Any) -> bool:
        if not self.to_python(value):
            raise ValidationError(f"“{self.label}” is not ticked; it is part of the signature [GROUTJOBS].")
        return True


class FreezeForm(SheetForm):
    """One reason for each thing that stands in the way, to accept it as a deviation."""

    def __init__(self, *args: Any, blockers: Sequence[Finding], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for blocker in blockers:
            self.fields[blocker.code] = ReasonField(
                label=f"Why the turnover goes ahead although: {blocker.message}",
                help_text="This sentence and your name are printed in the report.",
            )

    def reasons(self) -> dict[str, str]:
        """Code of the finding → reason."""
        return dict(self.cleaned_data)


class SignForm(ProofForm):
    """The signature: what was seen, the statement ticked, and password and code once more."""

    manifest_sha256 = forms.CharField(widget=forms.HiddenInput)
    has_read = TickField(label="I have read the report and mean the sentence above")
    field_order = ["has_read", "password", "code"]


class WithdrawForm(SheetForm):
    reason = ReasonField(label="Why the report goes back")


class RegisterForm(SheetForm):
    """Search and filters of the register; all may be empty."""

    words = TextField(label="Number, tag, service, person, lot or site", max_length=100, required=False)
    site = PickField(label="Site", required=False)
    state = PickField(label="State", required=False, choices=[("", "any"), *ReportState.choices])
    year = PickField(label="Year of freezing", required=False)

    def __init__(self, *args: Any, sites: Sequence[Site], years: Sequence[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._choose("site", [(str(site.pk), site.name) for site in sites])
        self._choose("year", [(str(year), str(year)) for year in years])

    def _choose(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        if isinstance(field, PickField):
            field.choices = [("", "any"), *choices]
