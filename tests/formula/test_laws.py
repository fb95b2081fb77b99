"""Laws of a formula that hold for any: scaling, total formula and final dough, files, varying.

Expected values are arithmetic done here from the weights drawn, apart from the kit.
"""

import re
from collections import Counter

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import kit
from kit import Formula
from kit.errors import FormulaError
from kit.formula.files import write
from tests.balance.made_of import on_a_piece
from tests.formula.doughs import FIRST, FLOURS, buns, grams, weights
from tests.laws import drawn

LAWS = drawn(50)
FIND = Formula.from_weights("bun", {"flour": 1}).ingredients.find


def close(bun, other):
    """Whether two formulas hold the same percentages in the same bowls, in any order."""

    def held(formula):
        return {
            (p.name, p.kind, key): v for p in formula.parts for key, v in zip(p.keys, p.percentages, strict=True) if v
        }

    return held(bun) == pytest.approx(held(other), rel=1e-9, abs=1e-9)


def keyed(lines):
    return {FIND(name): value for name, value in lines.items()}


# percentages


@LAWS
@given(weights())
def test_percentages_are_weights_on_all_flour(drawn):
    dough, first, parts, pieces = drawn
    bun = Formula.from_weights("bun", dough, first, makes=pieces, **parts)
    everything = [dough, *first.values()]
    flour = sum(g for bowl in everything for name, g in bowl.items() if name in FLOURS)
    total = Counter()
    for bowl in everything:
        total.update(keyed(bowl))
    expected = {key: 100 * g / flour for key, g in total.items()}
    assert dict(zip(bun.dough_keys, bun.dough_percentages.tolist(), strict=True)) == pytest.approx(expected)
    mass = sum(total.values()) + sum(parts.get("inclusion", {}).values())
    assert kit.measure(bun, "total_percentage") == pytest.approx(100 * mass / flour)
    held = sum(g for bowl in first.values() for name, g in bowl.items() if name in FLOURS)
    assert kit.measure(bun, "prefermented_flour") == pytest.approx(100 * held / flour)


@LAWS
@given(weights(), st.floats(0.01, 1000))
def test_a_formula_does_not_know_how_much_was_weighed(drawn, factor):
    dough, first, parts, pieces = drawn

    def bun(times):
        def scaled(lines):
            return {name: g * times for name, g in lines.items()}

        return Formula.from_weights(
            "bun", scaled(dough), {n: scaled(b) for n, b in first.items()}, makes=pieces,
            **{n: scaled(b) for n, b in parts.items()},
        )  # fmt: skip

    assert close(bun(factor), bun(1.0))


@LAWS
@given(weights(), st.sampled_from([("kg", 1000), ("mg", 0.001), ("lb", 453.59237), ("oz", 28.349523125)]), st.randoms())
def test_neither_units_nor_order_of_lines_matter(drawn, unit, random):
    """NIST Handbook 44, Appendix C: 1 lb = 453.592 37 g exactly, 1 oz = 1/16 lb."""
    dough, first, parts, pieces = drawn
    name, size = unit

    def otherwise(lines):
        written = [(word, f"{g / size!r} {name}") for word, g in lines.items()]
        random.shuffle(written)
        return dict(written)

    bun = Formula.from_weights("bun", dough, first, makes=pieces, **parts)
    other = Formula.from_weights(
        "bun", otherwise(dough), {n: otherwise(b) for n, b in first.items()}, makes=pieces,
        **{n: otherwise(b) for n, b in parts.items()},
    )  # fmt: skip
    assert close(other, bun)
    assert kit.total_hydration(other) == pytest.approx(kit.total_hydration(bun))
    assert on_a_piece(other)["piece"] == pytest.approx(on_a_piece(bun)["piece"])


# scaling


@LAWS
@given(buns(), st.integers(1, 10_000), st.integers(1, 50))
def test_scaling_is_linear(bun, pieces, factor):
    once, more = bun.scale(pieces=pieces), bun.scale(pieces=pieces * factor)
    assert more.grams == pytest.approx({line: g * factor for line, g in once.grams.items()})
    assert bun.scale(dough=once.dough).grams == pytest.approx(once.grams)
    assert bun.scale(flour=once.flour).grams == pytest.approx(once.grams)
    # a little more dough than for those pieces is topped as those pieces are
    left = bun.scale(dough=once.dough * (1 + 0.5 / pieces)).grams
    beside = {p.name for p in bun.parts if p.kind in ("topping", "filling", "wash")}
    for line, mass in once.grams.items():
        assert left[line] == pytest.approx(mass if line[0] in beside else mass * (1 + 0.5 / pieces))
    assert once.flour == pytest.approx(sum(
        g for (part, key), g in once.grams.items()
        if part in ("sponge", "poolish", "dough") and bun.ingredients[key]["kind"] == "flour"
    ))  # fmt: skip


@LAWS
@given(weights())
def test_scaling_back_gives_the_weights(drawn):
    dough, first, parts, pieces = drawn
    bun = Formula.from_weights("bun", dough, first, makes=pieces, **parts)
    flour = sum(g for bowl in (dough, *first.values()) for name, g in bowl.items() if name in FLOURS)
    batch = bun.scale(flour=flour)
    for name, lines in {"dough": dough, **first}.items():
        assert {key: batch.grams[name, key] for key in keyed(lines)} == pytest.approx(keyed(lines))


@LAWS
@given(buns(), st.integers(1, 10_000))
def test_pieces_are_made_good_for_what_the_divider_loses(bun, count):
    batch = bun.scale(pieces=count)
    assert batch.dough * (1 - bun.losses["dividing"] / 100) == pytest.approx(count * bun.pieces.dough)
    if bun.has("topping"):
        assert batch.mass("topping") == pytest.approx(count * bun.pieces.topping)


# total formula and final dough


@LAWS
@given(buns())
def test_total_formula_is_preferments_and_final_dough(bun):
    total = dict(zip(bun.dough_keys, map(float, bun.dough_percentages), strict=True))
    for key, value in total.items():
        assert value == pytest.approx(sum(float(part.percentage(key)) for part in bun.bowls))
    assert sum(v for key, v in total.items() if bun.ingredients[key]["kind"] == "flour") == pytest.approx(100)
    final = bun.final_dough().iloc[:, 0]
    on_own_flour = bun.flour_in(bun.part("dough")) / 100
    assert final.sum() * on_own_flour == pytest.approx(sum(total.values()))
    first = [part for part in bun.bowls if part.kind == "preferment"]
    for part in first:
        assert final[part.name] * on_own_flour == pytest.approx(sum(map(float, part.percentages)))


@LAWS
@given(buns(bowls=0), st.data())
def test_taking_a_preferment_out_leaves_the_total_formula(bun, data):
    share = data.draw(st.integers(1, 100), "share of flour")
    inside = {}
    for key in bun.dough_keys:
        name = bun.ingredients[key]["name"]
        if name in FIRST:
            most = (
                float(bun.of_kind(bun.ingredients[key]["kind"])) if name != "egg" else bun.part("dough").percentage(key)
            )
            inside[name] = data.draw(st.floats(0, min(most, 450) * 100 / share * 0.999), name)
    assume(all(value <= 500 for value in inside.values()))
    sponge = bun.with_preferment("sponge", share, inside)
    assert dict(zip(sponge.dough_keys, sponge.dough_percentages, strict=True)) == pytest.approx(
        dict(zip(bun.dough_keys, bun.dough_percentages, strict=True)), abs=1e-7
    )
    assert kit.measure(sponge, "prefermented_flour") == pytest.approx(share)
    for quantity in ("total_hydration", "hydration", "total_percentage"):
        assert kit.measure(sponge, quantity) == pytest.approx(kit.measure(bun, quantity))
    lines = sponge.part("sponge")
    assert {
        bun.ingredients[key]["name"]: 100 * value / share
        for key, value in zip(lines.keys, lines.percentages, strict=True)
        if bun.ingredients[key]["kind"] != "flour"
    } == pytest.approx(inside, abs=1e-6)


# files


@LAWS
@given(buns())
def test_writing_and_reading_is_the_identity(bun):
    again = Formula.parse(write(bun))
    assert close(again, bun)
    assert again.fingerprint == bun.fingerprint
    assert Formula.parse(write(again)).fingerprint == bun.fingerprint
    assert (again.pieces.count, again.pieces.dough) == (bun.pieces.count, pytest.approx(bun.pieces.dough))


@LAWS
@given(buns(), grams(0, 60), grams(0, 40))
def test_a_variant_survives_its_parents_file(bun, butter, sugar):
    bun = Formula.parse(write(bun))
    held = sum(part.percentage("sugar_granulated") for part in bun.bowls if part.kind == "preferment")
    assume(not held)
    variant = bun.vary({"unsalted butter": butter, "sugar": sugar})
    assert Formula.parse(write(variant)).fingerprint == variant.fingerprint


def test_a_file_keeps_its_comments():
    path = kit.places.notebooks() / "formulas" / "crackle_bun.toml"
    bun = Formula.read(path)
    text = write(bun.vary(butter=25, egg=20))
    before, after = path.read_text(encoding="utf-8").splitlines(), text.splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert len(changed) == 2
    assert all(a.partition("#")[2] == b.partition("#")[2] for a, b in changed)
    assert write(bun) == path.read_text(encoding="utf-8")


# varying


@LAWS
@given(buns(), grams(0, 60), grams(0, 40))
def test_varied_percentages_are_on_total_flour(bun, butter, honey):
    varied = bun.vary(butter=butter, honey=honey)
    assert varied.of_kind("butter") == pytest.approx(butter)
    assert varied.of_kind("honey") == pytest.approx(honey)
    now = dict(zip(bun.dough_keys, bun.dough_percentages, strict=True))
    then = dict(zip(varied.dough_keys, varied.dough_percentages, strict=True))
    others = [key for key in now if bun.ingredients[key]["kind"] not in ("butter", "honey")]
    assert [then[key] for key in others] == pytest.approx([now[key] for key in others])


@LAWS
@given(buns(), st.floats(0.5, 60))
def test_varying_back_is_the_identity(bun, butter):
    now = bun.of_kind("butter")
    back = bun.vary(butter=butter).vary(butter=float(now))
    assert close(back, bun)
    assert back.fingerprint == bun.fingerprint


def test_two_butters_move_in_proportion():
    bun = Formula.from_weights("bun", {"flour": 100, "unsalted butter": 12, "salted butter": 6})
    final = bun.vary(butter=24).part("dough")
    assert final.percentage("butter_unsalted") == pytest.approx(16)
    assert final.percentage("butter_salted") == pytest.approx(8)
    named = bun.vary({"salted butter": 10}).part("dough")
    assert named.percentage("butter_unsalted") == pytest.approx(12)
    assert named.percentage("butter_salted") == pytest.approx(10)


def test_butter_in_sponge_and_dough_moves_as_a_whole():
    bun = Formula.from_weights(
        "bun", {"flour": 80, "milk": 20, "sugar": 10}, {"sponge": {"flour": 20, "milk": 22, "sugar": 1}}
    )
    varied = bun.vary(milk=50)
    assert varied.part("sponge").percentage("milk_whole") == pytest.approx(22)
    assert varied.part("dough").percentage("milk_whole") == pytest.approx(28)


def test_an_absent_ingredient_goes_into_the_final_dough():
    bun = Formula.from_weights("bun", {"flour": 80, "water": 30}, {"sponge": {"flour": 20, "water": 20}})
    varied = bun.vary(egg=20, honey=3)
    assert varied.part("dough").percentage("egg_whole_fresh") == pytest.approx(20)
    assert varied.part("dough").percentage("honey") == pytest.approx(3)
    assert varied.part("sponge").keys == bun.part("sponge").keys


@LAWS
@given(buns(), st.floats(0, 1))
def test_no_less_than_the_preferments_hold(bun, share):
    held = sum(part.percentage("milk_whole") for part in bun.bowls if part.kind == "preferment")
    assume(held > 0.01)
    assert bun.vary(milk=float(held)).part("dough").percentage("milk_whole") == pytest.approx(0, abs=1e-8)
    with pytest.raises(FormulaError, match="'milk' must be at least .* holds that much already"):
        bun.vary(milk=held * share * 0.99)


@LAWS
@given(buns(), st.lists(grams(0, 60), min_size=1, max_size=4), st.lists(grams(0, 40), min_size=1, max_size=3))
def test_a_grid_is_each_formula_alone(bun, butter, yolk):
    many = bun.vary(butter=np.array(butter), yolk=yolk)
    assert many.shape == (len(butter), len(yolk))
    for b, first in enumerate(butter):
        for y, second in enumerate(yolk):
            assert close(many[b, y], bun.vary(butter=first, yolk=second))
    matched = bun.vary(butter=[butter[0]] * 3, yolk=[yolk[0]] * 3, grid=False)
    assert matched.shape == (3,)
    assert close(matched[1], bun.vary(butter=butter[0], yolk=yolk[0]))


def test_the_same_array_given_twice_spans_a_grid():
    bun = Formula.from_weights("bun", {"flour": 100, "butter": 15, "sugar": 18})
    steps = np.arange(0.0, 5.0)
    many = bun.vary(butter=steps, sugar=steps)
    assert many.shape == (5, 5)
    assert many[1, 4].of_kind("butter") == 1
    assert many[1, 4].of_kind("sugar") == 4


def test_arrays_that_do_not_fit_are_refused_in_words():
    bun = Formula.from_weights("bun", {"flour": 100, "butter": 15, "sugar": 18})
    with pytest.raises(FormulaError, match=r"'arrays' must be of shapes that fit .*\(3,\) and \(2,\)"):
        bun.vary(butter=[1, 2, 3], sugar=[1, 2], grid=False)


@LAWS
@given(weights(), st.floats(1, 99))
def test_a_swap_keeps_the_weight(drawn, share):
    dough, first, parts, pieces = drawn
    dough = dough | {"sugar": 120.0}
    bun = Formula.from_weights("bun", dough, first, makes=pieces, **parts)
    swapped = bun.swap("sugar", "brown sugar", share)
    assert kit.measure(swapped, "total_percentage") == pytest.approx(kit.measure(bun, "total_percentage"))
    assert swapped.of_kind("sugar") == pytest.approx(bun.of_kind("sugar"))
    brown = sum(part.percentage("sugar_brown") for part in swapped.bowls)
    before = sum(part.percentage("sugar_granulated") for part in bun.bowls)
    assert brown == pytest.approx(before * share / 100)


@LAWS
@given(grams(1, 60))
def test_flour_swapped_for_what_is_no_flour_is_a_smaller_base(share):
    bun = Formula.from_weights("bun", {"flour": 1000, "water": 500, "butter": 150})
    swapped = bun.swap("flour", "cocoa", share)
    left = 1000 * (1 - share / 100)
    assert swapped.of_kind("butter") == pytest.approx(100 * 150 / left)
    assert swapped.of_kind("cocoa") == pytest.approx(100 * (1000 - left) / left)


# as weighed


@LAWS
@given(weights(), st.floats(0.2, 3), st.data())
def test_a_batch_as_weighed_is_the_formula_of_its_grams(drawn, factor, data):
    """Law: weighing one line otherwise gives what one gets who writes the formula from those weights."""
    dough, first, parts, pieces = drawn
    bowls = {"dough": dough, **first, **parts}

    def bun():
        return Formula.from_weights("bun", dough, first, makes=pieces, **parts)

    def flour():
        return sum(g for bowl in (dough, *first.values()) for name, g in bowl.items() if name in FLOURS)

    batch = bun().scale(flour=flour())
    assert close(batch.weighed({}).formula, bun())
    # only what there is to weigh: a batch of pieces without topping or wash holds none of it
    lines = [(part, name) for part in bowls for name in bowls[part] if batch.grams[part, FIND(name)]]
    part, name = data.draw(st.sampled_from(lines))
    bowls[part][name] *= factor
    try:
        expected = bun()
    except FormulaError as error:  # more of it than any formula holds: refused in the same words
        with pytest.raises(FormulaError, match=re.escape(str(error))):
            batch.weighed({(part, name): batch.grams[part, FIND(name)] * factor})
        return
    weighed = batch.weighed({(part, name): batch.grams[part, FIND(name)] * factor})
    assert close(weighed.formula, expected)
    assert weighed.flour == pytest.approx(flour())
    assert weighed.formula.pieces == expected.pieces
