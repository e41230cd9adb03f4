"""Reading a drawing back: its elements, its scale, and a plan in plain data."""

import xml.etree.ElementTree as ET

from groutjobs.equipment.drawing import MachineDrawing, Pad, Region, RoundPart

SVG = "{http://www.w3.org/2000/svg}"


def read(markup: str) -> ET.Element:
    return ET.fromstring(markup)  # noqa: S314


def rectangle(west: float, south: float, east: float, north: float) -> tuple[tuple[float, float], ...]:
    return ((west, south), (east, south), (east, north), (west, north))


def whole_plan() -> MachineDrawing:
    return MachineDrawing(
        tag="P-1",
        service="test pump",
        block_length_mm=4000.0,
        block_width_mm=2000.0,
        outline=rectangle(500, 400, 3500, 1600),
        compartments=(
            Region(name="A", outline=rectangle(500, 400, 2000, 1600)),
            Region(name="B", outline=rectangle(2000, 400, 3500, 1600)),
        ),
        fill_holes=(RoundPart(label="F1", x_mm=1250, y_mm=1000, diameter_mm=120),),
        vents=(RoundPart(label="V1", x_mm=600, y_mm=500, diameter_mm=13),),
        jackscrews=(RoundPart(label="J1", x_mm=900, y_mm=1400, diameter_mm=60),),
        pads=(Pad(label="M1", x_mm=2700, y_mm=1000, length_mm=300, width_mm=160),),
        bolts=(RoundPart(label="B1", x_mm=700, y_mm=1400, diameter_mm=None),),
    )


def texts(root: ET.Element) -> list[str]:
    return [piece.text or "" for piece in root.iter(f"{SVG}text")]


def numbers(text: str) -> list[tuple[float, float]]:
    pairs = (pair.split(",") for pair in text.split())
    return [(float(x), float(y)) for x, y in pairs]
