"""What a bolt tightening works out: targets by formula and by table, tension reached, order, findings."""

from typing import Any

import pytest

from groutjobs.curing.calc import bolt_targets, bolts_result, default_target
from groutjobs.units import from_si, to_si

PLACES = [(0.0, 0.0), (1000.0, 0.0), (2000.0, 0.0), (0.0, 800.0), (1000.0, 800.0), (2000.0, 800.0)]
KSI30 = to_si(30.0, "mpa", "ksi")


def bolts(
    thread: str = "M24", grade: str = "ASTM F1554 grade 55", free_length_mm: float = 320.0
) -> list[dict[str, Any]]:
    return [
        {
            "label": f"B{number}",
            "x_mm": x,
            "y_mm": y,
            "thread": thread,
            "grade": grade,
            "free_length_mm": free_length_mm,
        }
        for number, (x, y) in enumerate(PLACES, 1)
    ]


def result_of(rows: list[dict[str, Any]], **given: Any) -> dict[str, Any]:
    inputs = {
        "method": "torque",
        "friction": "dry, plain",
        "target_mpa": KSI30,
        "target_source": "API686",
        "passes": 3,
        "in_order": True,
        "bolts": rows,
        "weight_kn": 31.4,
        "contact_area_m2": 4.5,
    }
    return bolts_result(inputs | given)


def codes(result: dict[str, Any]) -> list[str]:
    return [item["code"] for item in result["findings"]]


def test_the_target_of_m24_at_30_ksi_is_that_of_the_formula() -> None:
    # ISO 898-1 stress area of M24: 352.5 mm²; at 207 MPa 72.9 kN; T = K·D·F with K 0.20: 350 N·m (derived)
    target = bolt_targets(bolts(), "dry, plain", KSI30)[0]
    assert target["area_mm2"] == pytest.approx(352.5, abs=0.1)
    assert target["target_kn"] == pytest.approx(72.9, abs=0.05)
    assert target["torque_nm"] == pytest.approx(350, abs=1)
    assert target["table_nm"] is None


def test_the_30_ksi_table_is_looked_up_beside_the_formula_and_not_mixed_with_it() -> None:
    # Table of handbooks for alloy studs at 30 ksi, also US Navy training manual table 16-4: 1 in, 8 threads, 245 ft·lb
    # for 16 530 lbf on the root area. The formula on the stress area gives 18 172 lbf.
    target = bolt_targets(bolts("1-8"), "oiled", KSI30)[0]
    assert from_si(target["table_nm"], "nm", "ftlb") == pytest.approx(245)
    assert from_si(target["table_kn"], "kn", "lbf") == pytest.approx(16_530)
    assert from_si(target["target_kn"], "kn", "lbf") == pytest.approx(18_172, abs=15)


def test_the_stretch_of_a_one_inch_bolt_a_foot_long_is_twelve_thousandths() -> None:
    # 30 ksi over 12 in with E = 29·10⁶ psi: 0.0124 in (derived); ours takes 200 GPa, which is 29.0·10⁶ psi
    target = bolt_targets(bolts("1-8", free_length_mm=304.8), "oiled", KSI30)[0]
    assert from_si(target["stretch_mm"], "mm", "in") == pytest.approx(0.0124, abs=0.0001)


def test_the_order_goes_from_the_middle_outwards_and_crosses_over() -> None:
    turns = {row["label"]: row["turn"] for row in bolt_targets(bolts(), "oiled", KSI30)}
    assert {turns["B2"], turns["B5"]} == {1, 2}
    assert sorted(turns.values()) == [1, 2, 3, 4, 5, 6]


def test_the_softest_bolt_sets_the_proposed_stress() -> None:
    stress, source = default_target(bolts())
    assert stress == pytest.approx(KSI30)
    assert source == "API686"
    # F1554 grade 36: 0.6 · 36 ksi = 21.6 ksi = 148.93 MPa, rounded down to whole MPa
    stress, source = default_target([*bolts(), *bolts(grade="ASTM F1554 grade 36")])
    assert stress == 148.0
    assert 21.6 - 0.2 < from_si(stress, "mpa", "ksi") < 21.6
    assert source == "PRACTICE"


def test_a_torque_stands_for_a_band_of_tension() -> None:
    row = result_of([bolt | {"torque_nm": 350.0} for bolt in bolts()])["bolts"][0]
    # 350 N·m / (K · 24 mm) with K 0.25, 0.20, 0.18
    band = [row["tension_low_kn"], row["tension_usual_kn"], row["tension_high_kn"]]
    assert band == pytest.approx([58.33, 72.92, 81.02], abs=0.01)


def test_a_stretch_stands_for_a_narrower_band() -> None:
    stretch = bolt_targets(bolts(), "oiled", KSI30)[0]["stretch_mm"]
    row = result_of([bolt | {"stretch_mm": stretch} for bolt in bolts()], method="stretch")["bolts"][0]
    assert row["tension_usual_kn"] == pytest.approx(72.9, abs=0.05)
    assert row["tension_high_kn"] == pytest.approx(1.05 * row["tension_usual_kn"])


def test_bolts_on_target_leave_nothing_to_say() -> None:
    result = result_of([bolt | {"torque_nm": 350.0} for bolt in bolts()])
    assert codes(result) == []
    assert result["suggested"] == "accepted"
    assert result["bearing_kpa"] == pytest.approx((6 * 72.92 + 31.4) / 4.5, rel=1e-3)


def test_the_same_finding_on_several_bolts_is_said_once_with_their_labels() -> None:
    rows = [bolt | {"torque_nm": 350.0 if bolt["label"] != "B3" else 200.0} for bolt in bolts(free_length_mm=200.0)]
    messages = [item["message"] for item in result_of(rows)["findings"]]
    assert any(words.startswith("Bolts B1, B2, B3, B4, B5, B6: M24×3: 200") for words in messages)
    assert any(words.startswith("Bolt B3: 200 N·m is -43% off") for words in messages)


def test_too_much_tension_for_the_steel_stands_in_the_way() -> None:
    result = result_of([bolt | {"torque_nm": 350.0} for bolt in bolts(grade="ASTM F1554 grade 36")])
    assert result["suggested"] == "refused"
    assert "bolt.yield_share" in codes(result)


def test_one_pass_out_of_order_is_told() -> None:
    result = result_of([bolt | {"torque_nm": 350.0} for bolt in bolts()], passes=1, in_order=False)
    assert codes(result) == ["bolts.passes", "bolts.order"]


def test_a_thread_or_grade_that_no_table_has_is_told_and_not_guessed() -> None:
    rows = [bolt | {"torque_nm": 350.0} for bolt in bolts(grade="unmarked")]
    rows[0]["thread"] = "W1"
    result = result_of(rows)
    assert result["bolts"][0]["tension_usual_kn"] is None
    assert {"bolts.thread", "bolts.grade"} <= set(codes(result))
    assert result["tension_kn"] == pytest.approx(5 * 72.92, rel=1e-3)
