"""Pages of a pour record: where it stands, what is in the way, names, void, addenda, what came late."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from groutjobs.accounts.access import allowed, person, posted, row_or_404
from groutjobs.accounts.models import EVERY_ROLE
from groutjobs.pours.models import Pour, PourEntry
from groutjobs.pours.queries import log_of, pour_whole
from groutjobs.signing import actions, page
from groutjobs.signing.forms import AddendumForm, NameForm, ReadyForm, ReasonForm
from groutjobs.signing.models import RecordMeaning, RecordState
from groutjobs.signing.queries import in_the_way, record_of, undecided
from groutjobs.signing.rules import ENGINEERS, MAKERS, ROLES_FOR, SENTENCES

SIGNERS = ROLES_FOR[RecordMeaning.PERFORMED] | ROLES_FOR[RecordMeaning.REVIEWED]
AGREERS = ROLES_FOR[RecordMeaning.AGREED]


def _pour(request: HttpRequest, pour_id: int) -> Pour:
    return row_or_404(request, pour_whole(), pk=pour_id)


@allowed(read=EVERY_ROLE)
def record_detail(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = _pour(request, pour_id)
    return render(request, "signing/record_detail.html", page.context_of(pour, person(request)))


@allowed(read=MAKERS, write=MAKERS)
def record_ready(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = _pour(request, pour_id)
    hard, soft = in_the_way(pour, system=person(request).unit_system)
    form = ReadyForm(posted(request), missing=soft)
    if request.method == "POST" and form.is_valid():
        actions.make_ready(pour=pour, by=person(request), reasons=form.cleaned_data)
        messages.success(request, "The record is ready; its content is fixed by its hash. The crew lead signs it now.")
        return redirect("signing:record_detail", pour.pk)
    context = page.base_of(pour) | {"form": form, "hard": hard, "soft": soft}
    return render(request, "signing/record_ready.html", context)


@allowed(read=SIGNERS, write=SIGNERS)
def record_sign(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = _pour(request, pour_id)
    row = record_of(pour)
    due = page.due_of(row)
    if row is None or due is None:
        messages.info(request, "There is nothing to sign now.")
        return redirect("signing:record_detail", pour.pk)
    start = {"seen_sha256": row.content_sha256}
    form = NameForm(posted(request), request=request, with_trail=due is RecordMeaning.REVIEWED, initial=start)
    if form.is_valid():
        seen = form.cleaned_data["seen_sha256"]
        actions.sign_record(pour=pour, meaning=due, by=person(request), seen_sha256=seen, proved_by=form.proved_by)
        messages.success(request, f"You signed the record of {pour}: {due.label.lower()}.")
        return redirect("signing:record_detail", pour.pk)
    log = log_of(pour, system=person(request).unit_system)
    context = page.context_of(pour, person(request)) | {"form": form, "sentence": SENTENCES[due], "log": log}
    return render(request, "signing/record_sign.html", context)


@allowed(read=ENGINEERS, write=ENGINEERS)
def record_return(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = _pour(request, pour_id)
    form = ReasonForm(posted(request))
    if form.is_valid():
        actions.send_back(pour=pour, reason=form.cleaned_data["reason"], by=person(request))
        messages.success(request, "The record went back. Names under it are void and stay visible.")
        return redirect("signing:record_detail", pour.pk)
    return render(request, "signing/record_return.html", page.base_of(pour) | {"form": form})


@allowed(read=MAKERS, write=MAKERS)
def record_void(request: HttpRequest, pour_id: int) -> HttpResponse:
    """The first person gives the reason, the second one agrees."""
    pour = _pour(request, pour_id)
    row = record_of(pour)
    asked = row if row and row.void_asked_by_id and row.state != RecordState.VOID else None
    agrees = asked is not None and asked.void_asked_by_id != person(request).pk
    form = None if agrees else ReasonForm(posted(request))
    if request.method == "POST" and agrees:
        actions.void_record(pour=pour, by=person(request))
    elif form is not None and form.is_valid():
        actions.ask_void(pour=pour, reason=form.cleaned_data["reason"], by=person(request))
    else:
        return render(
            request, "signing/record_void.html", page.base_of(pour) | {"form": form, "asked": asked, "agrees": agrees}
        )
    messages.success(request, "The record is void." if agrees else "Noted. A second person has to agree.")
    return redirect("signing:record_detail", pour.pk)


@allowed(read=ENGINEERS, write=ENGINEERS)
def addendum_state(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = _pour(request, pour_id)
    late = PourEntry.objects.filter(pour=pour, pk__in=page.uuids_of(request.GET.get("late"))).first()
    form = AddendumForm(posted(request), request=request)
    if form.is_valid():
        values = {name: form.cleaned_data[name] for name in ("wrong", "right", "evidence", "reason")}
        actions.state_addendum(pour=pour, by=person(request), proved_by=form.proved_by, late=late, **values)
        messages.success(request, "The addendum is stated under your name. A second person has to agree.")
        return redirect("signing:record_detail", pour.pk)
    context = page.base_of(pour) | {"form": form, "late": late, "sentence": SENTENCES[RecordMeaning.STATED]}
    return render(request, "signing/addendum_state.html", context)


@allowed(read=AGREERS, write=AGREERS)
def addendum_agree(request: HttpRequest, pour_id: int, addendum_no: int) -> HttpResponse:
    pour = _pour(request, pour_id)
    row = record_of(pour)
    if row is None:
        raise Http404
    addendum = get_object_or_404(row.addenda.select_related("record__pour", "made_by"), number=addendum_no)
    form = NameForm(posted(request), request=request, initial={"seen_sha256": addendum.content_sha256})
    if form.is_valid():
        seen = form.cleaned_data["seen_sha256"]
        actions.agree_addendum(addendum=addendum, by=person(request), seen_sha256=seen, proved_by=form.proved_by)
        messages.success(request, f"You agreed with addendum {addendum.number}.")
        return redirect("signing:record_detail", pour.pk)
    context = page.base_of(pour) | {"form": form, "addendum": addendum, "sentence": SENTENCES[RecordMeaning.AGREED]}
    return render(request, "signing/addendum_agree.html", context)


@allowed(read=ENGINEERS, write=ENGINEERS)
def late_decide(request: HttpRequest, pour_id: int, entry_id: UUID) -> HttpResponse:
    """An entry came after the lock: say that it has no effect, or go on to an addendum."""
    pour = _pour(request, pour_id)
    row = record_of(pour)
    entry = next((one for one in (undecided(row) if row else []) if one.pk == entry_id), None)
    if entry is None:
        messages.info(request, "This entry waits for no decision.")
        return redirect("signing:record_detail", pour.pk)
    form = ReasonForm(posted(request))
    if form.is_valid():
        actions.decide_late(pour=pour, entry=entry, by=person(request), reason=form.cleaned_data["reason"])
        messages.success(request, "Decided: it has no effect on what was signed.")
        return redirect("signing:record_detail", pour.pk)
    context = page.base_of(pour) | {"form": form, "entry": entry, "words": page.words_of(pour, entry, person(request))}
    return render(request, "signing/late_decide.html", context)
