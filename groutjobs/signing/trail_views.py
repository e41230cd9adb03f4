"""The record of a site for its auditors: every event, the export, the anchors, the verifier."""

from collections.abc import Iterable
from typing import cast

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from groutjobs.accounts.access import allowed, public, row_or_404, signed_in
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.audit.anchors import anchor_lines, anchor_words, latest_anchor, make_anchor
from groutjobs.audit.export import VERIFIER, export_lines, verifier_sha256
from groutjobs.audit.models import Event, RecordKey
from groutjobs.equipment.models import Site
from groutjobs.signing.record_page import trail_context

EXPORTERS = frozenset({Role.AUDITOR, Role.ENGINEER, Role.ADMINISTRATOR})


@allowed(read=EVERY_ROLE)
def site_record(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    last = latest_anchor()
    context = trail_context(request, Event.objects.filter(site_id=site.pk), site) | {
        "last": last,
        "last_words": anchor_words(last) if last else "",
        "keys": RecordKey.objects.all(),
        "verifier_sha256": verifier_sha256(),
    }
    return render(request, "signing/site_record.html", context)


@allowed(write=EXPORTERS)
def record_export(request: HttpRequest, site_id: int) -> HttpResponse:
    """The whole chain; of other sites the hashes only. A fresh anchor is made, so that the end is covered."""
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    make_anchor(occasion="export")
    return _download(export_lines(site_id=site.pk), "application/x-ndjson", "export.jsonl")


@signed_in
@require_safe
def anchors_file(request: HttpRequest) -> HttpResponse:
    """Every anchor with the public keys. Whoever keeps a copy elsewhere can show later that nothing was rewritten."""
    text = "".join(f"{line}\n" for line in anchor_lines())
    response = HttpResponse(text, content_type="text/plain; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="anchors.txt"'
    response["X-Content-Type-Options"] = "nosniff"
    return response


@public
@require_safe
def verifier_file(request: HttpRequest) -> HttpResponse:
    response = HttpResponse(VERIFIER.read_bytes(), content_type="text/x-python; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{VERIFIER.name}"'
    response["X-Content-Type-Options"] = "nosniff"
    return response


def _download(lines: Iterable[str], kind: str, name: str) -> HttpResponse:
    """Sent line by line, so that a long record needs no room in memory."""
    response = StreamingHttpResponse(lines, content_type=kind)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    return cast(HttpResponse, response)
