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
    "lifts": "engineering.lifts.peak_band",
    "lifts.count": "engineering.lifts.lifts_needed",
    "lifts.lift_mm": "engineering.lifts.lifts_needed",
    "lifts.adiabatic_k": "engineering.exotherm.adiabatic_rise_k",
    "conditioning": "engineering.preconditioning.hours_in_store",
    "timetable": "engineering.batching.timetable",
    "timetable.working_life_min": "engineering.materials.working_life_min",
}

# code of a finding, or the part of it before a point or underscore → anchor; findings that compute nothing have none
ANCHOR_OF_FINDING = {
    "align": "engineering.cure.hours_until_each",
    "batch": "engineering.batching.timetable_findings",
    "batch.check_forms": "engineering.reconciliation.reconciliation_findings",
    "batch.trapped_air": "engineering.reconciliation.reconciliation_findings",
    "bolt": "engineering.bolting.bolt_findings",
    "bolt.bearing": "engineering.bolting.grout_bearing_kpa",
    "bolt.free_length": "engineering.block.free_length_diameters",
    "bolts.off_target": "engineering.bolting.tension_band",
    "bolts.order": "engineering.tightening.tightening_order",
    "bolts.passes": "engineering.tightening.tightening_passes",
    "concrete": "engineering.heat.simulate",
    "concrete_dew_point": "engineering.psychrometrics.dew_point_spread_k",
    "conditioning": "engineering.preconditioning.conditioning_findings",
    "cure": "engineering.cure.hours_until_each",
    "cure.cold": "engineering.cure.equivalent_age_h",
    "cure.gap": "engineering.cure.equivalent_age_h",
    "cure.hot": "engineering.cure.equivalent_age_h",
    "cure.near_minimum": "engineering.cure.equivalent_age_h",
    "daylight": "engineering.sun.sun_elevations_deg",
    "equipment.block_light": "engineering.block.mass_ratio",
    "equipment.free_length": "engineering.block.free_length_diameters",
    "evaporation": "engineering.psychrometrics.evaporation_rates_kg_m2_h",
    "fill.over_takeoff": "engineering.reconciliation.compare",
    "level": "engineering.levelling.level_findings",
    "lift": "engineering.lifts.lift_findings",
    "plate": "engineering.heat.simulate",
    "plate_dew_point": "engineering.psychrometrics.dew_point_spread_k",
    "reading.dew_point": "engineering.psychrometrics.dew_point_spread_k",
    "sounding": "engineering.sounding.sounding_findings",
    "takeoff.bed": "engineering.formwork.depth_findings",
    "takeoff.fill_hole": "engineering.compartments.compartment_findings",
    "takeoff.flow": "engineering.compartments.compartment_findings",
    "takeoff.outside_survey": "engineering.takeoff.takeoff_notes",
    "takeoff.survey_coarse": "engineering.takeoff.takeoff_notes",
    "takeoff.uplift": "engineering.formwork.uplift",
    "takeoff.vent": "engineering.compartments.compartment_findings",
    "working_life": "scheduling.limits.working_life_limits",
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


@register.simple_tag
def how_finding(code: str) -> SafeString:
    """The same for a finding by its code; nothing where it tells of no computed number."""
    rest = code.removeprefix("turnover.")
    while rest and rest not in ANCHOR_OF_FINDING:
        rest = rest[: max(rest.rfind("."), rest.rfind("_"), 0)]
    return how(ANCHOR_OF_FINDING[rest]) if rest else SafeString("")


@register.filter
def cited(pieces: Iterable[Piece]) -> SafeString:
    """Pieces of the handbook in print: source keys linked to the bibliography, code as code."""
    return mark_safe("".join(map(_printed, pieces)))  # noqa: S308


def _printed(piece: Piece) -> str:
    if piece.key:
        return format_html('<a class="source" href="{}#{}">{}</a>', reverse("board:sources"), piece.key, piece.text)
    return format_html("<code>{}</code>", piece.text) if piece.is_code else escape(piece.text)


@register.filter
def spoken(pieces: Iterable[Piece]) -> str:
    """Pieces as plain words, for a line that is itself something to press."""
    return "".join(piece.text for piece in pieces)


@register.filter
def has_links(pieces: Iterable[Piece]) -> bool:
    return any(piece.key for piece in pieces)


@register.simple_tag
@cache
def how_entry(entry: Entry, is_open: bool = False) -> SafeString:
    """One entry of the handbook. It is the same for every reader, so it is drawn once for each process."""
    template_name = "board/_how_entry.html" if entry.kind == "function" else "board/_how_given.html"
    return render_to_string(template_name, {"entry": entry, "is_open": is_open})
