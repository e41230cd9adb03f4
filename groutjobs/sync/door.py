"""The door for phones: no session and no CSRF cookie, but an enrolled device, a header of ours, JSON, our own origin.

A page of another site can neither set the header nor send JSON without being asked for leave, which this server never
gives. Every answer carries the header, so that a phone can tell this server from a login page on the way to it.
"""

import base64
import errno
import functools
import gzip
import hashlib
import json
from collections.abc import Callable, Iterable
from typing import Any, cast

from django.conf import settings
from django.core.cache import cache
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.csrf import csrf_exempt

from groutjobs.accounts.access import address_tried_from
from groutjobs.accounts.models import Device
from groutjobs.errors import NotAllowed
from groutjobs.sync.epochs import note_contact
from groutjobs.sync.proving import device_with_cookie
from groutjobs.sync.queries import mark
from groutjobs.sync.receiving import NotDurable

PROTO = "1"
COOKIE = "device" if settings.PLAIN_HTTP else "__Host-device"
COOKIE_AGE_S = 400 * 24 * 3600
CALLS_A_MIN = 240
"""Calls of one phone in a minute, counted in each server process [GROUTJOBS]."""
TRIES_A_MIN = 10
BUSY_S = 5
GZIP_FROM = 600
View = Callable[..., HttpResponse]


class Stop(Exception):
    """A call that is answered by an error: code, HTTP status, a sentence, and when to come again."""

    def __init__(self, code: str, http: int, message: str, retry_s: int = 0) -> None:
        self.code, self.http, self.message, self.retry_s = code, http, message, retry_s
        super().__init__(message)


def for_devices(*methods: str, enrolled: bool = True, revoked: bool = False) -> Callable[[View], View]:
    """Let phones in by these methods. `enrolled` asks for the device; `revoked` lets one in that lost its rights."""

    def wrap(view: View) -> View:
        @functools.wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            try:
                _require_ours(request, methods)
                if enrolled:
                    request.device = _device(request, revoked)  # type: ignore[attr-defined]
                response = view(request, *args, **kwargs)
            except Stop as stop:
                response = _stopped(stop, methods)
            except NotDurable as error:
                response = _stopped(Stop("not_durable", 503, str(error), 60), methods)
            except NotAllowed as error:
                response = _stopped(Stop("not_allowed", 403, str(error)), methods)
            except OperationalError:
                response = _stopped(Stop("busy", 503, "the database is busy; the same again later", BUSY_S), methods)
            except OSError as error:
                if error.errno not in {errno.ENOSPC, errno.EDQUOT}:
                    raise
                response = _stopped(Stop("full", 507, "the server has no room; the same again later", 60), methods)
            return _marked(response)

        guarded.for_devices = True  # type: ignore[attr-defined]
        return cast(View, csrf_exempt(guarded))

    return wrap


def device_of(request: HttpRequest) -> Device:
    """The phone that calls; views behind `for_devices` always have one."""
    return cast(Device, request.device)  # type: ignore[attr-defined]


def _require_ours(request: HttpRequest, methods: tuple[str, ...]) -> None:
    if request.method not in methods:
        raise Stop("method", 405, f"this address takes {', '.join(methods)}")
    if request.headers.get("X-Sync-Proto") != PROTO:
        raise Stop("proto", 400, f"the header X-Sync-Proto: {PROTO} is missing")
    if request.method == "GET":
        return
    own = f"{'https' if request.is_secure() else 'http'}://{request.get_host()}"
    if request.headers.get("Origin") != own or request.headers.get("Sec-Fetch-Site", "same-origin") != "same-origin":
        raise Stop("origin", 403, "the call does not come from a page of this server")
    if request.method == "POST" and request.content_type != "application/json":
        raise Stop("type", 415, "the content is not application/json")


def _device(request: HttpRequest, revoked: bool) -> Device:
    device = device_with_cookie(request.COOKIES.get(COOKIE, ""))
    if device is None:
        slow_down(f"unknown {address_tried_from(request)}", CALLS_A_MIN)
        raise Stop("device_unknown", 401, "this phone is not enrolled; ask at the desk for a code")
    slow_down(f"device {device.pk}", CALLS_A_MIN)
    if device.revoked_at is not None and not revoked:
        raise Stop("device_revoked", 403, f"{device.name} was revoked; export what it holds and ask the administrator")
    note_contact(device, _seq_told(request), _pending(request))
    return device


def slow_down(about: str, most: int, seconds: int = 60) -> None:
    """Stop with 429 after so many calls about one thing in a time."""
    key = "sync-" + hashlib.sha256(about.encode()).hexdigest()
    cache.add(key, 0, seconds)
    try:
        count = cache.incr(key)
    except ValueError:
        return
    if count > most:
        raise Stop("slow_down", 429, f"more than {most} calls in {seconds} s; the same again later", seconds)


def _seq_told(request: HttpRequest) -> int | None:
    text = request.headers.get("X-Device-Seq", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else None


def _pending(request: HttpRequest) -> dict[str, int] | None:
    """Unsent entries by pour, as in `12=3,14=1`; None where the phone says nothing."""
    text = request.headers.get("X-Pending", "")[:1000]
    if not text:
        return None
    pairs = [pair.partition("=") for pair in text.split(",")]
    return {pour: int(count) for pour, _, count in pairs if _is_number(pour) and _is_number(count) and int(count)}


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 10


def body_of(request: HttpRequest, most: int) -> bytes:
    """The content of a call, at most so many bytes; nothing longer is read."""
    try:
        length = int(request.headers.get("Content-Length") or 0)
    except ValueError as error:
        raise Stop("json", 400, "the length of the content is no number") from error
    if length > most:
        raise Stop("too_big", 413, f"{length} bytes are more than the {most} that are taken at once")
    content = request.read(most + 1)
    if len(content) > most:
        raise Stop("too_big", 413, f"more than the {most} bytes that are taken at once")
    if len(content) < length:
        raise Stop("digest_wrong", 422, f"{len(content)} bytes came of {length}")
    return content


def json_of(request: HttpRequest, most: int, *, digest: bool = False) -> dict[str, Any]:
    """The JSON object of a call; with `digest` its Content-Digest (RFC 9530) must be there and fit."""
    content = body_of(request, most)
    if digest:
        wanted = base64.b64encode(hashlib.sha256(content).digest()).decode()
        if request.headers.get("Content-Digest") != f"sha-256=:{wanted}:":
            raise Stop("digest_wrong", 422, "the content was damaged on its way, or carries no Content-Digest")
    try:
        values = json.loads(content)
    except (ValueError, RecursionError) as error:
        raise Stop("json", 400, "the content is not JSON") from error
    if not isinstance(values, dict):
        raise Stop("json", 400, "the content is no JSON object")
    return values


def answer(values: dict[str, Any], status: int = 200) -> HttpResponse:
    return JsonResponse(values, status=status, json_dumps_params={"ensure_ascii": False})


def fresh_or_304(request: HttpRequest, values: dict[str, Any]) -> HttpResponse:
    """The answer with its ETag, or 304 where the phone has it."""
    response = answer(values)
    response.headers["ETag"] = f'"{hashlib.sha256(response.content).hexdigest()[:32]}"'
    if response.headers["ETag"] in request.headers.get("If-None-Match", ""):
        known = HttpResponse(status=304)
        known.headers["ETag"] = response.headers["ETag"]
        return known
    if "gzip" in request.headers.get("Accept-Encoding", "") and len(response.content) > GZIP_FROM:
        response.content = gzip.compress(response.content, 6, mtime=0)
        response.headers["Content-Encoding"] = "gzip"
    response.headers["Vary"] = "Accept-Encoding"
    return response


def _stopped(stop: Stop, methods: Iterable[str]) -> HttpResponse:
    response = answer({"error": {"code": stop.code, "message": stop.message}}, stop.http)
    if stop.retry_s:
        response.headers["Retry-After"] = str(stop.retry_s)
    if stop.http == 405:
        response.headers["Allow"] = ", ".join(methods)
    return response


def _marked(response: HttpResponse) -> HttpResponse:
    """The headers by which a phone knows this server, its epoch and what is safe."""
    response.headers["X-Sync-Proto"] = PROTO
    response.headers["Cache-Control"] = "no-store"
    try:
        now = mark()
    except OperationalError:
        return response
    response.headers["X-Epoch"], response.headers["X-Safe-Seq"] = str(now.epoch), str(now.safe_seq)
    return response


def set_device_cookie(response: HttpResponse, token: str) -> None:
    """The key of the phone: never readable by a script, never sent from another site."""
    response.set_cookie(
        COOKIE, token, max_age=COOKIE_AGE_S, path="/", secure=not settings.PLAIN_HTTP, httponly=True, samesite="Strict"
    )
