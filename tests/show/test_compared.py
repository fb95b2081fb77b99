"""What the charts show, against kit's own answers at the places shown: lines, corners, contours, the sweep."""

import numpy as np
import pytest

import kit
from kit import Formula, places
from kit.balance import measures
from kit.show.compared import (
    class_corners,
    compare,
    hydration_contours,
    made_of,
    map_lines,
    sweep,
    variant_final,
    water_sources,
)
from kit.show.formula_panel import foreseen

BUN = Formula.read(places.notebooks() / "formulas" / "crackle_bun.toml")
# Other fat, other sugar, two butters, none of either: what a map over butter and sugar must allow for.
MIXED = Formula.from_weights(
    "mixed",
    {"bread flour": 1000, "milk": 300, "egg": 200, "butter": 100, "salted butter": 60, "lard": 40, "honey": 50,
     "sugar": 80, "fresh yeast": 30, "salt": 12},
)  # fmt: skip
LEAN = Formula.from_weights("lean", {"bread flour": 1000, "water": 600, "salt": 20, "fresh yeast": 20})
FORMULAS = pytest.mark.parametrize("formula", [BUN, MIXED, LEAN], ids=lambda formula: formula.name)
NEAR = 0.01


@FORMULAS
def test_the_class_changes_at_each_corner_and_nowhere_else(formula):
    corners = class_corners(formula)
    assert len(corners) == 4
    seen = 0
    for step, (butter, sugar) in enumerate(corners, 1):
        for kind, at, other in (("butter", butter, sugar), ("sugar", sugar, butter)):
            still = {"butter": 0, "sugar": 0, kind: max(at - NEAR, 0)}
            if at - NEAR < 0:  # something else than butter and sugar already brings as much
                assert int(kit.dough_class(formula.vary(still)).code) >= step
            elif other > 0:
                seen += 1
                assert int(kit.dough_class(formula.vary(still)).code) == step - 1
                assert int(kit.dough_class(formula.vary(still | {kind: at + NEAR})).code) == step
    assert seen >= 4


@FORMULAS
def test_the_method_changes_at_each_line(formula):
    """A baking school's glossary: sugar above 12 % once developed; fat 5-15 % at half, above 15 % at four fifths."""
    lines, other_fat, other_sugar = map_lines(formula)
    as_weighed = measures(formula, ["fat_as_weighed", "sugar_as_weighed"])
    assert other_fat == pytest.approx(as_weighed["fat_as_weighed"] - formula.of_kind("butter"))
    begun = {"developed": ("sugar", 12), "half": ("butter", 5), "four_fifths": ("butter", 15)}
    assert sorted(when for when, _ in lines) == sorted(begun)
    for when, ((xa, ya), (xb, yb)) in lines:
        kind, printed = begun[when]
        at = xa if kind == "butter" else ya
        assert at == (xb if kind == "butter" else yb)
        assert at == pytest.approx(printed - (other_fat if kind == "butter" else other_sugar))
        read = "fat_when" if kind == "butter" else "sugar_when"
        sides = [getattr(kit.dough_class(formula.vary({kind: at + step})).mixing, read) for step in (-NEAR, NEAR)]
        assert (sides[0] == when, sides[1] == when) == (False, True)


@FORMULAS
def test_total_hydration_is_its_label_along_each_contour(formula):
    lines = hydration_contours(formula)
    assert len(lines) > 5
    assert all(level == round(level) for level, _ in lines)
    for level, ((xa, ya), (xb, yb)) in lines:
        for share in (0.0, 0.1, 0.3):
            butter, sugar = xa + share * (xb - xa), ya + share * (yb - ya)
            if butter >= 0:
                assert kit.total_hydration(formula.vary(butter=butter, sugar=sugar)) == pytest.approx(level, abs=1e-6)


@pytest.mark.parametrize("kind", ["butter", "egg", "milk", "water"])
def test_the_sweep_is_the_yield_one_by_one(kind):
    variant = BUN.vary(sugar=20)
    points, made = sweep(variant, BUN, kind, 1500.0)
    assert len(points) > 20
    assert points[-1] == 40
    for n in (0, len(points) // 2, len(points) - 1):
        one = kit.predict_yield(variant.vary({kind: BUN.of_kind(kind) + points[n]}), flour=1500.0)
        assert made.pieces[n] == one.pieces
        for name in ("baked_mass", "baked_piece_low", "baked_piece_high"):
            values = getattr(made, name)
            assert values[n] == pytest.approx(getattr(one, name), rel=1e-12)


def test_the_sweep_begins_where_the_preferment_holds_all():
    points, _ = sweep(BUN, BUN, "milk", 1500.0)
    held = BUN.of_kind("milk") - variant_final(BUN, "milk")
    assert held == pytest.approx(22)  # 88 % on the sponge's own flour, which is a quarter
    assert points[0] + BUN.of_kind("milk") >= held
    assert points[0] - 1 + BUN.of_kind("milk") < held
    assert sweep(BUN, BUN, "flour", 1500.0) is None


@FORMULAS
def test_water_and_what_it_is_made_of_add_up(formula):
    values = measures(formula)
    water = water_sources(formula)
    assert sum(water.values()) == pytest.approx(kit.total_hydration(formula))
    for thing, kind in (("egg", "egg"), ("fat", "butter"), ("milk", "milk")):
        without = kit.total_hydration(formula.vary({kind: variant_held(formula, kind)}))
        least = values["total_hydration"] - without
        assert water[thing] >= least - 1e-9
    made = made_of(values)
    assert sum(made.values()) == pytest.approx(kit.measure(formula, "total_percentage"))
    assert made["rest"] > 0


def variant_held(formula, kind):
    """What the preferment holds, the least that can be [% of flour]."""
    return formula.of_kind(kind) - variant_final(formula, kind)


def test_compared_is_on_the_flour_of_the_baseline():
    shown = compare(BUN, BUN.vary(butter=30))
    before, after = shown.made
    assert before.pieces == BUN.pieces.count == 48
    assert after.flour == pytest.approx(before.flour)
    assert after.pieces == kit.predict_yield(BUN.vary(butter=30), flour=shown.flour).pieces > 48
    assert shown.values[0] == measures(BUN)
    assert shown.values[1] == measures(BUN.vary(butter=30))
    assert shown.names[shown.code] == kit.dough_class(BUN.vary(butter=30)).name
    assert compare(BUN, BUN, flour=1000.0).made[0].flour == pytest.approx(1000)


def test_total_hydration_of_the_whole_map_lies_between_its_contours():
    many = BUN.vary(butter=np.linspace(0, 55, 12), sugar=np.linspace(0, 32, 5))
    levels = [level for level, _ in hydration_contours(BUN, highest=55)]
    wet = kit.total_hydration(many)
    assert wet.min() - 1 < min(levels) <= wet.min() + 1
    assert wet.max() - 1 <= max(levels) < wet.max() + 1


def test_what_is_foreseen_is_kits_own_answer_and_its_causes_add_up():
    shown = compare(BUN, BUN.vary(sugar=22, egg=20, pieces={"topping": 26}))
    before, after, causes = shown.foreseen["bulk to double, min"]
    assert (before, after) == (kit.rise(BUN).minutes, kit.rise(shown.variant).minutes)
    assert sum(causes.values()) == pytest.approx(after - before)
    before, after, _ = shown.foreseen["cover when baked, % of the dome"]
    assert after == pytest.approx(before)  # more topping is a thicker disc of the same size
    assert "sugar +" in foreseen(shown)


def test_what_cannot_be_foreseen_is_left_out():
    dry = Formula.from_weights("dry", {"bread flour": 100, "butter": 50})
    assert compare(dry, dry).foreseen == {}
    assert foreseen(compare(dry, dry)) == ""
    assert list(compare(LEAN, LEAN).foreseen) == ["bulk to double, min"]
