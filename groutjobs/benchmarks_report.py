"""What drawing and sealing a report costs beyond WeasyPrint's own time for the same HTML, and how much memory it takes.

The record is that of a report in the database, the demonstration's for example, brought to ten photos and 1 500
readings in memory: the database and its files stay as they are.
"""

import copy
import io
import json
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

from django.conf import settings
from PIL import Image

from groutjobs.errors import Unusable
from groutjobs.turnover.models import TurnoverReport
from groutjobs.turnover.report import BASE, order_of, run_renderer, surroundings

PHOTOS, READINGS = 10, 1_500
PIXELS = (1600, 1200)
MOST_RATIO, MOST_MB = 1.3, 300.0
PLAIN = """
import json, sys, time
from pathlib import Path
from weasyprint import HTML
from weasyprint.urls import URLFetcher, URLFetcherResponse
order = json.load(sys.stdin)
class Files(URLFetcher):
    def fetch(self, url, headers=None):
        entry = order["files"][url]
        return URLFetcherResponse(url, Path(entry["path"]).read_bytes(), {"Content-Type": entry["type"]})
start = time.perf_counter()
HTML(string=order["html"], base_url=sys.argv[1], url_fetcher=Files()).write_pdf(pdf_variant="pdf/a-3a")
print(time.perf_counter() - start)
"""
MEMORY = """
import resource, subprocess, sys
command = [sys.executable, "-m", "groutjobs.turnover.renderer"]
subprocess.run(command, stdin=sys.stdin.buffer, stdout=subprocess.DEVNULL, check=True)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""


def report_lines(runs: int, say: Callable[[str], None]) -> bool:
    """Print the figures; whether ratio and memory are within their goals. At least 3 runs of each, in turn."""
    report = TurnoverReport.objects.prefetch_related("signatures").order_by("pk").first()
    if report is None:
        raise Unusable("report", "the database holds none; load the demonstration first", source="GROUTJOBS")
    with tempfile.TemporaryDirectory() as folder:
        order = _order(report, Path(folder))
        first_mb = _most_mb_of_a_child(order)
        ours, own = [], []
        for _ in range(max(runs, 3)):
            own.append(_plain_s(order))
            start = time.perf_counter()
            pdf = run_renderer(order)
            ours.append(time.perf_counter() - start)
    ratio = statistics.median(ours) / statistics.median(own)
    say(f"record: {PHOTOS} photos of {PIXELS[0]} × {PIXELS[1]}, {READINGS} readings; PDF of {len(pdf) / 1e6:.1f} MB")
    say(f"WeasyPrint alone, write_pdf of the same HTML: {_spread(own)}")
    say(f"ours, with its own process, hashes, closed list and attachment: {_spread(ours)}")
    say(f"ratio {ratio:.2f}, goal {MOST_RATIO}: {'held' if ratio <= MOST_RATIO else 'NOT HELD'}")
    say(
        f"memory of the renderer {first_mb:.0f} MB, goal {MOST_MB:.0f}: {'held' if first_mb <= MOST_MB else 'NOT HELD'}"
    )
    return ratio <= MOST_RATIO and first_mb <= MOST_MB


def _spread(times: list[float]) -> str:
    return f"median {statistics.median(times):.2f} s, {min(times):.2f} to {max(times):.2f} s in {len(times)} runs"


def _order(report: TurnoverReport, folder: Path) -> dict[str, Any]:
    """The order of a report with as many photos and readings as the goal names."""
    record = copy.deepcopy(report.manifest)
    if not record["photos"] or not any(record["readings"].values()):
        raise Unusable("report", f"{report} has no photo or no reading", source="GROUTJOBS")
    record["readings"] = _readings(record["readings"])
    pictures = [_picture(folder, number) for number in range(PHOTOS)]
    row = record["photos"][0]
    record["photos"] = [row | {"id": 900 + at, "sha256": digest} for at, (_, digest) in enumerate(pictures)]
    enlarged = copy.copy(report)
    enlarged.__dict__.pop("manifest", None)
    enlarged.manifest_text = json.dumps(record)
    order = order_of(enlarged)
    photos = [entry for entry in order["files"].values() if entry["sha256"]]
    for entry, (path, _) in zip(photos, pictures, strict=True):
        entry["path"] = str(path)
    return order


def _readings(given: dict[str, list[Any]]) -> dict[str, list[Any]]:
    """The readings of all probes, cut or repeated to READINGS in all."""
    each, left = divmod(READINGS, len(given))
    found = {}
    for at, (probe, rows) in enumerate(given.items()):
        wanted = each + (at < left)
        found[probe] = (rows * (wanted // max(len(rows), 1) + 1))[:wanted]
    return found


def _picture(folder: Path, number: int) -> tuple[Path, str]:
    """A JPEG of its own with as much detail as a photo, and its hash."""
    rng = random.Random(number)  # noqa: S311
    small = Image.frombytes("RGB", (160, 120), rng.randbytes(160 * 120 * 3))
    out = io.BytesIO()
    small.resize(PIXELS).save(out, "JPEG", quality=85)
    path = folder / f"{number}.jpg"
    path.write_bytes(out.getvalue())
    return path, sha256(out.getvalue()).hexdigest()


def _plain_s(order: dict[str, Any]) -> float:
    """Seconds that WeasyPrint itself takes for the HTML, without the start of its process."""
    run = subprocess.run(  # noqa: S603  a fixed command
        [sys.executable, "-c", PLAIN, BASE],
        input=json.dumps(order).encode(), capture_output=True, check=True, env=surroundings(), cwd=settings.BASE_DIR,
    )  # fmt: skip
    return float(run.stdout)


def _most_mb_of_a_child(order: dict[str, Any]) -> float:
    """The most memory of the renderer's process, asked by a small process: a child counts what its parent held, too."""
    run = subprocess.run(  # noqa: S603  a fixed command
        [sys.executable, "-c", MEMORY],
        input=json.dumps(order).encode(), capture_output=True, check=True, env=surroundings(), cwd=settings.BASE_DIR,
    )  # fmt: skip
    return float(run.stdout) * (1 if sys.platform == "darwin" else 1024) / 1e6
