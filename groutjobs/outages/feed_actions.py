"""Making and revoking calendar addresses."""

import hashlib
import secrets

from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.outages.models import CalendarLink, Outage

CODE_BYTES = 32


def hash_of_code(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()


@action
def make_calendar_link(*, outage: Outage, by: User) -> tuple[CalendarLink, str]:
    """A new address for the person, with its code, which is shown once; earlier ones of this outage end."""
    for earlier in CalendarLink.objects.filter(outage=outage, person=by, revoked_at=None):
        _revoke(earlier, by)
    code = secrets.token_urlsafe(CODE_BYTES)
    link = CalendarLink.objects.create(outage=outage, person=by, code_sha256=hash_of_code(code))
    record(link, by=by, kind="calendar_link.made")
    return link, code


@action
def revoke_calendar_links(*, outage: Outage, by: User) -> int:
    """End the person's address of this outage; how many ended."""
    links = list(CalendarLink.objects.filter(outage=outage, person=by, revoked_at=None))
    for link in links:
        _revoke(link, by)
    if not links:
        unchanged()
    return len(links)


def _revoke(link: CalendarLink, by: User) -> None:
    before = snapshot(link)
    link.revoked_at = timezone.now()
    link.save(update_fields=["revoked_at"])
    record(link, by=by, kind="calendar_link.revoked", before=before)
