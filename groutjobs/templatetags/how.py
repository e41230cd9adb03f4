"""From an unfolded number to the function that computes it, and from a cited key to its source."""

from collections.abc import Iterable
from functools import cache

from django import template
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

from groutjobs.board.handbook import Entry, Piece

register = template.Library()

# code of a number of the pour plan, or the part of it before the first point → anchor
ANCHOR_OF_NUMBER = {
    "volume": "engineering.takeoff.take_off",
    "chamfer": "engineering.takeoff.take_off",
    "displaced": "engineering.takeoff.cylinder_volume_m3",
    "net": "engineering.takeoff.take_off",
    "net_sd": "engineering.takeoff.survey_depth_sd_mm",
    "with_waste": "engineering.takeoff.kits_to_order",
    "kits_needed": "engineering.takeoff.kits_to_order",
    "kits_total": "engineering.takeoff.kits_to_order",
    "mass": "engineering.takeoff.kits_to_order",
    "formwork": "engineering.formwork.formwork_list",
    "formwork.joints": "engineering.compartments.expansion_joints",
    "head": "engineering.formwork.head_pressure_kpa",
    "uplift": "engineering.formwork.uplift",
    "hold_down": "engineering.formwork.uplift",
    "timetable": "engineering.batching.timetable",
    "timetable.working_life_min": "engineering.materials.working_life_min",
}


@register.simple_tag
def how(anchor: str = "", words: str = "How it is computed") -> SafeString:
    """A link to the handbook: {% how "engineering.cure.equivalent_age_h" %}; without an anchor to its first line."""
    point = f"#{anchor}" if anchor else ""
    return format_html('<a class="source" href="{}{}">{}</a>', reverse("board:how"), point, words)


@register.simple_tag
def how_number(code: str) -> SafeString:
    """The same for a number of the pour plan by its code; to the first line where the code is not known."""
    return how(ANCHOR_OF_NUMBER.get(code) or ANCHOR_OF_NUMBER.get(code.partition(".")[0], ""))


@register.filter
def cited(pieces: Iterable[Piece]) -> SafeString:
    """Pieces of the handbook in print: source keys linked to the bibliography, code as code."""
    return mark_safe("".join(map(_printed, pieces)))  # noqa: S308


def _printed(piece: Piece) -> str:
    if piece.key:
        return format_html('<a class="source" href="{}#{}">{}</a>', reverse("board:sources"), piece.key, piece.text)
    return format_html("<code>{}</code>", piece.text) if piece.is_code else escape(piece.text)


@register.simple_tag
@cache
def how_entry(entry: Entry) -> SafeString:
    """One entry of the handbook. It is the same for every reader, so it is drawn once for each process."""
    return render_to_string("board/_how_entry.html", {"entry": entry})
