"""The plan drawing is to scale, complete, safe in page and report, and can be drawn from stored JSON alone."""

import json
from dataclasses import replace

import pytest
from pytest_django import DjangoAssertNumQueries

from groutjobs.equipment.drawing import (
    Area,
    MachineDrawing,
    Mark,
    MarkShape,
    drawing_from_json,
    drawing_of,
    plan_drawing,
)
from groutjobs.equipment.queries import machine_whole
from groutjobs.errors import Unusable
from tests.equipment.drawn import SVG, numbers, read, rectangle, texts, whole_plan
from tests.factories import make_machine


def test_block_plate_and_holes_share_one_scale() -> None:
    root = read(plan_drawing(whole_plan()))
    block = root.findall(f".//{SVG}rect")[1].attrib
    scale = float(block["width"]) / 4000
    assert float(block["height"]) == pytest.approx(2000 * scale, abs=0.02)
    plate = numbers(root.findall(f".//{SVG}polygon")[0].attrib["points"])
    assert plate[1][0] - plate[0][0] == pytest.approx(3000 * scale, abs=0.02)
    hole = max(float(ring.attrib["r"]) for ring in root.iter(f"{SVG}circle"))
    assert hole == pytest.approx(max(60 * scale, 9), abs=0.02)


def test_y_runs_up_from_the_corner_with_the_dot() -> None:
    root = read(plan_drawing(whole_plan()))
    plate = numbers(root.findall(f".//{SVG}polygon")[0].attrib["points"])
    assert plate[0][1] > plate[3][1]
    block = root.findall(f".//{SVG}rect")[1].attrib
    scale = float(block["width"]) / 4000
    assert plate[0] == pytest.approx(
        (float(block["x"]) + 500 * scale, float(block["y"]) + float(block["height"]) - 400 * scale), abs=0.02
    )


def test_every_part_is_labelled_and_the_legend_has_words() -> None:
    shown = texts(read(plan_drawing(whole_plan())))
    for label in ("A", "B", "F1", "V1", "J1", "M1", "B1"):
        assert label in shown
    for words in ("compartment", "fill hole", "vent", "jackscrew on its pad", "mounting pad", "anchor bolt"):
        assert words in shown


def test_dimensions_and_scale_bar_follow_the_readers_units() -> None:
    # 1 in = 25.4 mm exactly (international inch, 1959): 3000 mm is 118.11 in, 4000 mm is 157.48 in
    metric, us = (texts(read(plan_drawing(whole_plan(), system=system))) for system in ("metric", "us"))
    assert {"4\u202f000 mm", "2\u202f000 mm", "3\u202f000 mm", "1\u202f200 mm"} <= set(metric)
    assert {"157.5 in", "118.1 in"} <= set(us)
    assert "5 ft" in us


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    root = read(plan_drawing(whole_plan()))
    boxes = [box.attrib for box in root.iter(f"{SVG}rect")]
    scale = float(boxes[1]["width"]) / 4000
    bar = sum(float(box["width"]) for box in boxes if box["height"] == "8")
    assert bar == pytest.approx(1000 * scale, abs=0.05)


@pytest.mark.parametrize("narrow", [True, False])
def test_nothing_lies_outside_the_picture(narrow: bool) -> None:
    root = read(plan_drawing(whole_plan(), narrow=narrow))
    width, height = (float(side) for side in root.attrib["viewBox"].split()[2:])
    for words in root.iter(f"{SVG}text"):
        assert 0 <= float(words.attrib["x"]) <= width
        assert 0 <= float(words.attrib["y"]) <= height


def test_marks_and_areas_lie_where_they_belong_and_enter_the_legend() -> None:
    overlay: list[Mark | Area] = [
        Mark(500.0, 400.0, MarkShape.SOLID, means="solid tap"),
        Mark(2000.0, 1000.0, MarkShape.NUMBER, "7", "order of tightening"),
        Area(rectangle(2000, 400, 2300, 700), "0.09 m²", "hollow area"),
    ]
    root = read(plan_drawing(whole_plan(), overlay=overlay))
    plate = numbers(root.findall(f".//{SVG}polygon")[0].attrib["points"])
    solid = next(c.attrib for c in root.iter(f"{SVG}circle") if c.attrib["r"] == "4.5")
    assert (float(solid["cx"]), float(solid["cy"])) == pytest.approx(plate[0], abs=0.02)
    assert {"7", "0.09 m²", "solid tap", "order of tightening", "hollow area"} <= set(texts(root))


def test_targets_carry_their_place_and_a_link_is_a_link() -> None:
    mark = Mark(600.0, 500.5, MarkShape.HOLLOW, "hollow", href="/taps/3/", target="tap-3")
    root = read(plan_drawing(whole_plan(), overlay=[mark], targets=True))
    group = next(piece for piece in root.iter(f"{SVG}g") if "data-x" in piece.attrib)
    assert (group.attrib["data-x"], group.attrib["data-y"], group.attrib["data-target"]) == ("600", "500.5", "tap-3")
    assert next(root.iter(f"{SVG}a")).attrib["href"] == "/taps/3/"
    assert root.attrib["role"] == "group"


def test_hostile_labels_stay_words_and_no_style_is_used() -> None:
    plan = replace(whole_plan(), tag='"><script>alert(1)</script>')
    markup = plan_drawing(plan, overlay=[Mark(600.0, 500.0, MarkShape.POINT, "<b>x</b>", "a&b")])
    assert "<script" not in markup
    assert "<b>" not in markup
    assert not {"style", "class"} & {name for piece in read(markup).iter() for name in piece.attrib}


def test_the_drawing_says_in_words_what_it_shows() -> None:
    root = read(plan_drawing(whole_plan()))
    assert root.attrib["aria-label"] == "Plan of P-1, test pump, to scale"
    described = root.find(f"{SVG}desc")
    assert described is not None
    assert described.text == ("2 compartments, 1 fill hole, 1 vent, 1 jackscrew, 1 mounting pad, 1 anchor bolt")


def test_a_name_stays_inside_a_compartment_that_is_not_convex() -> None:
    corner = ((500.0, 400.0), (3500.0, 400.0), (3500.0, 700.0), (800.0, 700.0), (800.0, 1600.0), (500.0, 1600.0))
    plan = replace(whole_plan(), compartments=(drawing_from_json(whole_plan().as_json()).compartments[0],))
    plan = replace(plan, compartments=(replace(plan.compartments[0], name="L", outline=corner),))
    root = read(plan_drawing(plan))
    name = next(words.attrib for words in root.iter(f"{SVG}text") if words.text == "L")
    plate = numbers(root.findall(f".//{SVG}polygon")[0].attrib["points"])
    scale = (plate[1][0] - plate[0][0]) / 3000
    x_mm, y_mm = (float(name["x"]) - plate[0][0]) / scale, (plate[0][1] - float(name["y"])) / scale
    assert x_mm < 300 or y_mm < 300


def test_a_machine_without_anything_cannot_be_drawn() -> None:
    with pytest.raises(Unusable, match="neither foundation nor plate"):
        plan_drawing(MachineDrawing(tag="P-1", service="none"))


@pytest.mark.parametrize(
    "part", [{"outline": (), "compartments": ()}, {"block_length_mm": None, "block_width_mm": None}]
)
def test_half_a_machine_is_drawn_as_far_as_it_goes(part: dict[str, None]) -> None:
    root = read(plan_drawing(replace(whole_plan(), **part)))  # type: ignore[arg-type]
    assert "B1" in texts(root)


def test_stored_json_gives_the_same_drawing_again() -> None:
    stored = json.loads(json.dumps(whole_plan().as_json()))
    assert drawing_from_json(stored) == whole_plan()
    assert plan_drawing(drawing_from_json(stored)) == plan_drawing(whole_plan())


@pytest.mark.django_db
def test_a_whole_machine_is_drawn_without_further_queries(django_assert_num_queries: DjangoAssertNumQueries) -> None:
    machine = machine_whole().get(pk=make_machine().pk)
    with django_assert_num_queries(0):
        drawing = drawing_of(machine)
    assert len(drawing.bolts) == 6
    assert [region.name for region in drawing.compartments] == ["A", "B"]
    assert drawing_of(machine_whole().get(pk=make_machine(bare=True).pk)).is_empty


@pytest.mark.django_db
def test_machines_come_whole_in_the_same_number_of_queries(
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    for _ in range(4):
        make_machine()
    with django_assert_max_num_queries(5):
        assert [len(drawing_of(machine).bolts) for machine in machine_whole()] == [6, 6, 6, 6]
