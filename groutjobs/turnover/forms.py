"""Forms of the turnover: freezing with accepted deviations, signing, sending back, and the search of the register."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.http import QueryDict

from groutjobs.accounts.forms import ProofForm
from groutjobs.errors import GroutJobsError
from groutjobs.fields import DayField, PickField, ReasonField, SheetForm, StatedField, TextField, quoted
from groutjobs.findings import Finding
from groutjobs.pours.photos import keep as keep_picture
from groutjobs.turnover.models import ReportState

REVISES = "revises_because"
MOST_READERS = 20
MOST_PAPER_BYTES = 10 * 1024 * 1024
MOST_CHECKED_BYTES = 20 * 1024 * 1024
LINK_DAYS = [("7", "7 days"), ("14", "14 days"), ("30", "30 days"), ("90", "90 days"), ("365", "a year")]


class FreezeForm(SheetForm):
    """One reason for each thing that stands in the way, to accept it as a deviation."""

    def __init__(self, *args: Any, blockers: Sequence[Finding], replaces: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if replaces:
            self.fields[REVISES] = ReasonField(
                label=f"Why another revision takes the place of {replaces}",
                help_text="This sentence is printed on the cover of the new revision.",
            )
        for blocker in blockers:
            self.fields[blocker.code] = ReasonField(
                label=f"Why the turnover goes ahead although: {blocker.message}",
                help_text="This sentence and your name are printed in the report.",
            )

    def reasons(self) -> dict[str, str]:
        """Code of the finding → reason."""
        return {name: words for name, words in self.cleaned_data.items() if name != REVISES}

    def revision(self) -> dict[str, str]:
        """Why the new revision takes the place of another, as an argument of the action."""
        return {REVISES: str(self.cleaned_data.get(REVISES, ""))}


class SignForm(ProofForm):
    """The signature: what was seen, the statement ticked, and password and code once more."""

    manifest_sha256 = forms.CharField(widget=forms.HiddenInput)
    has_read = StatedField(label="I have read the report and mean the sentence above")
    field_order = ["has_read", "password", "code"]


class ReturnForm(SheetForm):
    reason = ReasonField(label="Why the report goes back")


class WithdrawForm(SheetForm):
    reason = ReasonField(label="Why the report is withdrawn")


class RevokeForm(SheetForm):
    reason = ReasonField(label="Why the link ends")


class RecipientsField(TextField):
    """One reader on each line: name; organisation; e-mail. Cleans to a list of dicts."""

    def __init__(self, *, label: str, **kwargs: Any) -> None:
        super().__init__(label=label, max_length=6000, long=True, **kwargs)

    def clean(self, value: Any) -> Any:
        lines = [line for line in super().clean(value).splitlines() if line.strip()]
        if len(lines) > MOST_READERS:
            raise ValidationError(f"{self.label}: {len(lines)} lines; up to {MOST_READERS} are taken [GROUTJOBS].")
        return [self._row(number, line) for number, line in enumerate(lines, 1)]

    def _row(self, number: int, line: str) -> dict[str, str]:
        cells = [cell.strip() for cell in line.split(";")]
        if len(cells) > 3 or not cells[0]:
            raise ValidationError(
                f"{self.label}, line {number}: {quoted(line)} is not “name; organisation; e-mail” [GROUTJOBS]."
            )
        name, organisation, email = (*cells, "", "")[:3]
        for what, text in (("name", name), ("organisation", organisation)):
            if len(text) > 100:
                raise ValidationError(
                    f"{self.label}, line {number}: {what} {quoted(text)} is longer than 100 characters, the limit "
                    "[GROUTJOBS]."
                )
        if email:
            self._check_email(number, email)
        return {"name": name, "organisation": organisation, "email": email}

    def _check_email(self, number: int, email: str) -> None:
        try:
            validate_email(email)
        except ValidationError as error:
            raise ValidationError(
                f"{self.label}, line {number}: {quoted(email)} is not an e-mail address [GROUTJOBS]."
            ) from error


class IssueForm(SheetForm):
    recipients = RecipientsField(
        label="Who gets the report",
        help_text="One reader on each line: name; organisation; e-mail. Organisation and e-mail may be left out.",
    )
    days = PickField(label="How long the links are open", choices=LINK_DAYS, initial="30")


class LinkForm(SheetForm):
    days = PickField(label="How long the link is open", choices=LINK_DAYS, initial="30")


class AcceptForm(SheetForm):
    """The client takes a report over at the page of the link."""

    name = TextField(label="Your name", max_length=100)
    organisation = TextField(label="For which organisation", max_length=100, required=False)
    accepted_on = DayField(label="Day of acceptance")
    has_read = StatedField(label="I have read the report and mean the sentence above")
    code = TextField(
        label="The code that you were told", max_length=20, help_text="Eight digits; not part of the link."
    )


class PaperForm(SheetForm):
    """The client signed on paper; the scan is kept with what it says."""

    name = TextField(label="Who signed", max_length=100)
    organisation = TextField(label="For which organisation", max_length=100, required=False)
    accepted_on = DayField(label="Day beside the signature")
    scan = forms.FileField(label="Scan of the paper", help_text="PDF, JPEG or PNG of at most 10 MB.", required=False)

    def clean_scan(self) -> tuple[bytes, str]:
        """The content and its kind; a picture is written anew, a PDF is kept as it came and never shown as a page."""
        given = self.cleaned_data["scan"]
        if given is None:
            raise ValidationError("Scan of the paper is empty; PDF, JPEG or PNG of at most 10 MB is taken [GROUTJOBS].")
        if given.size > MOST_PAPER_BYTES:
            raise ValidationError(
                f"Scan of the paper has {given.size / 2**20:.1f} MB; at most 10 MB is taken [GROUTJOBS]."
            )
        content = given.read()
        if content.startswith(b"%PDF-"):
            return content, "pdf"
        try:
            return keep_picture(content).content, "jpg"
        except GroutJobsError as error:
            raise ValidationError(f"Scan of the paper: {error}") from error


class FileToCheckForm(SheetForm):
    """A PDF that somebody wants to have checked; it is read, judged and forgotten."""

    file = forms.FileField(
        label="Turnover report as PDF",
        help_text="At most 20 MB. It is not kept.",
        error_messages={
            "required": "Turnover report as PDF is missing; choose a file of at most 20 MB [GROUTJOBS].",
            "empty": "Turnover report as PDF is empty; choose a file of at most 20 MB [GROUTJOBS].",
        },
    )

    def clean_file(self) -> bytes:
        given = self.cleaned_data["file"]
        if given.size > MOST_CHECKED_BYTES:
            raise ValidationError(
                f"Turnover report as PDF has {given.size / 2**20:.1f} MB; at most 20 MB is taken [GROUTJOBS]."
            )
        content: bytes = given.read()
        return content


class RegisterForm(SheetForm):
    """Search and filters of the register; all may be empty."""

    words = TextField(label="Words, anywhere in the report", max_length=100, required=False)
    site = PickField(label="Site", required=False)
    machine = TextField(label="Machine tag", max_length=60, required=False)
    state = PickField(label="State", required=False, choices=[("", "any"), *ReportState.choices])
    grout = PickField(label="Grout", required=False)
    year = PickField(label="Year of freezing", required=False)
    since = DayField(label="Frozen from", required=False)
    until = DayField(label="Frozen to", required=False)
    open_only = forms.BooleanField(label="With open nonconformances", required=False)

    def __init__(self, *args: Any, choices: dict[str, list[tuple[str, str]]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, offered in choices.items():
            field = self.fields[name]
            if isinstance(field, PickField):
                field.choices = [("", "any"), *offered]


class SaveSearchForm(SheetForm):
    """A name for the search that is shown."""

    name = TextField(label="Keep this search as", max_length=60)
    query = forms.CharField(widget=forms.HiddenInput, required=False, max_length=600)

    def clean_query(self) -> str:
        """Only the fields of the register, written anew, so that a kept search leads nowhere else."""
        given = QueryDict(self.cleaned_data["query"])
        kept = QueryDict(mutable=True)
        for name in RegisterForm.base_fields:
            if given.get(name):
                kept[name] = given[name]
        return kept.urlencode()
