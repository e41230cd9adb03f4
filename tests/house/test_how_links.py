"""Whoever unfolds a computed number finds the way to how it is computed, and the way leads somewhere."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.plugin import DjangoDbBlocker

from groutjobs.accounts.models import Role
from groutjobs.board.handbook import anchors
from groutjobs.curing.models import CureInspection
from groutjobs.templatetags.how import ANCHOR_OF_FINDING, ANCHOR_OF_NUMBER
from tests.factories import make_person
from tests.house.test_doors import address
from tests.house.test_query_counts import pages
from tests.scene import arguments, demonstration

pytestmark = pytest.mark.django_db
HOW = reverse("board:how")
# What is folded away and holds digits but no number of the engineering, by its words (N for a count), and why.
NOT_COMPUTED = {
    "The text that was signed": "the evidence word for word, not a result",
    "Plan drawing": "drawn to scale from what was entered",
    "Past days, which only bring the foundation to its temperature": "hours of the forecast as the source has them",
    "It happened earlier": "a field to type a time into",
    "The very text that the phone sent": "bytes as they came, not a result",
    "new, N values": "the change trail: the columns of a row as they were written",
}
# Sheets that show numbers of the engineering, and functions that they must lead to.
LEADS_TO = {
    "equipment:machine_detail": {"engineering.block.mass_ratio", "engineering.block.free_length_diameters"},
    "planning:plan_detail": {"engineering.takeoff.take_off", "engineering.batching.timetable"},
    "windows:pour_hours": {"engineering.heat.simulate", "scheduling.windows.find_pour_hours"},
    "outages:hour_choose": {"engineering.cure.hours_until_each", "scheduling.windows.find_pour_hours"},
    "outages:outage_detail": {"engineering.cure.hours_until_each", "engineering.batching.timetable"},
    "pours:pour_detail": {"engineering.reconciliation.compare", "engineering.materials.working_life_min"},
    "curing:cure_detail": {"engineering.cure.equivalent_age_h", "engineering.cure.hours_until"},
    "curing:inspection_list": {
        "engineering.levelling.level_survey",
        "engineering.sounding.sounding",
        "engineering.bolting.tension_band",
    },
    "a level": {"engineering.levelling.level_survey"},
    "a sounding": {"engineering.sounding.sounding", "engineering.tap_grid.hit_probability"},
    "a bolts": {"engineering.bolting.tension_band", "engineering.bolting.grout_bearing_kpa"},
    "turnover:report_detail": {"engineering.takeoff.take_off"},
}


@dataclass
class Fold:
    """One details element: its summary, its other text without that of folds inside it, its links with them."""

    page: str
    summary: str = ""
    text: str = ""
    links: list[str] = field(default_factory=list)

    @property
    def words(self) -> str:
        return re.sub(r"\d+ values?\b", "N values", self.summary.strip())

    @property
    def shows_a_number(self) -> bool:
        return bool(re.search(r"\d", self.summary + self.text))

    @property
    def leads_to_the_handbook(self) -> bool:
        return any(link.startswith(f"{HOW}#") for link in self.links)


class Reader(HTMLParser):
    """Folds and links of one page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page = page
        self.links: list[str] = []
        self.ids: set[str] = set()
        self.folds: list[Fold] = []
        self.open: list[Fold] = []
        self.in_summary = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        self.ids |= {named["id"] or ""} if "id" in named else set()
        if tag == "details":
            self.open.append(Fold(self.page))
            self.folds.append(self.open[-1])
        elif tag == "summary":
            self.in_summary = True
        elif tag == "a" and named.get("href"):
            for links in (self.links, *(fold.links for fold in self.open)):
                links.append(named["href"] or "")

    def handle_endtag(self, tag: str) -> None:
        if tag == "details":
            self.open.pop()
        elif tag == "summary":
            self.in_summary = False

    def handle_data(self, data: str) -> None:
        if self.open and self.in_summary:
            self.open[-1].summary += data
        elif self.open:
            self.open[-1].text += data


def read(page: str, text: str) -> Reader:
    reader = Reader(page)
    reader.feed(text)
    return reader


@pytest.fixture(scope="module")
def sheets(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[dict[str, Reader]]:
    """Every page of the demonstration but the handbook itself, for somebody with all roles."""
    with django_db_blocker.unblock(), demonstration() as scene:
        client = Client()
        client.force_login(make_person(site=scene.works.site, roles=tuple(Role)))
        values = arguments(scene)
        answers = {name: client.get(address(name, values)) for name in pages() if name != "board:how"}
        for each in CureInspection.objects.filter(pour_id=values["pour_id"]):
            answers[f"a {each.kind}"] = client.get(reverse("curing:inspection_detail", args=[each.pk]))
        read_as_pages = {name: got for name, got in answers.items() if got["Content-Type"].startswith("text/html")}
        yield {name: read(name, got.content.decode()) for name, got in read_as_pages.items() if got.status_code == 200}


def test_every_unfolded_number_leads_to_how_it_is_computed(sheets: dict[str, Reader]) -> None:
    folds = [fold for sheet in sheets.values() for fold in sheet.folds if fold.shows_a_number]
    assert len(folds) > 30
    asked = [fold for fold in folds if fold.words not in NOT_COMPUTED]
    assert [f"{fold.page}: {fold.summary}" for fold in asked if not fold.leads_to_the_handbook] == []


def test_what_needs_no_way_still_stands_on_a_sheet(sheets: dict[str, Reader]) -> None:
    summaries = {fold.words for sheet in sheets.values() for fold in sheet.folds}
    assert set(NOT_COMPUTED) - summaries == set()


def test_every_way_leads_somewhere(sheets: dict[str, Reader], client: Client) -> None:
    client.force_login(make_person())
    ids = read("board:how", client.get(HOW).content.decode()).ids
    links = {(name, link) for name, sheet in sheets.items() for link in sheet.links if link.startswith(f"{HOW}#")}
    assert len(links) > 40
    assert [(name, link) for name, link in sorted(links) if link.removeprefix(f"{HOW}#") not in ids] == []


@pytest.mark.parametrize("name", sorted(LEADS_TO))
def test_a_sheet_with_computed_numbers_leads_to_their_functions(name: str, sheets: dict[str, Reader]) -> None:
    assert {f"{HOW}#{anchor}" for anchor in LEADS_TO[name]} - set(sheets[name].links) == set()


def test_every_anchor_that_the_program_knows_is_in_the_handbook() -> None:
    known = {*ANCHOR_OF_NUMBER.values(), *ANCHOR_OF_FINDING.values()}.union(*LEADS_TO.values())
    assert known - anchors() == set()


def test_the_check_sees_a_fold_without_a_way() -> None:
    bare = "<details><summary>Block weighs 3.6 times</summary><p>ratio</p></details>"
    ways = f'<details><summary>Ratio</summary><p>3.6 <a href="{HOW}#engineering.block.mass_ratio">how</a></p></details>'
    folds = read("made up", bare + ways).folds
    assert [(fold.shows_a_number, fold.leads_to_the_handbook) for fold in folds] == [(True, False), (True, True)]
