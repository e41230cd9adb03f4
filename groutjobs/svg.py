"""Small pieces of SVG that every drawing of ours is made of.

Presentation attributes only: no CSS, no style attribute, no script, so that the same text passes the content security
policy of a page and the PDF renderer. Lengths are units of the picture; y runs down, as SVG has it.
"""

import html
import math
from collections.abc import Iterable, Mapping, Sequence

Point = tuple[float, float]
FONT = "Atkinson Hyperlegible, sans-serif"
INK = "#14213d"
SOFT_INK = "#44506b"
RULE = "#b9c0cc"
TINT = "#f4f5f0"
PAPER = "#ffffff"
WIDTH_OF_LETTER = 0.56
"""Mean advance of a letter or figure of the type, in units of its size; for placing labels, not for justifying."""


def escape(value: object) -> str:
    """Text made safe inside an element or between the quotes of an attribute."""
    return html.escape(str(value), quote=True)


def number(value: float) -> str:
    """A length in the shortest form that keeps a hundredth of a unit; NaN and infinity are faults of the caller."""
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be drawn")
    shortest = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if shortest == "-0" else shortest


def element(name: str, content: str = "", **attributes: object) -> str:
    """One element. stroke_width=2 becomes stroke-width="2"; None is left out; `content` is markup already."""
    return _tag(name, content, attributes)


def _tag(name: str, content: str, attributes: Mapping[str, object]) -> str:
    pairs = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_attribute(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{pairs}>{content}</{name}>" if content else f"<{name}{pairs}/>"


def _attribute(value: object) -> str:
    if isinstance(value, float | int) and not isinstance(value, bool):
        return number(value)
    return escape(value)


def points_text(points: Iterable[Point]) -> str:
    """Points as polyline and polygon take them."""
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def polyline(points: Iterable[Point], **attributes: object) -> str:
    """An open line through the points, not filled unless asked."""
    return _drawn("polyline", {"points": points_text(points)}, attributes)


def polygon(points: Iterable[Point], **attributes: object) -> str:
    """A closed outline, not filled unless asked."""
    return _drawn("polygon", {"points": points_text(points)}, attributes)


def line(start: Point, end: Point, **attributes: object) -> str:
    """A straight line between two points."""
    return _drawn("line", {"x1": start[0], "y1": start[1], "x2": end[0], "y2": end[1]}, attributes)


def rect(x: float, y: float, width: float, height: float, **attributes: object) -> str:
    """A rectangle from its upper left corner, not filled unless asked."""
    return _drawn("rect", {"x": x, "y": y, "width": width, "height": height}, attributes)


def circle(x: float, y: float, radius: float, **attributes: object) -> str:
    """A circle about its centre, not filled unless asked."""
    return _drawn("circle", {"cx": x, "cy": y, "r": radius}, attributes)


def _drawn(name: str, place: Mapping[str, object], attributes: Mapping[str, object]) -> str:
    return _tag(name, "", {**place, "fill": "none", "stroke": INK, **attributes})


def text(x: float, y: float, words: object, *, size: float = 18.0, anchor: str = "start", **attributes: object) -> str:
    """One line of text; y is the foot of the letters. `anchor` is start, middle or end."""
    place = {"x": x, "y": y, "font_size": size, "text_anchor": anchor, "fill": INK, "font_family": FONT}
    return _tag("text", escape(words), {**place, **attributes})


def text_width(words: object, size: float) -> float:
    """About how wide a line of text is."""
    return len(str(words)) * size * WIDTH_OF_LETTER


def group(pieces: Sequence[str], **attributes: object) -> str:
    """Pieces that share attributes."""
    return _tag("g", "".join(pieces), attributes) if pieces else ""


def picture(
    pieces: Sequence[str], *, width: float, height: float, label: str, described: str = "", **more: object
) -> str:
    """The whole picture: as wide as its place, with a label for those who do not see it."""
    head = _tag("desc", escape(described), {}) if described else ""
    attributes: dict[str, object] = {
        "xmlns": "http://www.w3.org/2000/svg",
        "viewBox": f"0 0 {number(width)} {number(height)}",
        "width": "100%",
        "role": "img",
        "aria_label": label,
        **more,
    }
    return _tag("svg", head + "".join(pieces), attributes)
