"""The one door from a person to a row.

A view says who may read and who may write with `allowed`; it reaches rows only through `row_or_404` and
`rows_for`, which know the sites and roles of the person. A stranger to the site gets 404, a colleague without the
role gets 403.
"""

import functools
from collections.abc import Callable, Iterable
from typing import Any, TypeVar, cast

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed, QueryDict
from django.shortcuts import redirect

from groutjobs import units
from groutjobs.accounts.models import EVERY_ROLE, Membership, Role, User
from groutjobs.audit.models import AuditedRow

Row = TypeVar("Row", bound=AuditedRow)
View = Callable[..., HttpResponse]
READING = ("GET", "HEAD")
FACTOR_OWED = "second_factor_owed"


def allowed(*, read: Iterable[Role] = (), write: Iterable[Role] = ()) -> Callable[[View], View]:
    """Let signed-in people with these roles in: `read` for GET and HEAD, `write` for POST. An empty set closes it."""
    read_roles, write_roles = frozenset(read), frozenset(write)

    def wrap(view: View) -> View:
        @functools.wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            roles = read_roles if request.method in READING else write_roles
            if not roles or request.method not in (*READING, "POST"):
                methods = [*(READING if read_roles else ()), *(("POST",) if write_roles else ())]
                return HttpResponseNotAllowed(methods)
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path(), settings.LOGIN_URL)
            if _owes_factor(request):
                return redirect("accounts:second_factor")
            if not any(role in roles for held in roles_of(request).values() for role in held):
                raise PermissionDenied
            request.roles_needed = roles  # type: ignore[attr-defined]
            return view(request, *args, **kwargs)

        guarded.read_roles = read_roles  # type: ignore[attr-defined]
        guarded.write_roles = write_roles  # type: ignore[attr-defined]
        return guarded

    return wrap


def public(view: View) -> View:
    """Mark a view that needs no sign-in. Each one is listed in tests/house with its reason."""
    view.is_public = True  # type: ignore[attr-defined]
    return view


def signed_in(view: View) -> View:
    """Let any signed-in person in: pages about the person alone."""

    @functools.wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not request.user.is_authenticated:
            return redirect_to_login(request.get_full_path(), settings.LOGIN_URL)
        if _owes_factor(request) and not hasattr(view, "before_factor"):
            return redirect("accounts:second_factor")
        return view(request, *args, **kwargs)

    guarded.for_anyone_signed_in = True  # type: ignore[attr-defined]
    return guarded


def before_factor(view: View) -> View:
    """Mark a page that somebody reaches who still has to set up a second factor; stands under `signed_in`."""
    view.before_factor = True  # type: ignore[attr-defined]
    return view


def _owes_factor(request: HttpRequest) -> bool:
    """Whether this session began at a sign-in that led to setting up a second factor, and it is not done yet."""
    return bool(request.session.get(FACTOR_OWED))


def person(request: HttpRequest) -> User:
    """The signed-in person; views behind `allowed` and `signed_in` always have one."""
    return cast(User, request.user)


def roles_of(request: HttpRequest) -> dict[int, set[Role]]:
    """Roles by site of the signed-in person, read once for each request."""
    cached = getattr(request, "_roles_by_site", None)
    if cached is None:
        cached, demo_anywhere = {}, False
        memberships = Membership.objects.filter(user=person(request))
        for site_id, role, is_demo in memberships.values_list("site_id", "role", "site__is_demo"):
            cached.setdefault(site_id, set()).add(Role(role))
            demo_anywhere = demo_anywhere or is_demo
        request._roles_by_site = cached  # type: ignore[attr-defined]
        request._demo_anywhere = demo_anywhere  # type: ignore[attr-defined]
    return cast(dict[int, set[Role]], cached)


def rows_for(request: HttpRequest, rows: QuerySet[Row]) -> QuerySet[Row]:
    """Those rows that belong to sites where the person holds one of the roles this view needs."""
    needed = _needed(request)
    sites = [site_id for site_id, held in roles_of(request).items() if held & needed]
    return rows.filter(**{_site_lookup(rows) + "__in": sites})


def row_or_404(request: HttpRequest, rows: QuerySet[Row], **lookup: Any) -> Row:
    """The one row, or 404 for a stranger to its site, or 403 for a colleague without the role."""
    row = rows.filter(**lookup).first()
    if row is None:
        raise Http404
    held = roles_of(request).get(row.owning_site_id() or 0)
    if not held:
        raise Http404
    if not held & _needed(request):
        raise PermissionDenied
    return row


def may(request: HttpRequest, row: AuditedRow, roles: Iterable[Role]) -> bool:
    """Whether the person holds one of these roles at the site of the row; for what a page offers."""
    held = roles_of(request).get(row.owning_site_id() or 0, set())
    return bool(held & frozenset(roles))


def _needed(request: HttpRequest) -> frozenset[Role]:
    return cast(frozenset[Role], getattr(request, "roles_needed", EVERY_ROLE))


def _site_lookup(rows: QuerySet[Any]) -> str:
    path = rows.model.site_path
    return "pk" if path == "self" else path


def sheet(request: HttpRequest) -> dict[str, Any]:
    """What every template knows: the reader's units, the roles held anywhere, and whether a demonstration is shown."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"unit_system": units.METRIC, "roles_anywhere": frozenset(), "demo_anywhere": False}
    held = roles_of(request).values()
    return {
        "unit_system": user.unit_system,
        "roles_anywhere": frozenset().union(*held),
        "demo_anywhere": getattr(request, "_demo_anywhere", False),
    }


def name_tried(request: HttpRequest, credentials: dict[str, str] | None) -> str:
    """The address that a sign-in was tried with, in one spelling; wrong tries are counted by it.

    It is called “username” where a try has failed and “email” where the next one is looked at.
    """
    given = credentials or {}
    typed = given.get("username") or given.get("email") or request.POST.get("email", "")
    return typed[:254].strip().lower()


def address_tried_from(request: HttpRequest) -> str:
    """The network address a sign-in came from. Only a proxy on this machine is believed about whom it speaks for."""
    peer = str(request.META.get("REMOTE_ADDR", ""))
    spoken_for = str(request.META.get("HTTP_X_FORWARDED_FOR", ""))
    if spoken_for and peer in {"127.0.0.1", "::1", ""}:
        return spoken_for.rsplit(",", 1)[-1].strip()[:45]
    return peer


def posted(request: HttpRequest) -> QueryDict | None:
    """The data of a POST, also when it is empty, so that a form is bound and can say what is missing."""
    return request.POST if request.method == "POST" else None
