"""The plan drawing of a machine, to scale, from its data alone: the same on the page, the phone and the report."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from shapely import Polygon, contains_xy

from groutjobs import svg, units
from groutjobs.equipment import symbols
from groutjobs.equipment.drawing_frame import NARROW, WIDE, Frame, dimensions, foot, frame_of
from groutjobs.equipment.geometry import (
    MachineDrawing,
    Pad,
    Point,
    Region,
    RoundPart,
    box_of,
    drawing_from_json,
    drawing_of,
)
from groutjobs.equipment.symbols import LabelPlacer, MarkShape
from groutjobs.errors import Unusable

__all__ = [
    "Area",
    "MachineDrawing",
    "Mark",
    "MarkShape",
    "Pad",
    "Point",
    "Region",
    "RoundPart",
    "drawing_from_json",
    "drawing_of",
    "plan_drawing",
]

ROW = 30.0
AREA_INK = symbols.STOP


@dataclass(frozen=True)
class Mark:
    """A sign laid over the drawing: a tap, a reading, the number of a bolt in the order of tightening.

    `means` are its words in the legend. `href` makes it a link, `target` names it (data-target) for a script.
    """

    x_mm: float
    y_mm: float
    shape: MarkShape
    label: str = ""
    means: str = ""
    href: str = ""
    target: str = ""


@dataclass(frozen=True)
class Area:
    """A region laid over the drawing, such as a void; `means` are its words in the legend."""

    points: Sequence[Point]
    label: str = ""
    means: str = ""


def plan_drawing(
    whole: MachineDrawing,
    *,
    system: str = units.METRIC,
    overlay: Sequence[Mark | Area] = (),
    targets: bool = False,
    narrow: bool = False,
) -> str:
    """The plan as one SVG element.

    `targets` adds data-x and data-y [mm] to each mark; `narrow` sets larger type and signs for a phone without
    scrolling. Raises Unusable where there is neither foundation nor plate to draw.
    """
    if whole.is_empty:
        raise Unusable("plan drawing", "neither foundation nor plate is entered yet", source="GROUTJOBS")
    frame = frame_of(whole, NARROW if narrow else WIDE)
    legend, rows = _legend(whole, frame, overlay)
    height = frame.foot_top + (rows + 2) * ROW
    paper = svg.rect(0, 0, frame.width, height, fill=svg.PAPER, stroke="none")
    pieces = [*_plan(whole, frame, overlay, targets), dimensions(whole, frame, system), foot(frame, system), legend]
    return svg.picture(
        [paper, *pieces],
        width=frame.width,
        height=height,
        label=f"Plan of {whole.tag}, {whole.service}, to scale",
        described=_words(whole, overlay),
        role="group" if any(isinstance(item, Mark) and item.href for item in overlay) else "img",
    )


def _plan(whole: MachineDrawing, frame: Frame, overlay: Sequence[Mark | Area], targets: bool) -> list[str]:
    """The layers of the plan, lowest first; words last, so that nothing is drawn over them."""
    labels = LabelPlacer(frame.left, frame.top, frame.right, frame.bottom)
    for outline in (whole.outline, *(region.outline for region in whole.compartments)):
        labels.keep_off_edges(frame.all_at(outline))
    return [
        _ground(whole, frame),
        svg.group([_area(item, frame) for item in overlay if isinstance(item, Area)]),
        _signs(whole, frame, labels),
        svg.group([_mark(item, frame, targets) for item in overlay if isinstance(item, Mark)]),
        _labels(whole, frame, labels, overlay),
    ]


def _ground(whole: MachineDrawing, frame: Frame) -> str:
    """Block, plate, compartments."""
    pieces = []
    if whole.block_length_mm is not None and whole.block_width_mm is not None:
        (left, top), scale = frame.at(0, whole.block_width_mm), frame.scale
        pieces.append(
            svg.rect(
                left, top, whole.block_length_mm * scale, whole.block_width_mm * scale, fill="#e9ebe6", stroke_width=2
            )
        )
        pieces.append(svg.circle(*frame.at(0, 0), 4, fill=svg.INK, stroke="none"))
    if whole.outline:
        pieces.append(svg.polygon(frame.all_at(whole.outline), fill=svg.PAPER, stroke_width=4, stroke_linejoin="round"))
    pieces += [
        svg.polygon(frame.all_at(region.outline), stroke_width=1.4, stroke_dasharray="10 4")
        for region in whole.compartments
    ]
    return svg.group(pieces)


def _signs(whole: MachineDrawing, frame: Frame, labels: LabelPlacer) -> str:
    pieces = [
        symbols.pad(
            frame.at(pad.x_mm - pad.length_mm / 2, pad.y_mm - pad.width_mm / 2),
            frame.at(pad.x_mm + pad.length_mm / 2, pad.y_mm + pad.width_mm / 2),
        )
        for pad in whole.pads
    ]
    for draw, least, parts in _rounds(whole):
        for part in parts:
            place, radius = frame.at(part.x_mm, part.y_mm), (part.diameter_mm or 0.0) / 2 * frame.scale
            pieces.append(draw(place, radius))
            labels.keep_clear(place, max(radius, least))
    return svg.group(pieces)


def _rounds(whole: MachineDrawing) -> list[tuple[Callable[[Point, float], str], float, tuple[RoundPart, ...]]]:
    return [
        (symbols.fill_hole, symbols.FILL, whole.fill_holes),
        (symbols.jackscrew, symbols.JACK + 3, whole.jackscrews),
        (symbols.bolt, symbols.BOLT, whole.bolts),
        (symbols.vent, symbols.VENT, whole.vents),
    ]


def _labels(whole: MachineDrawing, frame: Frame, labels: LabelPlacer, overlay: Sequence[Mark | Area]) -> str:
    marks = [item for item in overlay if isinstance(item, Mark)]
    for mark in marks:
        labels.keep_clear(frame.at(mark.x_mm, mark.y_mm), symbols.MARK_RADIUS[mark.shape])
    pieces = [_pad_label(pad, frame, labels) for pad in whole.pads]
    for mark in marks:
        if mark.label and mark.shape is not MarkShape.NUMBER:
            pieces.append(labels.place(frame.at(mark.x_mm, mark.y_mm), symbols.MARK_RADIUS[mark.shape], mark.label))
    for _draw, least, parts in _rounds(whole):
        for part in parts:
            radius = max((part.diameter_mm or 0.0) / 2 * frame.scale, least)
            pieces.append(labels.place(frame.at(part.x_mm, part.y_mm), radius, part.label))
    pieces += [_name(region, frame, labels) for region in whole.compartments]
    pieces += [_area_label(area, frame) for area in overlay if isinstance(area, Area) and area.label]
    return svg.group(pieces)


def _pad_label(pad: Pad, frame: Frame, labels: LabelPlacer) -> str:
    """Over the upper left corner of the pad, which keeps its face free for marks."""
    x, y = frame.at(pad.x_mm - pad.length_mm / 2, pad.y_mm + pad.width_mm / 2)
    right, bottom = frame.at(pad.x_mm + pad.length_mm / 2, pad.y_mm - pad.width_mm / 2)
    labels.taken.append((x, y - symbols.LABEL, right, bottom))
    return svg.text(x, y - 4, pad.label, size=symbols.LABEL)


def _area_label(area: Area, frame: Frame) -> str:
    place = Polygon(area.points).representative_point()
    return svg.text(*frame.at(place.x, place.y), area.label, anchor="middle", fill=AREA_INK, font_weight=700)


def _name(region: Region, frame: Frame, labels: LabelPlacer) -> str:
    """The name of a compartment, large, at the first place from its upper left corner that covers least."""
    (west, south), (east, north) = box_of(region.outline)
    shape, size = Polygon(region.outline), 26.0
    steps = [(row, column) for row in range(1, 12) for column in range(1, 12)]
    places = [(west + (east - west) * column / 12, north - (north - south) * row / 12) for row, column in steps]
    held = contains_xy(shape, places)
    inside = [place for place, is_in in zip(places, held, strict=True) if is_in]
    point = shape.representative_point()
    x, y = labels.freest(frame.all_at(inside or [(point.x, point.y)]), size / 2 + 4)
    labels.keep_clear((x, y), size / 2)
    return svg.text(x, y + size * 0.35, region.name, size=size, anchor="middle", font_weight=700)


def _mark(mark: Mark, frame: Frame, targets: bool) -> str:
    drawn = symbols.mark(mark.shape, frame.at(mark.x_mm, mark.y_mm), mark.label)
    if targets or mark.target:
        place = {"data_x": mark.x_mm, "data_y": mark.y_mm} if targets else {}
        drawn = svg.group([drawn], **place, data_target=mark.target or None)
    if mark.href:
        return svg.element("a", drawn, href=mark.href, aria_label=" ".join(filter(None, (mark.label, mark.means))))
    return drawn


def _area(area: Area, frame: Frame) -> str:
    return svg.polygon(
        frame.all_at(area.points),
        fill=AREA_INK,
        fill_opacity=0.18,
        stroke=AREA_INK,
        stroke_width=2,
        stroke_dasharray="6 3",
    )


def _legend(whole: MachineDrawing, frame: Frame, overlay: Sequence[Mark | Area]) -> tuple[str, int]:
    """The signs that this drawing holds with their words, and how many rows they take."""
    pieces: list[str] = []
    x, row = 24.0, 0
    top = frame.foot_top + ROW + 30
    for draw, words in _legend_entries(whole, overlay):
        wide = 20 + svg.text_width(words, symbols.LABEL) + 36
        if x > 24.0 and x + wide > frame.width:
            x, row = 24.0, row + 1
        y = top + row * ROW
        pieces += [draw((x, y - 6)), svg.text(x + 20, y, words, size=symbols.LABEL)]
        x += wide
    return svg.group(pieces), row + 1


def _legend_entries(whole: MachineDrawing, overlay: Sequence[Mark | Area]) -> list[tuple[Callable[[Point], str], str]]:
    entries: list[tuple[Callable[[Point], str], str]] = []
    if whole.compartments:
        entries.append((_bold_letter, "compartment"))
    words = ("fill hole", "jackscrew on its pad", "anchor bolt", "vent")
    for (draw, _least, parts), word in zip(_rounds(whole), words, strict=True):
        if parts:
            entries.append((partial(_sized, draw), word))
    if whole.pads:
        entries.append((lambda at: symbols.pad((at[0] - 11, at[1] + 8), (at[0] + 11, at[1] - 8)), "mounting pad"))
    for shape, means in dict.fromkeys(
        (item.shape if isinstance(item, Mark) else None, item.means) for item in overlay if item.means
    ):
        entries.append((_swatch if shape is None else partial(symbols.mark, shape, label="n"), means))
    return entries


def _sized(draw: Callable[[Point, float], str], at: Point) -> str:
    return draw(at, 0.0)


def _bold_letter(at: Point) -> str:
    return svg.text(at[0], at[1] + 7, "A", size=22, anchor="middle", font_weight=700)


def _swatch(at: Point) -> str:
    return svg.rect(at[0] - 10, at[1] - 8, 20, 16, fill=AREA_INK, fill_opacity=0.18, stroke=AREA_INK, stroke_width=2)


def _words(whole: MachineDrawing, overlay: Sequence[Mark | Area]) -> str:
    """The drawing in words, for those who do not see it."""
    counts = [
        (len(whole.compartments), "compartment"),
        (len(whole.fill_holes), "fill hole"),
        (len(whole.vents), "vent"),
        (len(whole.jackscrews), "jackscrew"),
        (len(whole.pads), "mounting pad"),
        (len(whole.bolts), "anchor bolt"),
        (len(overlay), "mark"),
    ]
    return ", ".join(f"{count} {word}{'' if count == 1 else 's'}" for count, word in counts if count)
