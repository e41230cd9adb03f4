"""The PDF: every section, nothing cut, hostile text stays text, the same facts give the same bytes."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.db import transaction
from django.test import override_settings
from pytest_django.plugin import DjangoDbBlocker

from groutjobs.accounts.models import User
from groutjobs.pours.actions import add_entry
from groutjobs.pours.models import PourEntry
from groutjobs.pours.photos import path_of
from groutjobs.turnover.actions import freeze_report
from groutjobs.turnover.models import TurnoverReport
from groutjobs.turnover.report import NotDrawn, draw, files_of, fonts_conf, html_of
from tests.turnover.conftest import QUICK_HASH
from tests.turnover.finished import finished_job
from tests.turnover.pdf_text import poppler, read_pdf, squeezed, text_of_pdf, words_of_pdf
from tests.turnover.signed import settle_late

SECTIONS = Path(settings.BASE_DIR) / "fixtures" / "reports" / "sections.txt"
TAG = "<b>P&1</b>"
SERVICE = "<img src=http://127.0.0.1:9/a.png>\"'><script>alert(1)</script>"
REMARK = (
    "<link rel=attachment href=file:///etc/hostname> {{ m }} {% now 'Y' %} <style>@import 'http://127.0.0.1:9/b.css'"
)
NAME = "</td></table><object data='http://127.0.0.1:9/c'>Ines"
LONG = "W" * 290
DEVIATION = "the owner's engineer agreed <svg><image href='http://127.0.0.1:9/d.svg'/></svg>"
POINTS_PER_MM = 72 / 25.4


def hostile_report() -> TurnoverReport:
    """A frozen report whose every free text tries to be something else than text."""
    site = {"name": "<h1>Works</h1>", "owner": "Owner & <i>Sons</i>", "emergency_contact": REMARK, "is_demo": True}
    job = finished_job(weather=True, photos=2, remark=REMARK, tag=TAG, service=SERVICE, site=site)
    User.objects.filter(pk=job.lead.pk).update(name=NAME)
    at = job.pour.poured_at
    add_entry(pour=job.pour, kind="note", body={"text": LONG}, by=job.lead, happened_at=at)
    add_entry(pour=job.pour, kind="leak", body={"compartment": "A", "where": REMARK[:200]}, by=job.lead, happened_at=at)
    wrong = PourEntry.objects.filter(pour=job.pour, kind="wetted_out").first()
    assert wrong is not None
    add_entry(
        pour=job.pour, kind="wetted_out", body={"batch": 1, "grout_c": 23.5}, by=job.lead, replaces=wrong,
        reason="read on the wrong probe", happened_at=wrong.happened_at,
    )  # fmt: skip
    settle_late(job)
    return freeze_report(pour=job.pour, by=job.engineer, deviations={"turnover.leak.open.A": DEVIATION})


@pytest.fixture(scope="module")
def hostile(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[tuple[TurnoverReport, bytes]]:
    with django_db_blocker.unblock(), override_settings(**QUICK_HASH), transaction.atomic():
        report = hostile_report()
        yield report, draw(report)
        transaction.set_rollback(True)


@pytest.fixture
def report(hostile: tuple[TurnoverReport, bytes], db: None) -> TurnoverReport:
    return TurnoverReport.objects.get(pk=hostile[0].pk)


@pytest.fixture
def pdf(hostile: tuple[TurnoverReport, bytes]) -> bytes:
    return hostile[1]


def test_it_has_every_section_in_order(pdf: bytes) -> None:
    text = read_pdf(pdf)
    place = text.index(squeezed("Contents"))
    rows = [line.split(" | ") for line in SECTIONS.read_text().splitlines() if line and not line.startswith("#")]
    assert len(rows) == 19
    assert squeezed(rows[0][1]) in text[:place]
    for heading, sentence in rows[1:]:
        found = text.find(squeezed(sentence), place)
        assert found > place, heading
        assert squeezed(heading) in text[place:found], heading
        place = found


def test_hostile_text_is_printed_as_text(pdf: bytes) -> None:
    text = read_pdf(pdf)
    for value in (TAG, SERVICE, NAME, DEVIATION, LONG, "Owner & <i>Sons</i>", "{{ m }} {% now 'Y' %}"):
        assert squeezed(value) in text, value


def test_nothing_but_the_manifest_is_attached_and_nothing_runs(pdf: bytes) -> None:
    assert "1 embedded files" in poppler("pdfdetach", "-list", "@", pdf=pdf)
    facts = poppler("pdfinfo", "@", pdf=pdf)
    assert "JavaScript:      no" in facts
    assert "Tagged:          yes" in facts


def test_the_attached_manifest_is_the_text_that_was_hashed(report: TurnoverReport, pdf: bytes, tmp_path: Path) -> None:
    target = tmp_path / "record.json"
    poppler("pdfdetach", "-save", "1", "-o", str(target), "@", pdf=pdf)
    assert target.read_text() == report.manifest_text


def test_each_page_carries_number_state_hash_and_page(report: TurnoverReport, pdf: bytes) -> None:
    pages = text_of_pdf(pdf).rstrip("\f").split("\f")
    assert len(pages) > 15
    for number, page in enumerate(pages, 1):
        foot = squeezed(page)[-700:]
        for part in (str(report), "Signed and sealed", report.manifest_sha256[:16], f"{number} of {len(pages)}"):
            assert squeezed(part) in foot, (number, part)


def test_a_demonstration_says_so_on_each_page(pdf: bytes) -> None:
    pages = text_of_pdf(pdf).rstrip("\f").split("\f")
    assert all("Invented demonstration" in page for page in pages)


def test_the_limits_of_use_name_the_engine_and_every_source(report: TurnoverReport, pdf: bytes) -> None:
    manifest = json.loads(report.manifest_text)
    limits = read_pdf(pdf).rpartition(squeezed("What this report does not show"))[2]
    assert squeezed(f"engine version {manifest['engine_version']}") in limits
    keys = [source["key"] for source in manifest["sources"]]
    assert len(keys) > 5
    assert [key for key in keys if squeezed(key) not in limits] == []


def test_no_word_leaves_its_page(pdf: bytes) -> None:
    """A printer cuts what is near the edge; 10 mm is a usual unprintable edge, from memory."""
    edge = 10 * POINTS_PER_MM
    outside = [
        word
        for word in words_of_pdf(pdf)
        if word.left < edge
        or word.right > word.page_width - edge
        or word.top < edge
        or word.bottom > word.page_height - edge
    ]
    assert outside == []


def test_corrections_stand_beside_what_they_correct(pdf: bytes) -> None:
    text = read_pdf(pdf)
    assert squeezed("read on the wrong probe") in text
    assert squeezed("Temperature of the mixed grout: 22.0 °C") in text
    assert squeezed("Temperature of the mixed grout: 23.5 °C") in text


def test_all_type_is_ours_and_embedded(pdf: bytes) -> None:
    rows = poppler("pdffonts", "@", pdf=pdf).splitlines()[2:]
    names = {row.split()[0].split("+")[-1] for row in rows}
    assert names
    assert all(name.startswith(("Atkinson-Hyperlegible", "DejaVu-Sans")) for name in names)
    assert all(row.split()[-5] == "yes" for row in rows)


def test_signs_of_the_trade_are_no_boxes(pdf: bytes) -> None:
    text = text_of_pdf(pdf)
    for sign in "±²°−×≤≥":
        assert sign in text, sign
    assert "\ufffd" not in text


def test_the_same_manifest_gives_the_same_bytes(report: TurnoverReport, pdf: bytes) -> None:
    assert draw(report) == pdf


def test_the_facts_come_from_the_manifest_and_not_from_today(report: TurnoverReport) -> None:
    before = html_of(report)
    machine = report.pour.plan.machine
    type(machine).objects.filter(pk=machine.pk).update(service="changed after the freeze")
    User.objects.update(name="Another Name")
    assert html_of(TurnoverReport.objects.get(pk=report.pk)) == before


def test_a_missing_photo_stops_the_drawing_with_its_name(report: TurnoverReport) -> None:
    photo = report.manifest["photos"][0]
    path = path_of(photo["sha256"])
    content = path.read_bytes()
    path.unlink()
    try:
        with pytest.raises(NotDrawn, match=f"photo {photo['id']} is missing"):
            draw(report)
    finally:
        path.write_bytes(content)


def test_a_photo_that_was_changed_stops_the_drawing(report: TurnoverReport) -> None:
    photo = report.manifest["photos"][0]
    path = path_of(photo["sha256"])
    content = path.read_bytes()
    path.write_bytes(content + b"x")
    try:
        with pytest.raises(NotDrawn, match="does not match its hash"):
            draw(report)
    finally:
        path.write_bytes(content)


def test_the_renderer_is_given_no_secret_and_only_our_fonts(report: TurnoverReport) -> None:
    text = fonts_conf().read_text()
    assert text.count("<dir>") == 1
    assert "dejavu-fonts-ttf" in text
    assert all(".sqlite" not in entry["path"] for entry in files_of(report).values())


def test_an_independent_checker_finds_the_file_whole(pdf: bytes) -> None:
    """qpdf, which shares no code with the renderer, reads every object and stream."""
    assert "No syntax or stream encoding errors found" in poppler("qpdf", "--check", "@", pdf=pdf)
