"""The endpoint for data loggers: one call that brings a batch of readings, described by OpenAPI.

A key in the header opens it, never a session. The same batch again changes nothing and gets the same answer.
"""

import hashlib
import json
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.csrf import csrf_exempt
from ninja import Field, NinjaAPI, Schema
from ninja.openapi import get_schema
from ninja.security import HttpBearer

from groutjobs.accounts.access import address_tried_from, public, signed_in
from groutjobs.curing.counting import seconds_to_wait
from groutjobs.curing.logger_models import LoggerKey
from groutjobs.curing.loggers import Sent, hash_of_key, take_batch
from groutjobs.errors import Stale

LARGEST_BYTES = 256 * 1024
MOST_READINGS = 1000
CALLS_A_MIN, TRIES_A_MIN, READINGS_A_DAY = 30, 30, 100_000
MINUTE, DAY = 60, 86_400


class ReadingIn(Schema):
    """One temperature. Each row is judged by itself."""

    channel: str | None = Field(None, max_length=200, description="Name of a column or channel known of the logger")
    at: str | None = Field(None, max_length=200, description="ISO 8601 with offset, such as 2026-04-30T07:00:00Z")
    value: float | str | None = Field(None, description="Temperature in the unit that is known of the channel")


class BatchIn(Schema):
    """Up to 1000 readings under an id that the logger gives and repeats when it is not sure of an answer."""

    batch_id: str = Field(..., min_length=1, max_length=64, description="The same id for the same content, for ever")
    readings: list[ReadingIn] = Field(..., min_length=1, max_length=MOST_READINGS)


class RefusedOut(Schema):
    """A row that is not stored, by its place in the batch from 0 on."""

    index: int
    code: str
    reason: str


class BatchOut(Schema):
    """What became of the batch; rows that were on record already are known."""

    batch_id: str
    stored: int
    known: int
    refused: list[RefusedOut]


class ProblemOut(Schema):
    """Why a call was not taken, for programs and in words."""

    code: str
    message: str


class LoggerBearer(HttpBearer):
    """The key of the logger; looked up before the call gets here."""

    def authenticate(self, request: HttpRequest, token: str) -> LoggerKey | None:
        return getattr(request, "logger_key", None)


api = NinjaAPI(
    title="Readings of data loggers",
    version="1.0.0",
    description="One call that brings cure readings. 30 calls a minute, 1000 readings and 256 kB a call.",
    openapi_url=None,
    docs_url=None,
    urls_namespace="logger_api",
)
PROBLEMS: dict[int, Any] = dict.fromkeys((401, 403, 409, 411, 413, 415, 429), ProblemOut)


@api.post(
    "/readings",
    response={200: BatchOut} | PROBLEMS,
    auth=LoggerBearer(),
    summary="Bring a batch of readings",
    url_name="readings",
)
def post_readings(request: HttpRequest, batch: BatchIn) -> Any:
    """Store what can be stored, refuse the rest row by row. Safe to repeat with the same batch_id and content."""
    key: LoggerKey = request.logger_key  # type: ignore[attr-defined]
    wait = seconds_to_wait(f"readings {key.logger_id}", READINGS_A_DAY, DAY, len(batch.readings))
    if wait:
        return _problem(429, "quota", f"more than {READINGS_A_DAY} readings a day; the same again later", wait)
    rows = [Sent(row.channel, row.at, row.value) for row in batch.readings]
    try:
        answer, is_repeat = take_batch(
            key=key, batch_id=batch.batch_id, body_sha256=hashlib.sha256(request.body).hexdigest(), rows=rows
        )
    except Stale as error:
        return _problem(409, "other_content", str(error))
    response = JsonResponse(answer)
    response["Idempotent-Replay"] = "true" if is_repeat else "false"
    return response


def _problem(status: int, code: str, words: str, retry_s: int = 0) -> JsonResponse:
    response = JsonResponse({"code": code, "message": words}, status=status)
    if retry_s:
        response["Retry-After"] = str(retry_s)
    if status == 401:
        response["WWW-Authenticate"] = "Bearer"
    return response


def _door(request: HttpRequest) -> JsonResponse | None:
    """Size, type, key and rate, before anything is read; None where all is well."""
    length = request.headers.get("Content-Length", "")
    if not length.isdigit():
        return _problem(411, "length", "the header Content-Length is missing")
    if int(length) > LARGEST_BYTES:
        return _problem(413, "size", f"{length} bytes; up to {LARGEST_BYTES} are taken in one call")
    if request.content_type != "application/json":
        return _problem(415, "type", "the content is not application/json")
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    found = LoggerKey.objects.select_related("logger", "made_by").filter(key_hash=hash_of_key(token.strip())).first()
    if scheme.lower() != "bearer" or found is None:
        wait = seconds_to_wait(f"unknown {address_tried_from(request)}", TRIES_A_MIN, MINUTE)
        if wait:
            return _problem(429, "slow_down", "too many calls without a known key", wait)
        return _problem(401, "key", "the key is not known; make one on the page of the logger")
    if found.revoked_at is not None or found.logger.retired_at is not None:
        return _problem(403, "revoked", "this key was revoked; make another on the page of the logger")
    wait = seconds_to_wait(f"key {found.pk}", CALLS_A_MIN, MINUTE)
    if wait:
        return _problem(429, "slow_down", f"more than {CALLS_A_MIN} calls a minute; the same again later", wait)
    request.logger_key = found  # type: ignore[attr-defined]
    return None


@csrf_exempt
@public
def readings(request: HttpRequest) -> HttpResponse:
    """The address that loggers call; its key is in the header."""
    if request.method != "POST":
        response = _problem(405, "method", "this address takes POST")
        response["Allow"] = "POST"
        return response
    refused = _door(request)
    if refused is not None:
        return refused
    pattern = next(one for one in api.urls[0] if getattr(one, "name", "") == "readings")
    assert pattern.callback is not None  # noqa: S101 (a pattern of the list above has one)
    answer: HttpResponse = pattern.callback(request)
    return answer


@signed_in
def openapi(request: HttpRequest) -> HttpResponse:
    """The description of the endpoint for programs, to people who are signed in."""
    if request.method not in {"GET", "HEAD"}:
        response = HttpResponse(status=405)
        response["Allow"] = "GET, HEAD"
        return response
    schema = described(request.build_absolute_uri("/")[:-1])
    return HttpResponse(json.dumps(schema, indent=2), content_type="application/json")


def described(server: str) -> dict[str, Any]:
    """OpenAPI of the endpoint."""
    schema: dict[str, Any] = dict(get_schema(api=api, path_prefix="/api/loggers/v1"))
    schema["servers"] = [{"url": server}]
    return schema
