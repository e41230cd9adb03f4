"""What the desk shows about ops: one as words, a rescue file, the answer to it, and an unchanged part of a page."""

import hashlib
import json
import math
from collections import Counter
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest

from groutjobs.accounts.models import Device
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed, OutOfRange, Unusable
from groutjobs.fields import quoted
from groutjobs.pours.bodies import BODIES, FROM_PAPER, Slot, SlotKind, number_shown, title_of
from groutjobs.sync.models import DeviceContact, OpStatus, PhoneOp
from groutjobs.sync.ops import Op, read_op
from groutjobs.sync.takers import TAKERS, Taker


@dataclass(frozen=True)
class Shown:
    """An op as the desk reads it. `values` are what was typed, with the word for each."""

    op: PhoneOp
    title: str
    status: str
    values: tuple[tuple[str, str], ...]
    happened_at: Any
    grade: str


def shown(op: PhoneOp, system: str) -> Shown:
    """An op from with_status() in words; a kind that this server does not know is shown as it came."""
    read = read_op(op.text)
    known, taker = read.kind in BODIES, TAKERS.get(read.kind)
    labels = {slot.name: slot for slot in BODIES[read.kind]} if known else {}
    values = _words_of_taker(taker, read, system) if taker else []
    for name, value in read.body.items() if not taker else ():
        slot = labels.get(name)
        if name in {"as_entered", "blobs", FROM_PAPER}:
            continue
        values.append((slot.label, _words(slot, value, system)) if slot else (name, str(value)[:300]))
    blobs = read.body.get("blobs")
    if read.body.get(FROM_PAPER) is True:
        values.append(("Transcribed from paper", "yes"))
    if isinstance(blobs, list) and blobs:
        values.append(("Photos", str(len(blobs))))
    happened_at = read.clock.corrected(read.happened_at) if read.happened_at else None
    return Shown(
        op=op,
        title=taker.title if taker else title_of(read.kind) if known else f"Unknown kind {quoted(read.kind)}",
        status=str(OpStatus(getattr(op, "now", op.status)).label),
        values=tuple(values),
        happened_at=happened_at,
        grade=read.clock.grade,
    )


def _words_of_taker(taker: Taker, read: Op, system: str) -> list[tuple[str, str]]:
    """Its values in words; as they came where they fit no form."""
    try:
        return taker.words(read, system)
    except (Unusable, OutOfRange):
        return [(name, str(value)[:300]) for name, value in read.body.items() if name != "blobs"]


def _words(slot: Slot, value: Any, system: str) -> str:
    """A value in words; one that does not fit its field is shown as it came."""
    if slot.kind is SlotKind.CHOICE and isinstance(value, str):
        return dict(slot.choices).get(value, value)
    if slot.kind is SlotKind.NUMBER and isinstance(value, int | float) and math.isfinite(value):
        return number_shown(slot, value, system)
    return str(value)[:300]


def highest_told(device: Device) -> int:
    """The highest number that a phone has sent or spoken of."""
    sent = device.ops.order_by("-device_seq").values_list("device_seq", flat=True).first() or 0
    told = DeviceContact.objects.filter(device=device).values_list("seq_told", flat=True).first() or 0
    return max(sent, told)


def rescue_file(content: bytes, site: Site) -> tuple[dict[str, Any], Device]:
    """The values of a rescue file and the phone of this site that it comes from."""
    try:
        values = json.loads(content)
    except (ValueError, RecursionError) as error:
        raise NotAllowed("Rescue file: it is not JSON; export it from the phone again [GROUTJOBS]") from error
    named = str(values.get("device_id", "")) if isinstance(values, dict) else ""
    device = next((one for one in Device.objects.filter(site=site) if str(one.pk) == named), None)
    if device is None:
        raise NotAllowed(f"Rescue file: {quoted(named)} is no phone of this site [GROUTJOBS]")
    return values, device


def told_of_answers(answers: list[dict[str, Any]]) -> list[tuple[str, int]]:
    """How many entries of a rescue file came to what."""
    words = Counter(
        str(OpStatus(one["now"]).label) if "receipt" in one else f"Refused: {one['error']['message']}"
        for one in answers
    )
    return sorted(words.items())


def tag_of(*parts: Any) -> str:
    """Changes when one of these does; in the ETag of a part of a page that renews itself."""
    return hashlib.sha256("|".join(map(str, parts)).encode()).hexdigest()[:32]


def is_known(request: HttpRequest, tag: str) -> bool:
    """Whether the browser has the part with this tag."""
    return f'"{tag}"' in request.headers.get("If-None-Match", "")
