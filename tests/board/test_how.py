"""The sheet that says how numbers are computed: complete, with anchors that links can rely on, for anyone signed in."""

import ast
import re
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from groutjobs.accounts.models import Role
from groutjobs.board.contents import STAGES, TITLES, title_of
from groutjobs.board.handbook import LONGEST_SEARCH, anchors, chapters, cited, found, handbook
from groutjobs.sources import sources
from groutjobs.templatetags.how import ANCHOR_OF_NUMBER
from tests.factories import make_person, make_site

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).resolve().parents[2]
HOW = reverse("board:how")


def page(query: dict[str, str] | None = None) -> str:
    client = Client()
    client.force_login(make_person(site=make_site(), roles=(Role.CREW,)))
    answer = client.get(HOW, query or {})
    assert answer.status_code == 200
    return answer.content.decode()


def public_functions() -> set[str]:
    """Read off the files here once more, so that the handbook is not asked about itself."""
    return {
        f"{package}.{path.stem}.{node.name}"
        for package in ("engineering", "scheduling")
        for path in (ROOT / "groutjobs" / package).glob("*.py")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    }


def test_every_public_function_has_its_place_on_the_sheet() -> None:
    ids = set(re.findall(r' id="([^"]+)"', page()))
    assert len(public_functions()) > 100
    assert public_functions() - ids == set()


def test_no_anchor_stands_twice() -> None:
    ids = re.findall(r' id="([^"]+)"', page())
    assert sorted(ids) == sorted(set(ids))


def test_links_to_records_lead_somewhere() -> None:
    text = page()
    ids = set(re.findall(r' id="([^"]+)"', text))
    targets = set(re.findall(r'href="#([^"]+)"', text))
    assert "engineering.cure.CureClock" in targets
    assert targets - ids == set()


def test_an_argument_shows_meaning_unit_and_range_and_the_source_is_linked() -> None:
    text = page({"find": "evaporation_rate_kg_m2_h"})
    assert re.search(r'<th scope="row">relative humidity</th><td[^>]*>Ratio to saturation.*?</td>', text)
    assert re.search(r'<th scope="row">wind</th>.*?>km/h</td><td[^>]*>0 to 250</td>', text)
    assert f'href="{reverse("board:sources")}#UNO1998"' in text


def test_every_source_key_of_the_sheet_is_in_the_bibliography() -> None:
    keys = set(re.findall(rf'href="{reverse("board:sources")}#([^"]+)"', page()))
    assert len(keys) > 20
    assert keys - set(sources()) == set()


def test_every_link_of_the_templates_to_the_sheet_has_its_anchor() -> None:
    text = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "templates").rglob("*.html"))
    named = set(re.findall(r'{% how "([^"]+)"', text))
    assert len(named) >= 4
    assert (named | set(ANCHOR_OF_NUMBER.values())) - anchors() == set()


def test_every_number_of_a_plan_knows_its_function() -> None:
    numbers = (ROOT / "groutjobs" / "planning" / "data" / "numbers.toml").read_text(encoding="utf-8")
    codes = re.findall(r'^\["?([a-z_.]+)"?\]', numbers, re.MULTILINE)
    assert len(codes) > 20
    assert [code for code in codes if not {code, code.split(".")[0]} & set(ANCHOR_OF_NUMBER)] == []


def test_a_search_keeps_what_holds_every_word() -> None:
    kept = {entry.name for part in found("dew AE1996") for entry in part.entries}
    assert "dew_point_c" in kept
    assert "torque_nm" not in kept
    assert 'id="engineering.bolting.torque_nm"' not in page({"find": "Dew POINT"})


def test_a_search_by_source_key_finds_its_functions() -> None:
    assert "evaporation_rate_kg_m2_h" in {entry.name for part in found("UNO1998") for entry in part.entries}


def test_an_unknown_search_says_so_and_offers_everything() -> None:
    text = page({"find": "<b>unobtainium</b>"})
    assert "Nothing here holds “&lt;b&gt;unobtainium&lt;/b&gt;”" in text
    assert f'<a href="{HOW}">Show everything</a>' in text


def test_an_endless_search_is_cut_short() -> None:
    assert "x" * (LONGEST_SEARCH + 1) not in page({"find": "x" * 100_000})


def test_a_function_shows_its_full_reference_and_its_worked_example() -> None:
    text = page({"find": "saturation_pressure_kpa"})
    assert escape(sources()["AE1996"].reference) in text
    assert "<pre>&gt;&gt;&gt; round(saturation_pressure_kpa(20.0), 4)\n2.3334</pre>" in text


def test_the_stages_stand_in_the_order_of_the_job() -> None:
    headings = re.findall(r'<h2 id="stage-([a-z]+)">', page())
    assert headings == [*(stage.key for stage in STAGES), "ground"]


def test_every_module_stands_under_one_stage_or_last() -> None:
    placed = [part.anchor for chapter in chapters(handbook()) for part in chapter.parts]
    assert sorted(placed) == sorted(part.anchor for part in handbook())
    assert {part.anchor for part in chapters(handbook())[-1].parts} == {"engineering", "engineering.checks"}


def test_every_title_belongs_to_something() -> None:
    assert set(TITLES) - anchors() == set()


def test_all_is_folded_until_it_is_asked_for() -> None:
    folds = re.findall(r'<details class="(?:part|entry)"[^>]*>', page())
    assert len(folds) > 100
    assert [fold for fold in folds if " open" in fold] == []
    for query in ({"unfold": "all"}, {"find": "dew point"}):
        folds = re.findall(r'<details class="(?:part|entry|taken)"[^>]*>', page(query))
        assert len(folds) > 3
        assert [fold for fold in folds if " open" not in fold] == []


def test_a_name_is_shown_in_words() -> None:
    # common sense, no source: how a person would write these
    assert title_of("dew_point_c") == "Dew point"
    assert title_of("CureClock") == "Cure clock"
    assert title_of("BEARING_LIMIT_KPA") == "Bearing limit"
    assert "".join(piece.text for piece in cited("from glass.coldest_c to 250")) == "from coldest to 250"
    assert [piece.text for piece in cited("see `half_w`")] == ["see ", "half_w"]


def test_a_bracket_that_is_no_source_stays_text() -> None:
    assert [piece.key for piece in cited("a share [NOBODY1999] of [SI] `half_w`")] == ["", "SI", "", ""]


def test_the_sheet_shows_no_empty_part() -> None:
    assert [part.anchor for part in handbook() if not part.title or not part.entries] == []


def test_anyone_signed_in_reads_it_and_nobody_else(client: Client) -> None:
    client.force_login(make_person())
    assert client.get(HOW).status_code == 200
    client.logout()
    assert client.get(HOW).status_code == 302


def test_a_wrong_method_is_refused(client: Client) -> None:
    client.force_login(make_person())
    assert client.post(HOW).status_code == 405


def test_the_sources_lead_to_it(client: Client) -> None:
    client.force_login(make_person())
    assert f'href="{HOW}"' in client.get(reverse("board:sources")).content.decode()
