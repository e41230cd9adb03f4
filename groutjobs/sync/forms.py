"""Forms about phones at the desk, and the one form on a phone that joins."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groutjobs.accounts.forms import SecretField
from groutjobs.fields import PickField, ReasonField, SheetForm, TextField

RESCUE_MOST = 24 * 1024 * 1024
PIN_LEAST, PIN_MOST = 6, 12
ACCEPT, ASIDE = "accept", "aside"


class DeviceForm(SheetForm):
    name = TextField(
        label="Name of the phone", max_length=40, help_text="What stands on it, such as “Phone 4”. It is printed."
    )


class RevokeForm(SheetForm):
    reason = ReasonField(label="Why it is revoked")


class GapForm(SheetForm):
    reason = ReasonField(label="Why they will never come")


class DecisionForm(SheetForm):
    choice = PickField(
        label="What becomes of it",
        choices=[(ACCEPT, "It counts: enter it in the pour log"), (ASIDE, "It does not count: set it aside")],
        widget=forms.RadioSelect(),
    )
    reason = ReasonField(label="Why")


class RescueForm(SheetForm):
    file = forms.FileField(label="Rescue file", help_text="The file that the phone exported, .json, up to 24 MB.")

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > RESCUE_MOST:
            raise ValidationError(
                f"Rescue file “{file.name}” has {file.size} bytes; up to {RESCUE_MOST} are taken [GROUTJOBS]."
            )
        return file


class JoinForm(SheetForm):
    code = TextField(
        label="Code from the desk", max_length=40, help_text="Ten signs, such as 7KQ2M-X4TBD. It works for ten minutes."
    )


class PinForm(SheetForm):
    present = SecretField(label="Password")
    pin = SecretField(label="PIN for phones", is_new=True)

    def clean_pin(self) -> str:
        pin = str(self.cleaned_data["pin"])
        if not (pin.isascii() and pin.isdigit() and PIN_LEAST <= len(pin) <= PIN_MOST):
            raise ValidationError(f"PIN for phones is not {PIN_LEAST} to {PIN_MOST} digits [GROUTJOBS].", code="digits")
        if len(set(pin)) < 3 or pin in "01234567890123456789" or pin in "98765432109876543210":
            raise ValidationError(
                "PIN for phones is one of the first that anybody tries; take another [GROUTJOBS].", code="easy"
            )
        return pin
