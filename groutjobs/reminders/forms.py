"""The switch of a person's own reminders."""

from typing import Any

from groutjobs.fields import PickField, SheetForm

OFF, ON = "off", "on"


class MailForm(SheetForm):
    by_mail = PickField(
        label="Mail about this site",
        choices=[(OFF, "no mail"), (ON, "daily digest, and news")],
        help_text="The digest comes when the shift starts, and only when there is something to say.",
    )

    def __init__(self, *args: Any, by_mail: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["by_mail"] = ON if by_mail else OFF

    def wants(self) -> bool:
        return bool(self.cleaned_data["by_mail"] == ON)
