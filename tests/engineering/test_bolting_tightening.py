"""Order and rounds of tightening: common practice, no source; the cases are worked by hand."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.engineering.tightening import BoltPlace, tightening_order, tightening_passes
from groutjobs.errors import OutOfRange, Unusable


def circle(count: int) -> list[BoltPlace]:
    return [
        BoltPlace(name=str(i), x_mm=500.0 * math.cos(math.tau * i / count), y_mm=500.0 * math.sin(math.tau * i / count))
        for i in range(count)
    ]


def rows(pairs: int, spacing_mm: float = 700.0) -> list[BoltPlace]:
    return [
        BoltPlace(name=f"{side}{i}", x_mm=spacing_mm * i, y_mm=y_mm)
        for side, y_mm in (("L", 0.0), ("R", 900.0))
        for i in range(pairs)
    ]


def test_eight_on_a_circle_go_opposite_then_square() -> None:
    assert tightening_order(circle(8)) == ("0", "4", "2", "6", "1", "5", "3", "7")


def test_four_corners_go_across() -> None:
    assert tightening_order(rows(2)) in {("L0", "R1", "L1", "R0"), ("L0", "R1", "R0", "L1")}


def test_three_pairs_start_in_the_middle_and_cross_over() -> None:
    order = tightening_order(rows(3))
    assert set(order[:2]) == {"L1", "R1"}
    assert {order[2], order[3]} in ({"L0", "R2"}, {"L2", "R0"})
    assert {order[4], order[5]} in ({"L0", "R2"}, {"L2", "R0"})


def test_rows_across_the_page_are_rows_too() -> None:
    upright = [BoltPlace(name=bolt.name, x_mm=bolt.y_mm, y_mm=bolt.x_mm) for bolt in rows(5)]
    assert tightening_order(upright) == tightening_order(rows(5))
    far_off = [replace(bolt, x_mm=bolt.x_mm + 50_000.0) for bolt in upright]
    assert tightening_order(far_off) == tightening_order(rows(5))


@pytest.mark.parametrize(("out_mm", "first"), [(0.0, ["0", "4"]), (8.0, ["0", "4"]), (15.0, ["2", "6"])])
def test_a_circle_is_one_within_two_percent(out_mm: float, first: list[str]) -> None:
    """One of eight bolts 1.6 or 3 % farther out than the rest, wherever the plate lies; in rows the middle is first."""
    moved = [replace(bolt, x_mm=bolt.x_mm + 3000.0, y_mm=bolt.y_mm - 700.0) for bolt in circle(8)]
    moved[0] = replace(moved[0], x_mm=moved[0].x_mm + out_mm)
    assert list(tightening_order(moved)[:2]) == first


@pytest.mark.parametrize(("aside_mm", "first"), [(24.0, "N"), (25.0, "N"), (26.0, "M")])
def test_bolts_within_25_mm_stand_in_one_row(aside_mm: float, first: str) -> None:
    """Three bolts about the middle and four at the ends: a row begins with the bolt that is listed first."""
    middle = [
        BoltPlace(name=name, x_mm=x, y_mm=y)
        for name, x, y in (("N", aside_mm, 0), ("M", 0, 400), ("O", -aside_mm, 900))
    ]
    ends = [BoltPlace(name=f"{x}{y}", x_mm=x, y_mm=y) for x in (-1000.0, 1000.0) for y in (0.0, 900.0)]
    assert tightening_order([*middle, *ends])[0] == first


def test_on_a_square_plate_rows_run_across_its_length() -> None:
    square = [BoltPlace(name=f"{x}-{y}", x_mm=x, y_mm=y) for x in (0, 450, 900) for y in (0, 900)]
    assert tightening_order(square) == ("450-0", "450-900", "0-0", "900-900", "0-900", "900-0")


@given(st.integers(3, 8).map(lambda half: 2 * half))
def test_on_an_even_circle_every_second_bolt_is_opposite(count: int) -> None:
    order = [int(name) for name in tightening_order(circle(count))]
    assert all((b - a) % count == count // 2 for a, b in zip(order[::2], order[1::2], strict=True))


@given(pairs=st.integers(1, 9), spacing_mm=st.floats(200.0, 1500.0))
def test_every_bolt_comes_once_and_rows_go_outwards(pairs: int, spacing_mm: float) -> None:
    bolts = rows(pairs, spacing_mm)
    order = tightening_order(bolts)
    assert sorted(order) == sorted(bolt.name for bolt in bolts)
    if pairs > 2 and spacing_mm * (pairs - 1) >= 900.0:
        from_middle = [abs(int(name[1:]) - (pairs - 1) / 2) for name in order]
        assert from_middle == sorted(from_middle)


def test_the_passes_rise_to_the_full_torque_and_end_with_a_round() -> None:
    passes = tightening_passes(500.0)
    assert [one.torque_nm for one in passes] == pytest.approx([150.0, 350.0, 500.0, 500.0])
    assert [one.number for one in passes] == [1, 2, 3, 4]


def test_bad_bolts_and_torques_are_refused() -> None:
    lone = BoltPlace(name="1", x_mm=0.0, y_mm=0.0)
    for bolts in ([lone], [lone, lone], [lone, BoltPlace(name="2", x_mm=0.5, y_mm=0.0)]):
        with pytest.raises(Unusable):
            tightening_order(bolts)
    with pytest.raises(OutOfRange):
        tightening_order([lone, BoltPlace(name="2", x_mm=math.nan, y_mm=0.0)])
    with pytest.raises(OutOfRange):
        tightening_passes(0.0)
