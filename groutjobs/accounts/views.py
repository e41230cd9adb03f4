"""Sign-in, invitations, own settings, and the people of a site."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout, update_session_auth_hash
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from groutjobs.accounts import actions
from groutjobs.accounts.access import allowed, before_factor, person, posted, public, row_or_404, rows_for, signed_in
from groutjobs.accounts.factor_views import begin_session, let_in
from groutjobs.accounts.forms import (
    InvitationAnswerForm,
    InviteForm,
    PasswordForm,
    PreferencesForm,
    RolesForm,
    SignInForm,
)
from groutjobs.accounts.models import Invitation, Membership, Role, User
from groutjobs.accounts.queries import colleagues, open_invitations


@public
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    form = SignInForm(posted(request), request=request)
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    if form.is_valid() and form.person:
        return let_in(request, form.person, wanted)
    if getattr(request, "axes_locked_out", False):
        return render(request, "accounts/sign_in_slowed.html", status=429)
    return render(request, "accounts/sign_in.html", {"form": form, "next": wanted})


@signed_in
@before_factor
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect(settings.LOGOUT_REDIRECT_URL)


@public
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def invitation_answer(request: HttpRequest, code: str) -> HttpResponse:
    invitation = get_object_or_404(Invitation.objects.select_related("site"), code_hash=actions.hash_of_code(code))
    known = User.objects.filter(email=invitation.email).first()
    if not invitation.is_open:
        return render(request, "accounts/invitation_ended.html", status=410)
    if known and request.user != known:
        return redirect(f"{reverse('accounts:sign_in')}?next={request.path}")
    form = InvitationAnswerForm(posted(request), person=User(email=invitation.email, name=invitation.name))
    if request.method == "POST" and (known or form.is_valid()):
        password = None if known else form.cleaned_data["password"]
        joined = actions.accept_invitation(invitation=invitation, password=password)
        return redirect("board:day_sheet") if known else begin_session(request, joined, "")
    return render(request, "accounts/invitation_answer.html", {"form": form, "invitation": invitation, "known": known})


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def preferences(request: HttpRequest) -> HttpResponse:
    user = person(request)
    form = PreferencesForm(posted(request), initial={"name": user.name, "unit_system": user.unit_system})
    if form.is_valid():
        actions.change_preferences(by=user, **form.values())
        messages.success(request, "Your settings are kept.")
        return redirect("accounts:preferences")
    return render(request, "accounts/preferences.html", {"form": form, "password_form": PasswordForm(person=user)})


@signed_in
@require_POST
def password_change(request: HttpRequest) -> HttpResponse:
    user = person(request)
    form = PasswordForm(request.POST, person=user)
    if form.is_valid():
        actions.change_password(by=user, password=form.cleaned_data["password"])
        update_session_auth_hash(request, user)
        messages.success(request, "Your password is changed. Other sessions of yours have ended.")
        return redirect("accounts:preferences")
    shown = PreferencesForm(initial={"name": user.name, "unit_system": user.unit_system})
    return render(request, "accounts/preferences.html", {"form": shown, "password_form": form})


@allowed(read={Role.ADMINISTRATOR})
@require_GET
def people(request: HttpRequest) -> HttpResponse:
    held = rows_for(request, Membership.objects.filter(user=person(request), role=Role.ADMINISTRATOR))
    sites = [row.site for row in held.select_related("site").order_by("site__name")]
    if len(sites) == 1:
        return redirect("accounts:site_people", site_id=sites[0].pk)
    return render(request, "accounts/people.html", {"sites": sites})


@allowed(read={Role.ADMINISTRATOR}, write={Role.ADMINISTRATOR})
def site_people(request: HttpRequest, site_id: int) -> HttpResponse:
    own = row_or_404(request, Membership.objects.select_related("site"), site_id=site_id, user=person(request))
    form = InviteForm(posted(request))
    made = None
    if form.is_valid():
        _, code = actions.invite(site_id=site_id, by=person(request), **form.values())
        made = request.build_absolute_uri(reverse("accounts:invitation_answer", args=[code]))
        form = InviteForm()
    found = {"people": colleagues(site_id), "invitations": open_invitations(site_id)}
    return render(request, "accounts/site_people.html", {"site": own.site, "form": form, "made": made, **found})


@allowed(read={Role.ADMINISTRATOR}, write={Role.ADMINISTRATOR})
def roles_form(request: HttpRequest, site_id: int, user_id: int) -> HttpResponse:
    own = row_or_404(request, Membership.objects.select_related("site"), site_id=site_id, user=person(request))
    colleague = next((one for one in colleagues(site_id) if one.user.pk == user_id), None)
    if colleague is None:
        raise Http404
    form = RolesForm(posted(request), initial={"roles": list(colleague.roles)})
    if form.is_valid():
        actions.set_roles(site_id=site_id, user=colleague.user, roles=form.cleaned_data["roles"], by=person(request))
        return redirect("accounts:site_people", site_id=site_id)
    return render(request, "accounts/roles_form.html", {"site": own.site, "form": form, "colleague": colleague})
