"""What the pour log tells as it grows is taken up here, in the same transaction."""

from typing import Any

from groutjobs.accounts.models import User
from groutjobs.pours.models import Pour, PourEntry
from groutjobs.signing.actions import follow_entries


def follow(*, pour: Pour, by: User, entry: PourEntry | None, **_: Any) -> None:
    """Hand the news to the record of the pour."""
    follow_entries(pour=pour, by=by, entry=entry)
