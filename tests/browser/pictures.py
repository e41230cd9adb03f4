"""Make the pictures of the README again: `.venv/bin/python -m tests.browser.pictures`.

Loads the demonstration into a folder of its own, serves it, photographs its sheets in headless Chromium at desk and
phone width, and takes one page of the report. The pictures land in fixtures/pictures.
"""

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from groutjobs.demo import PASSWORD, address_of

ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / "fixtures" / "pictures"
DESK = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
CHROMIUM = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]

# file, person, the links to follow from the Day sheet by their text, part of the page to show
WALK: list[tuple[str, str, list[str]]] = [
    ("day-sheet", "engineer", []),
    ("machine-sheet", "engineer", ["P-201"]),
    ("pour-plan", "engineer", ["Check and approve the plan"]),
    ("pour-hours", "engineer", ["Find and choose the pour hour >> nth=1"]),
    ("outage", "engineer", ["Outages", "Spring intake outage"]),
    ("cure", "inspector", ["Cure >> nth=0"]),
    ("register", "auditor", ["Register"]),
]


@contextmanager
def served() -> Iterator[tuple[str, Path]]:
    """The demonstration at an address of its own."""
    with tempfile.TemporaryDirectory() as folder, socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
        probe.close()
        environment = os.environ | {"GROUTJOBS_VAR": folder}
        command = [sys.executable, str(ROOT / "manage.py"), "demo", "--port", str(port)]
        process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL)  # noqa: S603
        try:
            _wait_for(port)
            _wait_for_report(Path(folder))
            yield f"http://localhost:{port}", Path(folder)
        finally:
            process.terminate()
            process.wait(timeout=20)


def _wait_for(port: int) -> None:
    for _ in range(600):
        try:
            socket.create_connection(("127.0.0.1", port), 1).close()
        except OSError:
            time.sleep(0.5)
        else:
            return
    raise SystemExit("the demonstration did not start")


def _wait_for_report(folder: Path) -> None:
    for _ in range(240):
        if list((folder / "files").rglob("*.pdf")):
            return
        time.sleep(0.5)
    raise SystemExit("the report was not drawn")


def sign_in(browser: Browser, address: str, person: str, size: dict[str, int]) -> Page:
    page = browser.new_page(viewport={"width": size["width"], "height": size["height"]})
    page.goto(f"{address}/sign-in/")
    page.get_by_label("E-mail address").fill(address_of(person))
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    return page


def keep(page: Page, name: str) -> None:
    """A picture of what the window shows, in 64 colours."""
    page.wait_for_load_state("networkidle")
    path = PICTURES / f"{name}.png"
    page.screenshot(path=path)
    Image.open(path).quantize(64).save(path, optimize=True)


def walk(browser: Browser, address: str) -> None:
    for name, person, links in WALK:
        page = sign_in(browser, address, person, DESK)
        for link in links:
            text, _, which = link.partition(" >> nth=")
            page.get_by_role("link", name=text, exact=True).nth(int(which or 0)).click()
        keep(page, name)
        page.close()
    page = sign_in(browser, address, "lead", PHONE)
    page.get_by_role("link", name="Log batches; declare complete").click()
    keep(page, "pour-log-phone")


def report_page(folder: Path) -> None:
    """The page of the report that shows the machine."""
    pdf = next((folder / "files").rglob("*.pdf"))
    tool = shutil.which("pdftoppm") or "pdftoppm"
    out = PICTURES / "report"
    subprocess.run([tool, "-r", "70", "-png", "-f", "3", "-l", "3", "-singlefile", pdf, out], check=True)  # noqa: S603
    Image.open(out.with_suffix(".png")).quantize(64).save(out.with_suffix(".png"), optimize=True)


def main() -> None:
    PICTURES.mkdir(parents=True, exist_ok=True)
    with served() as (address, folder), sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=CHROMIUM)
        walk(browser, address)
        report_page(folder)
        browser.close()


if __name__ == "__main__":
    main()
