"""The change trail as a page: filters in the address, twenty-five events at a time, the newest first."""

import datetime as dt
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpRequest

from groutjobs.accounts.access import person
from groutjobs.accounts.models import User
from groutjobs.audit.models import Event
from groutjobs.audit.words import kind_words, people_in, told
from groutjobs.equipment.models import Site
from groutjobs.fields import PickField, SheetForm, TextField

PER_PAGE = 25


class TrailForm(SheetForm):
    """Filters of a trail; all may be empty."""

    words = TextField(label="In reason, thing or new value", max_length=100, required=False)
    kind = PickField(label="Kind of step", required=False)
    who = PickField(label="Who", required=False)
    since = TextField(label="Since day (2026-04-30)", max_length=10, required=False)

    def __init__(self, *args: Any, kinds: list[str], people: list[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [("", "any"), *((one, kind_words(one)) for one in kinds)]  # type: ignore[attr-defined]
        self.fields["who"].choices = [("", "anybody"), *((str(key), name) for key, name in people)]  # type: ignore[attr-defined]

    def clean_since(self) -> dt.date | None:
        text = self.cleaned_data.get("since", "").strip()
        try:
            return dt.date.fromisoformat(text) if text else None
        except ValueError:
            self.add_error("since", f"Since day “{text}” is no day; write it as 2026-04-30 [ISO8601].")
            return None


def trail_context(request: HttpRequest, events: QuerySet[Event], site: Site) -> dict[str, Any]:
    """Filters, one page of events in words, and what the next page's address needs; five queries."""
    kinds = list(events.order_by("kind").values_list("kind", flat=True).distinct())
    actors = events.filter(actor_id__isnull=False).order_by().values("actor_id").distinct()
    people = list(User.objects.filter(pk__in=actors).order_by("name").values_list("pk", "name"))
    form = TrailForm(request.GET or None, kinds=kinds, people=people)
    found = _filtered(events, form, site) if form.is_bound and form.is_valid() else events
    page = Paginator(found.order_by("-seq"), PER_PAGE).get_page(request.GET.get("page"))
    rows = list(page.object_list)
    names = dict(User.objects.filter(pk__in=people_in(rows)).values_list("pk", "name"))
    query = request.GET.copy()
    query.pop("page", None)
    return {
        "form": form,
        "page": page,
        "rows": told(rows, names, system=person(request).unit_system),
        "query": query.urlencode(),
        "site": site,
    }


def _filtered(events: QuerySet[Event], form: TrailForm, site: Site) -> QuerySet[Event]:
    given = form.cleaned_data
    for word in given["words"].split():
        events = events.filter(Q(reason__icontains=word) | Q(object_label__icontains=word) | Q(body__icontains=word))
    if given["kind"]:
        events = events.filter(kind=given["kind"])
    if given["who"]:
        events = events.filter(actor_id=int(given["who"]))
    if given["since"]:
        events = events.filter(at__gte=dt.datetime.combine(given["since"], dt.time(), site.tz))
    return events
