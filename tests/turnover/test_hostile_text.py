"""Hostile text in every free text of the record, file names included: it is printed and stays text.

The record of the demonstration goes through the whole template; each string that people or files wrote gets a tail
in it that tries to become an element, an attribute, a template tag, a link, a style or an SVG.
"""

import copy
import json
import re
import socket
from collections import Counter
from collections.abc import Callable, Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from django.conf import settings
from django.utils.html import escape
from pytest_django.plugin import DjangoDbBlocker

from groutjobs.turnover.models import TurnoverReport
from groutjobs.turnover.report import draw, html_of
from tests.scene import demonstration
from tests.turnover.pdf_text import poppler, read_pdf, squeezed

pytestmark = pytest.mark.django_db
SECTIONS = Path(settings.BASE_DIR) / "fixtures" / "reports" / "sections.txt"
TAILS = {
    "elements": (
        " </td></table></section><script src=//HOST/x.js></script><img src=http://HOST/a.png onerror=a()>"
        "<object data=//HOST/b>"
    ),
    "attributes": ' " \' onload=a() style="background:url(http://HOST/c.png)" href=\'file:///etc/hostname\' x="',
    "templates and links": (
        " {{ m }} {% now 'Y' %} {# x #} javascript:a() http://HOST/d file:///etc/hostname ]]>"
        " &lt;script&gt; &#60;img&#62;"
    ),
    "pictures and styles": (
        " <svg><image href='http://HOST/e.svg'/><use href='//HOST/f#x'/></svg><style>@import 'http://HOST/g.css'"
        "</style><link rel=attachment href=file:///etc/hostname>"
    ),
}
# Names that people give without a space in them.
NAMED = {
    "tag", "service", "label", "name", "lot", "lot_no", "serial", "supplier", "place", "where", "how", "about",
    "compartment", "instrument", "revision", "certificate_no", "report_no", "file_name", "remark", "remarks", "reason",
    "caption", "measured", "who", "object",
}  # fmt: skip
# Words that the program itself wrote, and looks up again.
ITS_OWN = {
    "source", "sources", "friction", "group", "evidence_text", "schema", "age_from", "name_of_column", "zone", "script",
}  # fmt: skip
A_MOMENT = re.compile(r"\d{4}-\d\d-\d\d([T ]|$)")
MARKED = {"src", "href", "srcset", "style", "data", "action", "xlink:href"}


def is_words(key: str, text: str) -> bool:
    return bool(text) and key not in ITS_OWN and not A_MOMENT.match(text) and (" " in text or key in NAMED)


def changed(value: Any, edit: Callable[[str, str], str], key: str = "") -> Any:
    """A copy of the record with every free text edited: `edit` gets the name of its column and the text."""
    if isinstance(value, dict):
        return {name: changed(inner, edit, name) for name, inner in value.items()}
    if isinstance(value, list):
        return [changed(inner, edit, key) for inner in value]
    return edit(key, value) if isinstance(value, str) and is_words(key, value) else value


class Skeleton(HTMLParser):
    """Every element with the names of its attributes, and the values of those that could fetch or style."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, tuple[str, ...]]] = []
        self.marked: list[tuple[str, str, str]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, tuple(name for name, _ in attrs)))
        self.marked += [(tag, name, value or "") for name, value in attrs if name in MARKED]


@pytest.fixture(scope="module")
def report(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[TurnoverReport]:
    with django_db_blocker.unblock(), demonstration() as scene:
        yield TurnoverReport.objects.prefetch_related("signatures").get(pk=scene.reports[0].pk)


def with_record(report: TurnoverReport, record: dict[str, Any]) -> TurnoverReport:
    hostile = copy.copy(report)
    hostile.__dict__.pop("manifest", None)  # read once and kept
    hostile.manifest_text = json.dumps(record)
    return hostile


@pytest.mark.parametrize("name", sorted(TAILS))
def test_no_text_becomes_anything_but_text(report: TurnoverReport, name: str) -> None:
    tail = TAILS[name].replace("HOST", "127.0.0.1:9")
    keys: Counter[str] = Counter()

    def edit(key: str, text: str) -> str:
        keys[key] += 1
        return text + tail

    text = html_of(with_record(report, changed(report.manifest, edit)))
    clean, hostile = Skeleton(html_of(report)), Skeleton(text)
    assert len(keys) > 60
    assert keys["file_name"] > 0
    assert text.count(escape(tail)) > 300
    assert Counter(hostile.elements) - Counter(clean.elements) == Counter()
    lost = Counter(clean.elements) - Counter(hostile.elements)
    assert {tag for tag, _ in lost} <= {"text"}, "a drawing leaves out labels that do not fit into it, and nothing else"
    assert hostile.marked == clean.marked


def test_nothing_is_fetched_or_runs_and_the_report_is_whole(report: TurnoverReport) -> None:
    """Three texts of each column carry everything at once; with all of them the report would have hundreds of pages."""
    times: Counter[str] = Counter()
    with socket.create_server(("127.0.0.1", 0)) as listener:
        listener.setblocking(False)
        host, port = listener.getsockname()
        tail = "".join(TAILS.values()).replace("HOST", f"{host}:{port}")

        def edit(key: str, text: str) -> str:
            times[key] += " " in text
            return text + tail if " " in text and times[key] <= 3 else text

        with patch("groutjobs.turnover.report.html_of", html_of):  # all its pages, not the one of the scene
            pdf = draw(with_record(report, changed(report.manifest, edit)))
        with pytest.raises(BlockingIOError):
            listener.accept()
    text = read_pdf(pdf)
    assert text.count(squeezed("{% now 'Y' %}")) > 20
    facts = poppler("pdfinfo", "@", pdf=pdf)
    assert "JavaScript:      no" in facts
    assert "1 embedded files" in poppler("pdfdetach", "-list", "@", pdf=pdf)
    assert str(port) not in poppler("pdfinfo", "-url", "@", pdf=pdf)
    headings = [line.split("|")[0].strip() for line in SECTIONS.read_text().splitlines() if line and line[0] != "#"]
    assert [heading for heading in headings if squeezed(heading) not in text] == []
