"""Phones at the desk: enrolling, what is still on them, what needs a decision, and the page on which a phone joins."""

from typing import Any
from uuid import UUID

import segno
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from groutjobs.accounts.access import (
    address_tried_from,
    allowed,
    may,
    person,
    posted,
    public,
    row_or_404,
    rows_for,
    signed_in,
)
from groutjobs.accounts.device_actions import enrol_device, make_device_code, revoke_device, set_phone_pin
from groutjobs.accounts.models import EVERY_ROLE, Device, Role
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.pours.actions import DECLARERS
from groutjobs.pours.queries import log_of, pour_whole
from groutjobs.sync import actions, desk
from groutjobs.sync.actions import DECIDERS
from groutjobs.sync.door import TRIES_A_MIN, Stop, set_device_cookie, slow_down
from groutjobs.sync.forms import ACCEPT, DecisionForm, DeviceForm, GapForm, JoinForm, PinForm, RescueForm, RevokeForm
from groutjobs.sync.models import PhoneOp
from groutjobs.sync.queries import missing_seqs, on_phones, phones_of, waiting_ops, with_status
from groutjobs.sync.views import take_rescue

ADMINISTRATOR = frozenset({Role.ADMINISTRATOR})


@allowed(read=DECIDERS)
def sites(request: HttpRequest) -> HttpResponse:
    """Sites whose phones the person may see; straight on where there is one."""
    rows = [site for site in rows_for(request, Site.objects.order_by("name")) if may(request, site, DECIDERS)]
    if len(rows) == 1:
        return redirect("sync:devices", rows[0].pk)
    return render(request, "sync/sites.html", {"sites": rows})


@allowed(read=DECIDERS)
def devices(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    context = {
        "site": site,
        "phones": on_phones(Device.objects.filter(site=site).select_related("enrolled_by")),
        "waiting": waiting_ops(PhoneOp.objects.filter(device__site=site)).count(),
        "may_enrol": may(request, site, ADMINISTRATOR),
    }
    return render(request, "sync/devices.html", context)


@allowed(read=ADMINISTRATOR, write=ADMINISTRATOR)
def device_add(request: HttpRequest, site_id: int) -> HttpResponse:
    """A code for one phone, as text and as a square code that opens the page on which the phone joins."""
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    form, made = DeviceForm(posted(request)), None
    if form.is_valid():
        row, code = make_device_code(site_id=site.pk, name=form.cleaned_data["name"], by=person(request))
        address = f"{request.build_absolute_uri(reverse('sync:join'))}#{code}"
        square = segno.make(address, error="m", micro=False).svg_inline(
            border=4, scale=6, svgclass=None, lineclass=None, title="Code to join"
        )
        made = {"row": row, "code": code, "address": address, "square": mark_safe(square)}  # noqa: S308
        form = DeviceForm()
    return _page(request, "sync/device_add.html", {"site": site, "form": form, "made": made}, form)


@allowed(read=DECIDERS)
def device_detail(request: HttpRequest, device_id: UUID) -> HttpResponse:
    device = row_or_404(request, Device.objects.select_related("site", "enrolled_by", "revoked_by"), pk=device_id)
    return render(request, "sync/device_detail.html", _about(request, device))


def _about(request: HttpRequest, device: Device) -> dict[str, Any]:
    return {
        "device": device,
        "site": device.site,
        "phone": on_phones(Device.objects.filter(pk=device.pk))[0],
        "missing": missing_seqs(device),
        "ops": with_status(device.ops.select_related("author", "pour__plan__machine")).order_by("-ledger_seq")[:50],
        "notes": device.gap_notes.select_related("by"),
        "keys": device.shift_keys.select_related("person")[:20],
        "may_revoke": may(request, device, ADMINISTRATOR) and device.revoked_at is None,
        "revoke_form": RevokeForm(prefix="revoke"),
        "gap_form": GapForm(prefix="gap"),
    }


@allowed(write=ADMINISTRATOR)
def device_revoke(request: HttpRequest, device_id: UUID) -> HttpResponse:
    device = row_or_404(request, Device.objects.select_related("site", "enrolled_by", "revoked_by"), pk=device_id)
    form = RevokeForm(request.POST, prefix="revoke")
    if form.is_valid():
        revoke_device(device=device, reason=form.cleaned_data["reason"], by=person(request))
        messages.success(request, f"{device.name} is revoked. What was entered on it before comes for a decision.")
        return redirect("sync:device_detail", device.pk)
    return _page(request, "sync/device_detail.html", _about(request, device) | {"revoke_form": form}, form)


@allowed(write=DECIDERS)
def gap_explain(request: HttpRequest, device_id: UUID) -> HttpResponse:
    device = row_or_404(request, Device.objects.select_related("site", "enrolled_by", "revoked_by"), pk=device_id)
    form = GapForm(request.POST, prefix="gap")
    if form.is_valid():
        told = desk.highest_told(device)
        actions.explain_gap(device=device, up_to_seq=told, reason=form.cleaned_data["reason"], by=person(request))
        messages.success(request, "The gap is explained, and stays on record with the reason.")
        return redirect("sync:device_detail", device.pk)
    return _page(request, "sync/device_detail.html", _about(request, device) | {"gap_form": form}, form)


@allowed(read=DECIDERS)
def decisions(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    rows = [
        desk.shown(op, person(request).unit_system)
        for op in waiting_ops(PhoneOp.objects.filter(device__site=site))[:200]
    ]
    return render(request, "sync/decisions.html", {"site": site, "rows": rows})


@allowed(read=DECIDERS, write=DECIDERS)
def decision(request: HttpRequest, op_id: UUID) -> HttpResponse:
    ops = with_status(PhoneOp.objects.select_related("device__site", "author", "pour__plan__machine"))
    op = row_or_404(request, ops, pk=op_id)
    form = DecisionForm(posted(request))
    if form.is_valid():
        decide = actions.accept_by_hand if form.cleaned_data["choice"] == ACCEPT else actions.set_op_aside
        try:
            decide(op=op, by=person(request), reason=form.cleaned_data["reason"])
            messages.success(request, "Decided. The entry, the decision and its reason stay on record.")
            return redirect("sync:decisions", op.device.site_id)
        except NotAllowed as error:
            form.refuse(error)
    context = {"op": op, "site": op.device.site, "row": desk.shown(op, person(request).unit_system), "form": form}
    return _page(request, "sync/decision.html", context | {"rulings": op.rulings.select_related("by")}, form)


@allowed(read=DECIDERS, write=DECIDERS)
def rescue_import(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    form = RescueForm(posted(request), request.FILES if request.method == "POST" else None)
    answers = None
    if form.is_valid():
        try:
            values, device = desk.rescue_file(form.cleaned_data["file"].read(), site)
            answers = desk.told_of_answers(take_rescue(values, device, person(request)))
        except (Stop, NotAllowed) as error:
            form.refuse(error, field="file")
    return _page(request, "sync/rescue_import.html", {"site": site, "form": form, "answers": answers}, form)


@allowed(read=EVERY_ROLE)
def pour_phones(request: HttpRequest, pour_id: int) -> HttpResponse:
    """What is still on which phone, and what waits for a decision: a fragment of the pour page that renews itself."""
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    rows = [desk.shown(op, person(request).unit_system) for op in waiting_ops(PhoneOp.objects.filter(pour=pour))]
    phones, conflicts = phones_of(pour), log_of(pour).conflicts
    seen = [(phone.device.name, phone.at_least, phone.last_contact_at) for phone in phones]
    tag = desk.tag_of(
        seen, [(row.op.pk, getattr(row.op, "now", "")) for row in rows], conflicts, may(request, pour, DECIDERS)
    )
    if desk.is_known(request, tag):
        return HttpResponse(status=304, headers={"ETag": f'"{tag}"'})
    context = {
        "pour": pour,
        "site": pour.plan.machine.site,
        "phones": phones,
        "rows": rows,
        "conflicts": conflicts,
        "may_decide": may(request, pour, DECIDERS),
        "may_settle": may(request, pour, DECLARERS),
        "tag": tag,
    }
    part = "#phones-live" if getattr(request, "htmx", None) else ""
    response = render(request, f"sync/pour_phones.html{part}", context)
    response.headers["ETag"] = f'"{tag}"'
    return response


@public
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest) -> HttpResponse:
    """The page on which a phone becomes a device of the site, by the code from the desk."""
    form = JoinForm(posted(request))
    if form.is_valid():
        try:
            slow_down(f"enrol {address_tried_from(request)}", TRIES_A_MIN)
            _, token = enrol_device(typed=form.cleaned_data["code"])
            response = redirect("/phone/app/" if request.GET.get("next") == "app" else "phone:pour_list")
            set_device_cookie(response, token)
            return response
        except (NotAllowed, Stop) as error:
            form.refuse(error, field="code")
    return _page(request, "sync/join.html", {"form": form}, form)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def pin_set(request: HttpRequest) -> HttpResponse:
    user = person(request)
    form = PinForm(posted(request))
    if form.is_valid():
        if user.check_password(form.cleaned_data["present"]):
            set_phone_pin(by=user, pin=form.cleaned_data["pin"])
            messages.success(request, "Your PIN for phones is kept.")
            return redirect("accounts:preferences")
        form.add_error("present", "Password is not the one on record. Nothing was changed [GROUTJOBS].")
    return _page(request, "sync/pin_set.html", {"form": form}, form)


def _page(request: HttpRequest, template: str, context: dict[str, Any], form: Any) -> HttpResponse:
    is_refused = request.method == "POST" and bool(form.errors)
    return render(request, template, context, status=422 if is_refused else 200)
