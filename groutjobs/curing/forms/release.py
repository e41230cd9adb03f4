"""Forms of releases: the signature under the evidence, and taking a release back."""

from typing import Any

from django import forms

from groutjobs.accounts.forms import ProofForm
from groutjobs.fields import SheetForm, TextField
from groutjobs.reasons import REASON_LEAST, is_reason


class ReleaseForm(ProofForm):
    """What was seen, the reason where the evidence speaks against it, and the person's proof once more."""

    evidence_sha256 = forms.CharField(widget=forms.HiddenInput)
    reason = TextField(label="Remark", max_length=500, long=True, required=False)
    field_order = ["reason", "password", "code"]

    def __init__(self, *args: Any, against: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if against:
            field = self.fields["reason"]
            field.label, field.required = "Why it is released although the evidence does not carry it", True
            field.help_text = "This sentence and your name are printed in the report."

    def clean_reason(self) -> str:
        text: str = self.cleaned_data["reason"].strip()
        if self.fields["reason"].required and not is_reason(text):
            words = f"has {len(text)} characters; a reason has at least {REASON_LEAST} [GROUTJOBS]."
            raise forms.ValidationError(f"{self.fields['reason'].label}: it {words}", code="short")
        return text


class ReleaseBackForm(SheetForm):
    reason = TextField(label="Why the release is taken back", max_length=500, long=True)
