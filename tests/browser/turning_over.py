"""The end of the job: deviations, three signatures, the PDF that the worker draws, and what others read in it."""

import hashlib
import re
import shutil
import subprocess
from pathlib import Path

from tests.browser import story
from tests.browser.server import ROOT
from tests.browser.visitor import SECRETS, Visitor
from tests.turnover.pdf_text import read_pdf, squeezed

DRAWN_WITHIN_MS = 60_000
WHY = "Done by the alignment crew after this turnover, on its own record; agreed with the owner."


def freeze(engineer: Visitor) -> int:
    """Accept what the grouting crew does not close, each with its reason, and freeze; returns how many there were."""
    engineer.open("/")
    engineer.follow("See what is still to do")
    engineer.shot("turnover-before-freezing")
    reasons = engineer.page.get_by_label(re.compile("^Why the turnover goes ahead although: "))
    count = reasons.count()
    for step in story.LEFT_TO_OTHERS:
        engineer.fill(re.compile(rf"^Why the turnover goes ahead although: Step \d+, {step}"), WHY)
    engineer.press(f"Accept {count} deviations and freeze")
    engineer.sees("is frozen")
    engineer.shot("report-frozen")
    return count


def lock_the_record(lead: Visitor, engineer: Visitor) -> None:
    """The crew lead makes the pour record ready and signs it; the engineer reviews it, which locks it."""
    for signer, meaning in ((lead, "performed"), (engineer, "reviewed")):
        signer.open("/")
        if signer.heading() == "Sign in":
            signer.sign_in()
        signer.follow("See what is still to do")
        signer.follow("Pour record")
        if meaning == "performed":
            make_ready(signer)
        signer.follow(f"Sign: {meaning}")
        signer.tick("I have read the record and mean the sentence above")
        if meaning == "reviewed":
            signer.tick("I have read the change trail of this pour")
            signer.fill("Code of your second factor", signer.next_code())
        signer.fill("Your password, to sign", signer.person.password)
        signer.shot(f"record-sign-{meaning}")
        signer.press("Sign")
        signer.sees("You signed the record")
    engineer.shot("record-locked")


def make_ready(lead: Visitor) -> None:
    """What others close later goes ahead with a reason."""
    lead.follow("See what is missing and make it ready")
    reasons = lead.page.get_by_label(re.compile("^Why it goes ahead although: "))
    for number in range(reasons.count()):
        reasons.nth(number).fill(WHY)
    lead.shot("record-ready")
    lead.press("Make it ready")
    lead.sees("its content is fixed by its hash")


def sign(signer: Visitor, meaning: str) -> None:
    """Read the report, then sign with the password typed once more."""
    signer.open("/")
    if signer.heading() == "Sign in":
        signer.sign_in()
    signer.follow("Register")
    signer.follow(re.compile(r"^T-\d+ rev"))
    signer.follow("Read on the screen")
    signer.shot(f"report-on-the-screen-{meaning.lower()}")
    signer.follow(re.compile("^Back to "))
    signer.follow(f"Sign: {meaning.lower()}")
    signer.tick("I have read the report and mean the sentence above")
    signer.fill("Your password, to sign", signer.person.password)
    if signer.person.email in SECRETS:
        signer.fill("Code of your second factor", signer.next_code())
    signer.shot(f"sign-{meaning.lower()}")
    signer.press("Sign")
    signer.sees("You signed")


def wait_for_the_pdf(signer: Visitor, folder: Path) -> Path:
    """The page renews itself when the worker has drawn the report; its words for the file are the file's SHA-256."""
    signer.page.get_by_role("link", name="Download the PDF").wait_for(timeout=DRAWN_WITHIN_MS)
    signer.arrive()
    signer.shot("report-sealed")
    path = folder / "report.pdf"
    signer.download("Download the PDF").save_as(path)
    told = signer.page.locator("dl.facts dt").filter(has_text=re.compile("^PDF$")).locator("+ dd").inner_text()
    assert squeezed(told) == hashlib.sha256(path.read_bytes()).hexdigest()
    return path


def issue(engineer: Visitor) -> str:
    """To one reader outside; returns the address that is shown once."""
    engineer.open("/")
    engineer.follow("Register")
    engineer.follow(re.compile(r"^T-\d+ rev"))
    engineer.follow("Issue it")
    engineer.fill("Who gets the report", "Odo Farwether; Owner's engineer, invented")
    engineer.shot("report-issue")
    engineer.press("Issue the report")
    engineer.sees("Odo Farwether")
    engineer.shot("report-links")
    found = re.search(r"https?://\S+/outside/[^/\s]+/", engineer.page.locator("main").inner_text())
    assert found, engineer.page.locator("main").inner_text()
    return found.group()


def read_outside(reader: Visitor, address: str, pdf: Path) -> None:
    """Without an account: opens the link, sees how the report stands, and has the file in his hand verified."""
    reader.open(address)
    reader.press("Open the report")
    reader.sees(story.TAG)
    reader.shot("outside-report")
    reader.open("/verify/")
    reader.field("Turnover report as PDF").set_input_files(pdf)
    reader.press("Verify the file")
    reader.sees("This is, byte for byte, a file that we sealed.")
    reader.shot("verified")


def check_pdf(path: Path) -> None:
    """Other programs than the one that drew it: qpdf finds it sound, pdftotext finds all sections and names."""
    qpdf = shutil.which("qpdf")
    assert qpdf, "qpdf is not installed"
    checked = subprocess.run([qpdf, "--check", str(path)], capture_output=True, text=True, check=False)  # noqa: S603
    assert checked.returncode == 0, checked.stdout + checked.stderr
    text = read_pdf(path.read_bytes())
    lines = (ROOT / "fixtures" / "reports" / "sections.txt").read_text(encoding="utf-8").splitlines()
    headings = [line.split("|")[0].strip() for line in lines if line and not line.startswith("#")]
    assert len(headings) > 10
    assert [heading for heading in headings if squeezed(heading) not in text] == []
    signers = (story.LEAD.name, story.ENGINEER.name, story.APPROVER.name)
    wanted = (story.TAG, story.LOT_NO, story.SITE_NAME, story.INSPECTOR.name, *signers)
    assert [words for words in wanted if squeezed(words) not in text] == []


def find_in_register(visitor: Visitor) -> None:
    visitor.follow("Register")
    visitor.fill("Words, anywhere in the report", story.LOT_NO)
    visitor.press("Search")
    assert visitor.page.get_by_role("row").filter(has_text=story.TAG).count() == 1
    visitor.shot("register")
    visitor.follow("Day sheet")
    visitor.follow("Show machines already turned over too")
    visitor.sees("turned over")
    visitor.shot("day-sheet-turned-over")
