"""Forms of outages and of choosing an hour."""

from typing import Any

from groutjobs.equipment.models import Site
from groutjobs.fields import RowPickField, SheetForm, TextField, WhenField
from groutjobs.outages.models import Outage


class OutageForm(SheetForm):
    name = TextField(label="Name", max_length=80)
    starts_at = WhenField(label="Starts")
    ends_at = WhenField(label="Ends")

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        starts_at, ends_at = given.get("starts_at"), given.get("ends_at")
        if starts_at and ends_at and ends_at <= starts_at:
            self.add_error("ends_at", "Ends is not after Starts; an outage ends after it starts [GROUTJOBS].")
        return given


class ChangeOutageForm(OutageForm):
    reason = TextField(label="Reason", max_length=200, help_text="Why it moves; kept in the record.")


class ChooseForm(SheetForm):
    outage = RowPickField(
        Outage.objects.none(), label="Outage", required=False, empty_label="none", help_text="The one it belongs to."
    )
    align_by_at = WhenField(
        label="Alignment must start by", required=False, help_text="Leave empty where no date is set."
    )
    reason = TextField(
        label="Reason",
        max_length=200,
        required=False,
        help_text="Needed where something stands in the way: who decided it, and why.",
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, zone=site.zone, **kwargs)
        self.fields["outage"].queryset = Outage.objects.filter(site=site)  # type: ignore[attr-defined]
