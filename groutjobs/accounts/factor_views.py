"""Pages of the second factor: the code at sign-in, setting one up, and the reset by the administrator."""

import time

import segno
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import authenticate, login
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from groutjobs.accounts import factor, factor_actions
from groutjobs.accounts.access import (
    FACTOR_OWED,
    allowed,
    before_factor,
    person,
    posted,
    public,
    row_or_404,
    signed_in,
)
from groutjobs.accounts.forms import CodeForm, ProofForm, ResetFactorForm
from groutjobs.accounts.models import Membership, Role, SecondFactor, User
from groutjobs.accounts.queries import colleagues
from groutjobs.errors import NotAllowed

WAITS_FOR_CODE, SINCE = "second_factor_of", "second_factor_since"
CODE_WITHIN_S = 300
MODEL_BACKEND = "django.contrib.auth.backends.ModelBackend"


def let_in(request: HttpRequest, known: User, wanted: str) -> HttpResponse:
    """After the password: ask for the code, or begin the session and lead to what is still owed."""
    if factor.has_factor(known):
        request.session[WAITS_FOR_CODE], request.session[SINCE] = known.pk, time.time()
        return redirect(f"{reverse('accounts:sign_in_code')}?{urlencode({'next': wanted})}")
    return begin_session(request, known, wanted)


def begin_session(request: HttpRequest, known: User, wanted: str) -> HttpResponse:
    login(request, known, backend=MODEL_BACKEND)
    if factor.owes_factor(known):
        request.session[FACTOR_OWED] = True
        return redirect("accounts:second_factor")
    is_ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return redirect(wanted if is_ours else resolve_url(settings.LOGIN_REDIRECT_URL))


@public
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_code(request: HttpRequest) -> HttpResponse:
    """The second step of signing in. Whoever has not given his password within five minutes begins again."""
    is_fresh = time.time() - request.session.get(SINCE, 0) < CODE_WITHIN_S
    known = (
        User.objects.filter(pk=request.session.get(WAITS_FOR_CODE) or 0, is_active=True).first() if is_fresh else None
    )
    if known is None:
        return redirect("accounts:sign_in")
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    form = CodeForm(posted(request))
    if form.is_valid():
        if authenticate(request, username=known.email, second_secret=form.cleaned_data["code"]) == known:
            return begin_session(request, known, wanted)
        form.add_error("code", "This is no code of yours, or it was used before. Wait for the next one [RFC6238].")
    if getattr(request, "axes_locked_out", False):
        return render(request, "accounts/sign_in_slowed.html", status=429)
    return render(request, "accounts/sign_in_code.html", {"form": form, "next": wanted})


@signed_in
@before_factor
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def second_factor(request: HttpRequest) -> HttpResponse:
    """Where a person stands with it; a new one is begun here, after a proof where one is in use."""
    row = SecondFactor.objects.filter(person=person(request)).first()
    in_use = row if row and row.confirmed_at else None
    form = ProofForm(posted(request), request=request) if in_use else None
    if request.method == "POST" and (form is None or form.is_valid()):
        factor_actions.begin_second_factor(by=person(request))
        request.session[FACTOR_OWED] = factor.owes_factor(person(request))
        return redirect("accounts:second_factor_confirm")
    context = {"in_use": in_use, "form": form, "is_owed": request.session.get(FACTOR_OWED, False)}
    return render(request, "accounts/second_factor.html", context)


@signed_in
@before_factor
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def second_factor_confirm(request: HttpRequest) -> HttpResponse:
    """The secret to scan, and the first code; then the recovery codes, this once."""
    row = SecondFactor.objects.filter(person=person(request), confirmed_at=None).first()
    if row is None:
        return redirect("accounts:second_factor")
    form = CodeForm(posted(request))
    if form.is_valid():
        try:
            codes = factor_actions.confirm_second_factor(by=person(request), code=form.cleaned_data["code"])
        except NotAllowed as error:
            form.add_error("code", f"{error} [RFC6238]")
        else:
            request.session.pop(FACTOR_OWED, None)
            return render(request, "accounts/second_factor_codes.html", {"codes": codes})
    secret = factor_actions.secret_of(row)
    square = segno.make(factor.address_to_scan(secret, person(request)), error="m", micro=False)
    picture = square.svg_inline(border=4, scale=5, svgclass=None, lineclass=None, title="Secret of your second factor")
    words = [secret[at : at + 4] for at in range(0, len(secret), 4)]
    return render(request, "accounts/second_factor_confirm.html", {"form": form, "picture": picture, "words": words})


@allowed(read={Role.ADMINISTRATOR}, write={Role.ADMINISTRATOR})
def factor_reset(request: HttpRequest, site_id: int, user_id: int) -> HttpResponse:
    own = row_or_404(request, Membership.objects.select_related("site"), site_id=site_id, user=person(request))
    colleague = next((one for one in colleagues(site_id) if one.user.pk == user_id), None)
    if colleague is None:
        raise Http404
    form = ResetFactorForm(posted(request))
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        factor_actions.reset_second_factor(person=colleague.user, site_id=site_id, reason=reason, by=person(request))
        messages.success(request, f"{colleague.user.name} sets up a new second factor at the next sign-in.")
        return redirect("accounts:roles_form", site_id=site_id, user_id=user_id)
    row = SecondFactor.objects.filter(person=colleague.user).first()
    context = {"site": own.site, "form": form, "colleague": colleague, "row": row}
    return render(request, "accounts/factor_reset.html", context)
