"""Searches of the register that a person keeps."""

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.errors import NotAllowed
from groutjobs.turnover.models import SavedSearch

MOST_SEARCHES = 30


@action
def save_search(*, name: str, query: str, by: User) -> SavedSearch:
    """Keep a search under a name; the same name takes the new search."""
    row = SavedSearch.objects.filter(person=by, name=name).first()
    if row is None and SavedSearch.objects.filter(person=by).count() >= MOST_SEARCHES:
        raise NotAllowed(f"You keep {MOST_SEARCHES} searches already; forget one first.")
    before = snapshot(row) if row else None
    row = row or SavedSearch(person=by, name=name)
    row.query = query
    row.save()
    record(row, by=by, kind="search.kept", before=before, extra={"query": query})
    return row


@action
def forget_search(*, search: SavedSearch, by: User) -> None:
    """Forget a search of one's own."""
    if search.person_id != by.pk:
        raise NotAllowed("This search is somebody else's.")
    record(search, by=by, kind="search.forgotten", before=snapshot(search), extra={"name": search.name})
    search.delete()
