"""Releases of a pour: what is released and on what, signing a release, taking one back."""

import json
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.curing.evidence import all_evidence, releases_of, sentence_of, text_and_hash
from groutjobs.curing.forms.release import ReleaseBackForm, ReleaseForm
from groutjobs.curing.release_actions import release_milestone, withdraw_release
from groutjobs.curing.release_models import MilestoneRelease
from groutjobs.errors import NotAllowed, Stale
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import pour_whole

RELEASERS = (Role.ENGINEER,)


def _of(pour: Pour) -> dict[str, Any]:
    return {"pour": pour, "machine": pour.plan.machine, "site": pour.plan.machine.site}


@allowed(read=EVERY_ROLE)
def release_list(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    given = releases_of(pour)
    holds = {row.milestone: row for row in given if not hasattr(row, "withdrawal")}
    found = all_evidence(pour)
    rows = [{"code": code, "evidence": evidence, "release": holds.get(code)} for code, evidence in found.items()]
    context = _of(pour) | {"rows": rows, "given": given, "may_release": may(request, pour, RELEASERS)}
    return render(request, "curing/release_list.html", context)


@allowed(read=RELEASERS, write=RELEASERS)
def release_add(request: HttpRequest, pour_id: int, milestone: str) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    evidence = all_evidence(pour).get(milestone)
    if evidence is None:
        raise Http404
    digest = text_and_hash(evidence)[1]
    form = ReleaseForm(
        posted(request), request=request, against=evidence["against"], initial={"evidence_sha256": digest}
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            row = release_milestone(
                pour=pour, code=milestone, evidence_sha256=given["evidence_sha256"], reason=given["reason"],
                by=person(request),
            )  # fmt: skip
        except (NotAllowed, Stale) as error:
            form.refuse(error)
        else:
            messages.success(request, f"Released: {row.label}.")
            return redirect("curing:release_list", pour.pk)
    context = _of(pour) | {"form": form, "evidence": evidence, "sha256": digest, "sentence": sentence_of(evidence)}
    return render(request, "curing/release_form.html", context, status=422 if form.errors else 200)


@allowed(read=EVERY_ROLE)
def release_detail(request: HttpRequest, release_id: int) -> HttpResponse:
    rows = MilestoneRelease.objects.select_related(
        "pour__plan__machine__site", "released_by", "withdrawal__withdrawn_by"
    )
    row = row_or_404(request, rows, pk=release_id)
    may_withdraw = may(request, row, RELEASERS) and not hasattr(row, "withdrawal")
    context = _of(row.pour) | {"row": row, "evidence": json.loads(row.evidence_text), "may_withdraw": may_withdraw}
    return render(request, "curing/release_detail.html", context)


@allowed(read=RELEASERS, write=RELEASERS)
def release_withdraw(request: HttpRequest, release_id: int) -> HttpResponse:
    row = row_or_404(request, MilestoneRelease.objects.select_related("pour__plan__machine__site"), pk=release_id)
    form = ReleaseBackForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            withdraw_release(release=row, reason=form.cleaned_data["reason"], by=person(request))
        except NotAllowed as error:
            form.refuse(error, field="reason")
        else:
            messages.success(request, f"Taken back: {row.label}. Tell those who work on it.")
            return redirect("curing:release_list", row.pour_id)
    context = _of(row.pour) | {"row": row, "form": form}
    return render(request, "curing/release_withdraw.html", context, status=422 if form.errors else 200)
