"""What phones call. Contract, errors and examples: the section on phones in DEVELOPERS.md."""

import base64
import binascii
from typing import Any
from uuid import UUID

from django.contrib.auth import authenticate
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from groutjobs.accounts.access import address_tried_from
from groutjobs.accounts.device_actions import end_shift_key, issue_shift_key
from groutjobs.accounts.models import ROLES_THAT_RECORD, ShiftKey, User
from groutjobs.accounts.queries import holds
from groutjobs.errors import NotAllowed
from groutjobs.pours.bodies import PHOTOS_MAX
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import pour_whole
from groutjobs.sync import entering, proving, snapshot
from groutjobs.sync.actions import hash_of, keep_blob
from groutjobs.sync.blobs import BLOB_BYTES, is_picture
from groutjobs.sync.door import (
    PROTO,
    TRIES_A_MIN,
    Stop,
    answer,
    body_of,
    device_of,
    for_devices,
    fresh_or_304,
    json_of,
    set_device_cookie,
    slow_down,
)
from groutjobs.sync.models import Blob
from groutjobs.sync.ops import OP_BYTES
from groutjobs.sync.queries import head_seq, live_keys, mark, missing_seqs
from groutjobs.sync.receiving import Sent, receive_all
from groutjobs.sync.small import small_copy

OPS_AT_ONCE = 50
OPS_BYTES = 262_144
RESCUE_BYTES = 8 * 1024 * 1024
SMALL_BYTES = 4096
CALLS_A_DAY = 4_000
LIMITS = {"ops": OPS_AT_ONCE, "bytes": OPS_BYTES, "op_bytes": OP_BYTES, "blob_bytes": BLOB_BYTES, "photos": PHOTOS_MAX}


@for_devices("GET")
def hello(request: HttpRequest) -> HttpResponse:
    device, now, current = device_of(request), timezone.now(), mark()
    seqs = device.ops.order_by("-device_seq").values_list("device_seq", flat=True)[:1]
    keys = [
        {"author_id": key.person_id, "name": key.person.name, "key_id": str(key.pk), "ends_at": key.ends_at}
        for key in live_keys(device, now)
    ]
    told = snapshot.device_told(device) | {"highest_seq": next(iter(seqs), 0), "missing_seqs": missing_seqs(device)}
    values = {
        "proto": int(PROTO), "time": now.isoformat().replace("+00:00", "Z"), "epoch": str(current.epoch),
        "epoch_head": current.epoch_head, "safe_seq": current.safe_seq, "head_seq": head_seq(), "device": told,
        "people": keys, "limits": LIMITS, "min_build": "", "latest_build": "",
    }  # fmt: skip
    return answer(values)


@for_devices("POST", revoked=True)
def ops(request: HttpRequest) -> HttpResponse:
    device = device_of(request)
    sent = _sent(json_of(request, OPS_BYTES, digest=True), OPS_AT_ONCE)
    slow_down(f"ops {device.pk}", CALLS_A_DAY, 24 * 3600)
    answers = receive_all(sent, device=device)
    if device.revoked_at is not None and not any("receipt" in one for one in answers):
        raise Stop("device_revoked", 403, f"{device.name} was revoked; export what it holds and ask the administrator")
    return answer({"answers": answers})


@for_devices("POST", revoked=True)
def rescue(request: HttpRequest) -> HttpResponse:
    values = json_of(request, RESCUE_BYTES, digest=True)
    return answer({"answers": take_rescue(values, device_of(request))})


def take_rescue(values: dict[str, Any], device: Any, brought_by: User | None = None) -> list[dict[str, Any]]:
    """The ops and pictures of a rescue file, with the same checks and the same receipts."""
    if values.get("rescue") != 1:
        raise Stop("json", 400, "this is no rescue file of a phone")
    for picture in values.get("blobs") or []:
        _take_picture(picture, device)
    return receive_all(_sent(values, None), device=device, brought_by=brought_by, in_a_file=True)


def _take_picture(picture: Any, device: Any) -> None:
    try:
        content = base64.b64decode(picture["base64"], validate=True)
    except (KeyError, TypeError, binascii.Error) as error:
        raise Stop("json", 400, "a picture in the file is not base64") from error
    if picture.get("sha256") == hash_of(content) and is_picture(content) and len(content) <= BLOB_BYTES:
        _keep_picture(device, picture["sha256"], content)


def _sent(values: dict[str, Any], most: int | None) -> list[Sent]:
    given = values.get("ops")
    if not isinstance(given, list) or (most is not None and len(given) > most):
        raise Stop("too_big" if isinstance(given, list) else "json", 413 if isinstance(given, list) else 400,
                   f"“ops” is no list of up to {most or 'any number of'} entries")  # fmt: skip
    found = []
    for one in given:
        named = [one.get(name) for name in ("op_id", "sha256", "text")] if isinstance(one, dict) else []
        texts = [value for value in named if isinstance(value, str)]
        if len(texts) != 3:
            raise Stop("json", 400, "an entry of “ops” is not op_id, sha256 and text")
        found.append(Sent(*texts))
    return found


@for_devices("PUT", revoked=True)
def blob(request: HttpRequest, sha256: str) -> HttpResponse:
    device = device_of(request)
    content = body_of(request, BLOB_BYTES)
    if hash_of(content) != sha256:
        raise Stop("hash_wrong", 422, "the picture was damaged on its way")
    if not is_picture(content):
        raise Stop("not_a_picture", 415, "the first bytes are those of neither JPEG nor PNG")
    is_new = _keep_picture(device, sha256, content)
    row = Blob.objects.get(pk=sha256)
    told = {"sha256": sha256, "byte_count": row.byte_count, "received_at": row.received_at}
    return answer(told, 201 if is_new else 200)


@for_devices("GET")
def blob_small(request: HttpRequest, sha256: str) -> HttpResponse:
    """A small copy of a picture of this site, for phones that did not take it."""
    content = small_copy(device_of(request), sha256)
    if content is None:
        raise Stop("picture_unknown", 404, "this site has no such picture, or it has not come yet")
    return HttpResponse(content, content_type="image/jpeg", headers={"X-Content-Type-Options": "nosniff"})


def _keep_picture(device: Any, sha256: str, content: bytes) -> bool:
    is_new = keep_blob(device=device, sha256=sha256, content=content)
    entering.keep_picture_of_ops(sha256)
    return is_new


@for_devices("GET")
def records(request: HttpRequest) -> HttpResponse:
    return fresh_or_304(request, snapshot.records(device_of(request).site))


@for_devices("GET")
def record(request: HttpRequest, record_id: int) -> HttpResponse:
    since = request.GET.get("since", "0")
    number = int(since) if since.isascii() and since.isdigit() and len(since) < 10 else 0
    return fresh_or_304(request, snapshot.log_since(_pour(request, record_id), number))


@for_devices("GET")
def record_snapshot(request: HttpRequest, record_id: int) -> HttpResponse:
    geometry = ("plan__machine__foundation", "plan__machine__baseplate")
    return fresh_or_304(request, snapshot.whole(_pour(request, record_id, *geometry)))


@for_devices("GET")
def people(request: HttpRequest) -> HttpResponse:
    return answer({"people": snapshot.people(device_of(request).site_id)})


def _pour(request: HttpRequest, record_id: int, *with_it: str) -> Pour:
    rows = pour_whole().select_related(*with_it) if with_it else pour_whole()
    pour = rows.filter(pk=record_id, plan__machine__site=device_of(request).site_id).first()
    if pour is None:
        raise Stop("record_unknown", 404, "this site has no such pour")
    return pour


@for_devices("POST", enrolled=False)
def enrol(request: HttpRequest) -> HttpResponse:
    slow_down(f"enrol {address_tried_from(request)}", TRIES_A_MIN)
    values = json_of(request, SMALL_BYTES)
    try:
        device, token = proving.join(typed=str(values.get("code", "")), public_key=str(values.get("public_key", "")))
    except NotAllowed as error:
        raise Stop("code_ended", 410, str(error)) from error
    response = answer({"device": snapshot.device_told(device)}, 201)
    set_device_cookie(response, token)
    return response


@for_devices("POST")
def device_key(request: HttpRequest) -> HttpResponse:
    """A phone that has its cookie says by which key it will prove itself should it lose it."""
    device = device_of(request)
    slow_down(f"key {device.pk}", TRIES_A_MIN)
    made = proving.add_key(device=device, public_key=str(json_of(request, SMALL_BYTES).get("public_key", "")))
    return answer({"thumbprint": made.pk}, 201)


@for_devices("POST", enrolled=False)
def cookie(request: HttpRequest) -> HttpResponse:
    """First call: a question for a key that is known here. Second call, with it signed: the cookie again."""
    slow_down(f"cookie {address_tried_from(request)}", TRIES_A_MIN)
    values = json_of(request, SMALL_BYTES)
    key = proving.key_named(str(values.get("thumbprint", "")))
    if key is None:
        raise Stop("device_unknown", 401, "this phone is not enrolled; ask at the desk for a code")
    if "signature" not in values:
        return answer({"question": proving.question()})
    try:
        token = proving.give_cookie(key=key, asked=str(values.get("question", "")), signature=str(values["signature"]))
    except proving.NotProven as error:
        raise Stop("device_revoked" if key.device.revoked_at else "not_proven", 403, str(error)) from error
    response = answer({"device": snapshot.device_told(key.device)}, 201)
    set_device_cookie(response, token)
    return response


@for_devices("POST")
def shift_keys(request: HttpRequest) -> HttpResponse:
    device, values = device_of(request), json_of(request, SMALL_BYTES)
    slow_down(f"secret {device.pk}", TRIES_A_MIN)
    person = _proven(request, values)
    if not holds(person, device.site_id, ROLES_THAT_RECORD):
        raise Stop("no_role", 403, f"{person.name} has no role at this site that writes in the pour log")
    key = issue_shift_key(device=device, person=person)
    secret = base64.urlsafe_b64encode(key.key).decode().rstrip("=")
    told = {"key_id": str(key.pk), "author_id": person.pk, "name": person.name, "key": secret, "ends_at": key.ends_at}
    return answer(told, 201)


def _proven(request: HttpRequest, values: dict[str, Any]) -> User:
    """The person whose PIN or password this is. Wrong tries are counted as those of the sign-in page are."""
    email, secret = str(values.get("email") or ""), str(values.get("secret") or "")
    if isinstance(values.get("person_id"), int):
        email = User.objects.filter(pk=values["person_id"]).values_list("email", flat=True).first() or ""
    kind = "pin" if secret.isdigit() and len(secret) <= 12 else "password"
    person = authenticate(request, username=email.strip().lower(), **{kind: secret[:128]})
    if getattr(request, "axes_locked_out", False):
        raise Stop("slow_down", 429, "too many wrong tries; wait a quarter of an hour", 900)
    if not isinstance(person, User):
        raise Stop("secret_wrong", 403, "person and secret do not belong together")
    return person


@for_devices("POST")
def shift_key_end(request: HttpRequest, key_id: UUID) -> HttpResponse:
    json_of(request, SMALL_BYTES)
    key = ShiftKey.objects.select_related("person", "device").filter(pk=key_id, device=device_of(request)).first()
    if key is None:
        raise Stop("key_unknown", 404, "this phone has no such shift key")
    end_shift_key(key=key)
    return answer({"key_id": str(key.pk), "ends_at": key.ends_at})
