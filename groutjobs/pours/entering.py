"""From a page to an entry: what can be picked, what is carried forward, and saving. Shared by desk and phone."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.http import HttpRequest, QueryDict

from groutjobs.accounts.access import person
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.pours.actions import add_entry, add_photo
from groutjobs.pours.bodies import EMPTY, KINDS_WITH_PHOTOS, PHOTOS_MAX
from groutjobs.pours.forms import EntryChoices, EntryForm, form_class, reason_field
from groutjobs.pours.log import PourLog
from groutjobs.pours.models import EntryKind, Pour, PourEntry
from groutjobs.pours.photos import MAX_BYTES
from groutjobs.pours.queries import lot_numbers, people_of

# what a link may say about an entry → the field that it fills
NAMED_BY_LINK = {"batch": "batch", "point": "point_id", "leak": "leak", "compartment": "compartment", "what": "what"}
FIXED_BY_LINK = {"batch": "batch", "point": "point_id"}


def choices_of(pour: Pour, log: PourLog, user_id: int, kind: str) -> EntryChoices:
    """What can be picked in the form of this kind. Nobody can be his own witness."""
    site_id = pour.plan.machine.site_id
    wants_people = kind == EntryKind.POINT_ANSWER
    wants_lots = kind == EntryKind.LIQUIDS_STARTED
    wants_photos = kind in KINDS_WITH_PHOTOS
    return EntryChoices(
        grout_kind=log.grout_kind,
        places=[(fill.name, fill.name) for fill in log.fills],
        people=[(str(pk), name) for pk, name in people_of(site_id) if pk != user_id] if wants_people else (),
        points=[(str(point.id), f"{point.position}. {point.step}") for point in log.points],
        leaks=[(str(leak.entry_id), f"{leak.where} ({leak.compartment})") for leak in log.leaks],
        lots=lot_numbers(pour) if wants_lots else (),
        photos=frozenset(pour.photos.values_list("pk", flat=True)) if wants_photos else frozenset(),
    )


def carried_forward(pour: Pour, log: PourLog, kind: str, about: Mapping[str, str], user_name: str) -> dict[str, Any]:
    """First values: what the link names, what the last batch had, what this person used last."""
    last = log.batches[-1] if log.batches else None
    batch = _batch_meant(log, kind, about)
    mixed = log.batch(batch)
    instruments = [reading.instrument for reading in log.readings if reading.author == user_name]
    body: dict[str, Any] = {
        "batch": batch,
        "kits": last.kits if last and last.kits else log.kits_per_batch,
        "lot": last.lot if last and last.lot else next(iter(lot_numbers(pour)), ""),
        "bags": next((earlier.bags for earlier in reversed(log.batches) if earlier.bags), None),
        "compartment": log.fill_in_hand.name,
        "volume_l": (mixed.remaining_l if mixed else log.batch_l) or None,
        "left": EMPTY,
        "instrument": instruments[-1] if instruments else "",
        "label": f"{pour.plan.machine.tag}-{pour.number}-{len(log.samples) + 1}",
        "leak": str(log.open_leaks[0].entry_id) if log.open_leaks else None,
    }
    return body | {NAMED_BY_LINK[name]: value for name, value in about.items() if name != "batch"}


def _batch_meant(log: PourLog, kind: str, about: Mapping[str, str]) -> int:
    named = about.get("batch", "")
    if named.isascii() and named.isdigit() and 0 < int(named[:6]) < 1000:
        return int(named[:6])
    if kind == EntryKind.LIQUIDS_STARTED or not log.batches:
        return log.next_batch
    return log.open_batches[0].number if log.open_batches else log.batches[-1].number


def about_of(request: HttpRequest) -> dict[str, str]:
    """What the link says about the entry."""
    return {name: request.GET[name] for name in NAMED_BY_LINK if request.GET.get(name)}


def blank_form(request: HttpRequest, pour: Pour, log: PourLog, kind: str, **more: forms.Field) -> EntryForm:
    """The form as it is first shown."""
    user = person(request)
    made = form_class(kind, choices_of(pour, log, user.pk, kind), **more)
    form = made(system=user.unit_system, zone=pour.plan.machine.site.zone)
    form.show_body(carried_forward(pour, log, kind, about_of(request), user.name))
    return form


def correction_form(request: HttpRequest, pour: Pour, log: PourLog, entry: PourEntry) -> EntryForm:
    """The form of an entry with the values that it has."""
    user = person(request)
    made = form_class(entry.kind, choices_of(pour, log, user.pk, entry.kind), reason=reason_field())
    form = made(system=user.unit_system, zone=pour.plan.machine.site.zone)
    form.show_body(entry.body)
    form.initial["happened_at"] = entry.happened_at
    form.fields["happened_at"].label, form.fields["happened_at"].help_text = "When it happened", "Site time."
    return form


def sent_form(request: HttpRequest, pour: Pour, log: PourLog, kind: str, **more: forms.Field) -> EntryForm:
    """The form as it was sent. Photographs are kept first, so that a refused field does not lose them."""
    user, data = person(request), request.POST.copy()
    problems = _keep_photos(request, pour, data) if kind in KINDS_WITH_PHOTOS else []
    made = form_class(kind, choices_of(pour, log, user.pk, kind), **more)
    form = made(data, system=user.unit_system, zone=pour.plan.machine.site.zone)
    for problem in problems:
        form.refuse(problem)
    return form


def _keep_photos(request: HttpRequest, pour: Pour, data: QueryDict) -> list[Exception]:
    kept = [str(data["photos"])] if data.get("photos") else []
    uploads = request.FILES.getlist("photo")
    problems: list[Exception] = []
    if len(uploads) > PHOTOS_MAX:
        return [OutOfRange("Photos at once", len(uploads), high=PHOTOS_MAX, source="GROUTJOBS")]
    for upload in uploads:
        try:
            kept.append(str(add_photo(pour=pour, content=upload.read(MAX_BYTES + 1), by=person(request)).pk))
        except (OutOfRange, Unusable) as error:
            problems.append(error)
    data["photos"] = ",".join(kept)
    return problems


def save(request: HttpRequest, pour: Pour, form: EntryForm, *, replaces: PourEntry | None = None) -> PourEntry | None:
    """Store what the form holds; None with the reason on the form where it cannot be stored."""
    if not form.is_valid():
        return None
    happened_at = form.cleaned_data["happened_at"]
    if replaces and happened_at in {None, replaces.happened_at.replace(second=0, microsecond=0)}:
        happened_at = replaces.happened_at
    try:
        return add_entry(
            pour=pour,
            kind=form.kind,
            body=form.body(),
            by=person(request),
            id=form.cleaned_data["entry_id"],
            happened_at=happened_at,
            replaces=replaces,
            reason=form.cleaned_data.get("reason", ""),
        )
    except (OutOfRange, Unusable) as error:
        form.refuse(error)
        return None
