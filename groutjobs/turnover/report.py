"""The PDF of a report, drawn from its manifest and signatures alone. Renders, and decides nothing."""

import hashlib
import json
import mimetypes
import os
import subprocess
import sys
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from django.conf import settings
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse

from groutjobs import units
from groutjobs.errors import GroutJobsError
from groutjobs.pours.photos import path_of
from groutjobs.turnover.marks import qr_code, verify_address
from groutjobs.turnover.models import Meaning, ReportState, TurnoverReport
from groutjobs.turnover.pictures import pictures_of
from groutjobs.turnover.sections import sections_of
from groutjobs.turnover.signing import ORDER

BASE = "https://report.invalid/"
TYPE_FOLDER = "vendor/atkinson-hyperlegible-5.3.0"
STATIC_FILES = ("css/report.css", *(f"{TYPE_FOLDER}/atkinson-hyperlegible-latin-{cut}.woff2" for cut in (
    "400-normal", "700-normal", "400-italic",
)))  # fmt: skip
SPARE_TYPE = settings.BASE_DIR / "static" / "vendor" / "dejavu-fonts-ttf-2.37.3"
PASSED_ON = ("PATH", "HOME", "TMPDIR", "LANG", "LD_LIBRARY_PATH", "DYLD_FALLBACK_LIBRARY_PATH")
TIME_LIMIT_S = 240


class NotDrawn(GroutJobsError):
    """The report could not be drawn; nothing was issued. The text says what is missing."""


def context_of(report: TurnoverReport, *, for_print: bool = False) -> dict[str, Any]:
    """What the template of the report is given: the frozen manifest, pictures made from it, and the signatures."""
    manifest = report.manifest
    address = verify_address(manifest, report.manifest_sha256)
    signed = {signature.meaning: signature for signature in report.signatures.all()}
    return {
        "m": manifest,
        "report": report,
        "state": "Signed and sealed" if for_print else ReportState(report.state).label,
        "for_print": for_print,
        "verify_address": address,
        "qr": qr_code(address),
        "site": manifest["site"],
        "zone": manifest["site"]["zone"],
        "unit_system": manifest["report"]["unit_system"],
        "fine": 4 if manifest["report"]["unit_system"] == units.US else 3,
        "pictures": pictures_of(manifest),
        "signatures": [(Meaning(meaning), signed.get(meaning)) for meaning in ORDER],
    } | sections_of(manifest)


def html_of(report: TurnoverReport) -> str:
    """The report as HTML, as it is sealed."""
    return render_to_string("turnover/report.html", context_of(report, for_print=True))


def draw(report: TurnoverReport) -> bytes:
    """The PDF. The same manifest and signatures give the same bytes; a gap of any kind raises NotDrawn."""
    return run_renderer(order_of(report))


def order_of(report: TurnoverReport) -> dict[str, Any]:
    """What the renderer is given: the HTML, the closed list of its files, and the record to attach."""
    return {
        "html": html_of(report),
        "files": files_of(report),
        "identifier": report.manifest_sha256,
        "attachments": [
            {
                "name": "record.json",
                "text": report.manifest_text,
                "description": f"The frozen facts of {report}, SHA-256 {report.manifest_sha256}",
                "at": report.manifest["report"]["frozen_at"],
            }
        ],
    }


def run_renderer(order: dict[str, Any]) -> bytes:
    """Run the renderer in a process of its own, with our fonts and nothing else of this process."""
    command = [sys.executable, "-m", "groutjobs.turnover.renderer"]
    try:
        run = subprocess.run(  # noqa: S603  a fixed command
            command,
            input=json.dumps(order).encode(),
            capture_output=True,
            timeout=TIME_LIMIT_S,
            cwd=settings.BASE_DIR,
            env=surroundings(),
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise NotDrawn(f"drawing took longer than {TIME_LIMIT_S} s and was stopped") from error
    if run.returncode != 0 or not run.stdout.startswith(b"%PDF-"):
        last = run.stderr.decode(errors="replace").strip().splitlines()[-1:] or [f"it ended with {run.returncode}"]
        raise NotDrawn(last[0][:500])
    return run.stdout


def surroundings() -> dict[str, str]:
    """The environment of the renderer: our fonts and what every process needs, and no secret."""
    passed_on = {name: os.environ[name] for name in PASSED_ON if name in os.environ}
    return passed_on | {"FONTCONFIG_FILE": str(fonts_conf())}


def files_of(report: TurnoverReport) -> dict[str, dict[str, str]]:
    """Address → file for everything that the report may show: its style, its type and the photos of its manifest."""
    files: dict[str, dict[str, str]] = {}
    for name in STATIC_FILES:
        path = finders.find(name)
        if path is None:
            raise NotDrawn(f"{name} is missing from this installation")
        files[BASE + static(name).lstrip("/")] = _entry(str(path), name)
    for photo in report.manifest["photos"]:
        address = BASE + reverse("pours:photo", args=[photo["id"]]).lstrip("/")
        files[address] = _entry(str(path_of(photo["sha256"])), f"photo {photo['id']}", photo["sha256"])
    return files


def _entry(path: str, name: str, sha256: str = "") -> dict[str, str]:
    kind = mimetypes.guess_type(name)[0] or "image/jpeg"
    return {"path": path, "name": name, "sha256": sha256, "type": kind}


def fonts_conf() -> Path:
    """The font list of the renderer: our own fallback type, so that it draws on a machine that has no fonts."""
    folder = settings.VAR / "fonts"
    text = (
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">\n<fontconfig>'
        f"<dir>{escape(str(SPARE_TYPE))}</dir><cachedir>{escape(str(folder / 'cache'))}</cachedir></fontconfig>\n"
    )
    path: Path = folder / f"fonts-{hashlib.sha256(text.encode()).hexdigest()[:12]}.conf"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        fresh = path.with_suffix(f".{os.getpid()}")
        fresh.write_text(text, encoding="utf-8")
        fresh.replace(path)
    return path
