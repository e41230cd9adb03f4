"""Forms about people."""

from typing import Any

from django import forms
from django.contrib.auth import authenticate
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.http import HttpRequest

from groutjobs.accounts.access import person
from groutjobs.accounts.factor import has_factor
from groutjobs.accounts.models import Role, UnitSystem, User
from groutjobs.fields import PickField, SheetForm, TextField, quoted


class AddressField(TextField):
    """An e-mail address of up to 254 characters."""

    def __init__(self, *, label: str = "E-mail address", **kwargs: Any) -> None:
        widget = forms.EmailInput(attrs={"autocomplete": "username"})
        super().__init__(label=label, max_length=254, widget=widget, **kwargs)

    def clean(self, value: Any) -> str:
        text = super().clean(value).strip()
        try:
            validate_email(text)
        except ValidationError as error:
            raise ValidationError(
                f"{self.label} {quoted(text)} is not an address; write it as name@example.org [RFC5321]."
            ) from error
        return text.lower()


class SecretField(TextField):
    """A password: pasted or typed, up to 128 characters, never shown again."""

    def __init__(self, *, label: str, is_new: bool = False) -> None:
        kind = "new-password" if is_new else "current-password"
        super().__init__(
            label=label, max_length=128, strip=False, widget=forms.PasswordInput(attrs={"autocomplete": kind})
        )

    def clean(self, value: Any) -> str:
        text = str(value or "")
        if len(text) > self.limit_length:
            raise ValidationError(
                f"{self.label} has {len(text)} characters; up to {self.limit_length} are taken [GROUTJOBS].",
                code="long",
            )
        return super().clean(value)


class RolesField(forms.MultipleChoiceField):
    """One or more roles at a site."""

    def __init__(self, *, label: str = "Roles", required: bool = True) -> None:
        super().__init__(label=label, choices=Role.choices, required=required, widget=forms.CheckboxSelectMultiple)

    def clean(self, value: Any) -> list[Role]:
        texts = [str(item) for item in value or []]
        if not texts and self.required:
            raise ValidationError(f"{self.label} are not chosen; tick one or more of the list [GROUTJOBS].")
        for text in texts:
            if not self.valid_value(text):
                raise ValidationError(f"{self.label}: {quoted(text)} is not in the list [GROUTJOBS].")
        return [Role(text) for text in texts]


class SignInForm(SheetForm):
    email = AddressField()
    password = SecretField(label="Password")

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        self.request = request
        self.person: User | None = None
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if "email" in given and "password" in given:
            self.person = authenticate(self.request, username=given["email"], password=given["password"])
            if self.person is None:
                raise ValidationError("Address and password do not belong together. Check both and try again.")
        return given


class NewPasswordMixin(SheetForm):
    """Two equal passwords that pass the site's rules."""

    def check_passwords(self, person: User) -> None:
        first, second = self.cleaned_data.get("password"), self.cleaned_data.get("repeated")
        if first and second and first != second:
            self.add_error("repeated", "Password again differs from the password. Type the same one twice [GROUTJOBS].")
        elif first:
            try:
                validate_password(first, person)
            except ValidationError as error:
                self.add_error("password", [f"New password: {message} [NIST800-63B]" for message in error.messages])


class InvitationAnswerForm(NewPasswordMixin):
    password = SecretField(label="New password", is_new=True)
    repeated = SecretField(label="Password again", is_new=True)

    def __init__(self, *args: Any, person: User, **kwargs: Any) -> None:
        self.person = person
        super().__init__(*args, **kwargs)
        self.fields["password"].help_text = "At least 12 characters; a phrase is easier to type than a puzzle."

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.check_passwords(self.person)
        return self.cleaned_data


class PasswordForm(InvitationAnswerForm):
    present = SecretField(label="Present password")
    field_order = ["present", "password", "repeated"]

    def clean(self) -> dict[str, Any]:
        super().clean()
        present = self.cleaned_data.get("present")
        if present and not self.person.check_password(present):
            self.add_error("present", "Present password is not the one on record. Nothing was changed [GROUTJOBS].")
        return self.cleaned_data


class PreferencesForm(SheetForm):
    name = TextField(label="Full name", max_length=100, help_text="Printed beside your signatures from now on.")
    unit_system = PickField(
        label="Units shown",
        choices=UnitSystem.choices,
        help_text="Records keep what was typed and the SI value whatever you choose.",
    )


class InviteForm(SheetForm):
    email = AddressField()
    name = TextField(label="Full name", max_length=100)
    roles = RolesField()


class RolesForm(SheetForm):
    roles = RolesField(label="Roles at this site", required=False)


class CodeField(TextField):
    """The code of a second factor, or a recovery code; spaces and hyphens do not matter."""

    def __init__(self, *, label: str = "Code of your second factor") -> None:
        widget = forms.TextInput(attrs={"autocomplete": "one-time-code", "spellcheck": "false"})
        super().__init__(
            label=label, max_length=40, widget=widget,
            help_text="The six digits that your phone shows now, or one of your recovery codes. Each is good once.",
        )  # fmt: skip


class CodeForm(SheetForm):
    code = CodeField()


class ProofForm(SheetForm):
    """The person proves himself again, for this one step: password, and a code where he has a second factor."""

    password = SecretField(label="Your password, to sign")

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        self.request = request
        super().__init__(*args, **kwargs)
        if has_factor(person(request)):
            self.fields["code"] = CodeField()
            self.order_fields(self.field_order)

    @property
    def proved_by(self) -> str:
        return "password and second factor" if "code" in self.fields else "password"

    def clean(self) -> dict[str, Any]:
        """The code is asked for last: it is used up by the question."""
        given = super().clean() or {}
        if "password" in given and not self.errors and not self._is_mine(password=given["password"]):
            self.add_error("password", "This is not your password; nothing was signed. Type it again [GROUTJOBS].")
        if "code" in given and not self.errors and not self._is_mine(second_secret=given["code"]):
            words = "This is no code of yours, or it was used before; nothing was signed. Wait for the next [RFC6238]."
            self.add_error("code", words)
        return given

    def _is_mine(self, **secret: str) -> bool:
        signer = person(self.request)
        return authenticate(self.request, username=signer.email, **secret) == signer


class ResetFactorForm(SheetForm):
    reason = TextField(label="Why the second factor is reset", max_length=300, long=True)
