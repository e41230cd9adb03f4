"""Forms of releases: the signature under the evidence, and taking a release back."""

from typing import Any

from django import forms
from django.contrib.auth import authenticate
from django.http import HttpRequest

from groutjobs.accounts.access import person
from groutjobs.accounts.forms import SecretField
from groutjobs.curing.release_actions import REASON_LEAST
from groutjobs.fields import SheetForm, TextField


class ReleaseForm(SheetForm):
    """What was seen, the reason where the evidence speaks against it, and the password once more."""

    evidence_sha256 = forms.CharField(widget=forms.HiddenInput)
    reason = TextField(label="Remark", max_length=500, long=True, required=False)
    password = SecretField(label="Your password, to sign")

    def __init__(self, *args: Any, request: HttpRequest, against: list[str], **kwargs: Any) -> None:
        self.request = request
        super().__init__(*args, **kwargs)
        if against:
            field = self.fields["reason"]
            field.label, field.required = "Why it is released although the evidence does not carry it", True
            field.help_text = "This sentence and your name are printed in the report."

    def clean_reason(self) -> str:
        text: str = self.cleaned_data["reason"].strip()
        if self.fields["reason"].required and len(text) < REASON_LEAST:
            words = f"has {len(text)} characters; a reason has at least {REASON_LEAST} [GROUTJOBS]."
            raise forms.ValidationError(f"{self.fields['reason'].label}: it {words}", code="short")
        return text

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if "password" in given and not self.errors:
            signer = person(self.request)
            if authenticate(self.request, username=signer.email, password=given["password"]) != signer:
                self.add_error("password", "This is not your password; nothing was signed. Type it again [GROUTJOBS].")
        return given


class ReleaseBackForm(SheetForm):
    reason = TextField(label="Why the release is taken back", max_length=500, long=True)
