"""The panels and charts of what must hold: marks by their data, words, numbers by hand, undo, what cannot be."""

import re

import numpy as np
import pytest

import kit
from kit.formula import Formula
from kit.reformulate import solve
from kit.show import FormulaPanel, SolvePanel, SubstitutePanel
from kit.show.reformulate_charts import QuantityRows
from kit.words import figure, without_zeros

SOURCE = kit.places.notebooks() / "formulas" / "crackle_bun.toml"
# Water and fat per 100 g (USDA SR28): butter 17.94 and 81.11, egg 76.15, milk 88.13; tap water is all water.
BUTTER_WATER, BUTTER_FAT, EGG_WATER, MILK_WATER = 0.1794, 0.8111, 0.7615, 0.8813


@pytest.fixture
def bun():
    return Formula.read(SOURCE)


@pytest.fixture
def panel(bun, tmp_path):
    return SolvePanel(bun, folder=tmp_path)


@pytest.fixture
def swaps(bun, tmp_path):
    return SubstitutePanel(bun, folder=tmp_path)


def slide(panel, name, value):
    panel.dials[name].slider.value = value


def tick(panel, name, value=True):
    panel.choices[name].value = value


def marks(rows):
    """Return {name without its mark: (before, after)} of the dots as drawn."""
    names = [text.get_text().split(",")[0] for text in rows.names if text.get_visible()]
    return dict(zip(names, zip(rows.base.get_xdata(), rows.now.get_xdata(), strict=True), strict=True))


def words(rows, name):
    """Return what a row says: its name and its figures."""
    return next(
        (n.get_text(), w.get_text())
        for n, w in zip(rows.names, rows.words, strict=True)
        if n.get_visible() and n.get_text().startswith(name)
    )


def boxes(rows):
    """Return the left and right ends of the bands as drawn."""
    path = rows.band.get_path()
    starts = np.flatnonzero(path.codes == path.MOVETO) if path.codes is not None else []
    return [tuple(path.vertices[a : a + 2, 0]) for a in starts]


# ---- what must hold


def test_water_follows_butter_as_reckoned_by_hand(panel, bun):
    slide(panel, "butter", 25.0)
    water = 14 - 7 * BUTTER_WATER
    assert panel.variant.of_kind("water") == pytest.approx(water, abs=0.001)
    assert marks(panel._handles[0])["water"] == pytest.approx((14, water), abs=0.001)
    assert marks(panel._handles[0])["unsalted butter"] == (18, 25)
    assert words(panel._handles[0], "unsalted butter") == ("unsalted butter, asked", "18 → 25 %")
    assert words(panel._handles[1], "total hydration") == ("total hydration, held", "60.45 %")
    change = 100 * 7 * BUTTER_FAT / kit.balance.measure(bun, "fat")
    assert marks(panel._handles[1])["fat"] == pytest.approx((0, change), abs=0.01)
    assert f"{water:.2f} %" in panel._live.value


def test_only_what_is_ticked_follows(panel):
    tick(panel, "free water", False)
    tick(panel, "free milk")
    slide(panel, "butter", 25.0)
    assert panel.variant.of_kind("water") == 14
    assert panel.variant.of_kind("milk") == pytest.approx(32 - 7 * BUTTER_WATER / MILK_WATER, abs=0.001)


def test_two_things_held_by_two_that_follow(panel):
    """Egg up 4 at equal water and sugars per piece: the topping makes good what the heavier dough thins out."""
    tick(panel, "hold sugars_per_piece")
    tick(panel, "free topping")
    slide(panel, "egg", 20.0)
    assert words(panel._handles[1], "sugars per piece")[1] == "11.88 g"
    assert panel.variant.of_kind("water") == pytest.approx(14 - 4 * EGG_WATER, abs=0.001)
    assert panel.variant.pieces.topping > 22
    assert words(panel._handles[1], "topping")[1] == f"22 → {without_zeros(figure(panel.variant.pieces.topping, 2))} g"


def test_the_time_to_double_can_be_held(panel):
    tick(panel, "hold time_to_double")
    tick(panel, "free yeast")
    slide(panel, "sugar", 20.0)
    times = [kit.rise(f, until=2).minutes for f in (panel.baseline, panel.variant)]
    assert times[1] == pytest.approx(times[0], rel=1e-4)
    assert panel.variant.of_kind("yeast") > 4


def test_nothing_held_lets_all_else_stay(panel):
    tick(panel, "hold total_hydration", False)
    assert panel.variant is panel.baseline
    slide(panel, "butter", 25.0)
    assert panel.result.moves == {"butter": (18, 25, "% of flour")}


def test_held_within_draws_its_band_and_moves_less(panel):
    slide(panel, "butter", 30.0)
    exact = panel.variant.of_kind("water")
    slide(panel, "within", 2.0)
    wet = [kit.total_hydration(f) for f in (panel.baseline, panel.variant)]
    assert exact < panel.variant.of_kind("water") < 14
    assert wet[1] == pytest.approx(1.02 * wet[0], abs=0.001)
    assert boxes(panel._handles[1]) == [pytest.approx((-2, 2))]


def test_what_cannot_be_is_said_and_the_picture_stays(panel):
    shown = panel._live.value
    assert panel.nearest_button.layout.display == "none"
    slide(panel, "egg", 45.0)
    most = 16 + 14 / EGG_WATER
    assert f"egg can be at most {most:.2f}" in panel._problem.value
    assert ".nearest" not in panel._problem.value
    assert panel._live.value == shown
    assert panel.nearest_button.layout.display == ""


def test_the_nearest_is_taken_shown_as_given_up_and_undone(panel):
    slide(panel, "egg", 45.0)
    panel.nearest_button.click()
    assert panel._problem.value == ""
    assert panel.nearest_button.layout.display == "none"
    assert (panel.variant.of_kind("egg"), panel.variant.of_kind("water")) == (45, 0)
    wet = kit.total_hydration(panel.baseline) + 29 * EGG_WATER - 14
    name, figures = words(panel._handles[1], "total hydration")
    assert name == "total hydration, given up"
    assert figures.endswith(f"→ {wet:.2f} %")
    panel.undo()
    assert panel._problem.value != ""
    panel.undo()
    assert panel.variant.of_kind("egg") == 16


def test_a_taken_nearest_is_let_go_by_the_next_move(panel):
    slide(panel, "egg", 45.0)
    panel.nearest_button.click()
    slide(panel, "egg", 46.0)
    assert panel._problem.value != ""
    slide(panel, "egg", 20.0)
    assert panel._problem.value == ""
    assert panel.result.traded == ()


def test_undo_and_reset_take_back_ticks_and_dials(panel):
    start = panel._state()
    tick(panel, "hold fat")
    slide(panel, "egg", 18.0)
    slide(panel, "egg", 19.0)
    panel.undo()
    assert panel.dials["egg"].value == 16
    assert panel.choices["hold fat"].value
    panel.undo()
    assert panel._state() == start
    slide(panel, "sugar", 18.0)
    panel.reset()
    assert panel._state() == start
    panel.undo()
    assert panel.variant.of_kind("sugar") == 18


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("250", "butter"),
        ("0.15", "1.5 g on a kilogram of flour"),
        ("-3", "0 % or more"),
        ("plenty", "must be a number"),
    ],
)
def test_a_slip_of_the_pen_is_said(panel, typed, said):
    panel.dials["butter"].box.value = typed
    assert said in panel._problem.value
    assert "demands" not in panel._problem.value
    assert panel.variant is panel.baseline


def test_the_answer_is_kept_as_a_variant(panel, tmp_path):
    slide(panel, "butter", 25.0)
    kept = panel.row.keep()
    assert kept.path.parent == tmp_path
    again = Formula.read(kept.path)
    assert again.name == "Cardamom crackle bun, butter 25, water 12.74"
    assert again.of_kind("water") == pytest.approx(panel.variant.of_kind("water"), abs=1e-6)
    assert again.parent.startswith("crackle_bun.toml ")


def test_the_cheapest_way_is_offered_with_the_shops_prices(bun):
    prices = kit.read_prices(kit.places.notebooks() / "formulas" / "crackle_bun_prices.csv", today="2025-03-03")
    panel = SolvePanel(bun, hold=("fat",), free=("butter", "milk"), prices=prices)
    tick(panel, "prefer", "the cheapest")
    slide(panel, "egg", 20.0)
    assert panel._problem.value == ""
    smallest = kit.solve(bun, {"egg": 20}, hold=["fat"], free=["butter", "milk"])
    least = kit.solve(bun, {"egg": 20}, hold=["fat"], free=["butter", "milk"], prefer="cheapest", prices=prices)
    assert panel.variant.of_kind("milk") == pytest.approx(least.formula.of_kind("milk"))
    assert kit.cost(least.formula, prices).per_piece <= kit.cost(smallest.formula, prices).per_piece
    assert "prefer" not in SolvePanel(bun).choices


def test_figures_are_no_finer_than_typed_and_a_refusal_names_what_else_could_follow(panel, swaps):
    """A figure typed as 14 is read as 14; more yeast doubles sooner (common practice, no source)."""
    panel.dials["butter"].box.value = "14"
    assert re.findall(r"\d\.\d?0 [%×→]", panel._live.value + swaps._live.value) == []
    tick(panel, "hold time_to_double")
    panel.dials["sugar"].box.value = "30"
    assert "or let fresh yeast go to" in panel._problem.value


def test_four_things_to_hold_are_shown_and_the_rest_is_folded(panel):
    (folded,) = (box for box in panel.children if getattr(box, "titles", ()) == ("More that can hold",))
    inside = {tick.description for tick in folded.children[0].children if hasattr(tick, "description")}
    shown = {choice.description for name, choice in panel.choices.items() if name.startswith("hold ")} - inside
    assert len(shown) == 4
    assert folded.selected_index is None


def test_a_bare_dough_has_a_panel_too():
    bare = Formula.from_weights("bare", {"flour": 100, "water": 60, "salt": 2}, makes={"piece": 60})
    panel = SolvePanel(bare)
    assert {"free topping", "hold time_to_double"}.isdisjoint(panel.choices)
    slide(panel, "egg", 20.0)
    assert panel.variant.of_kind("water") == pytest.approx(60 - 20 * EGG_WATER, abs=0.001)


def test_the_still_says_what_it_shows(panel):
    slide(panel, "butter", 25.0)
    first, second = (words for _, _, words in panel.picture().pictures)
    assert "unsalted butter, asked 18 → 25 %" in first
    assert "total hydration, held 60.45 %" in second


def test_what_lies_beyond_the_axis_waits_at_its_edge_with_its_figure(bun):
    found = solve(bun, {"fat": 40}, free=["butter"])
    chart = QuantityRows(found, names=("fat", "salt"))
    assert marks(chart)["fat"] == (0, 40)
    assert marks(chart)["salt"] == (0, 0)
    assert words(chart, "fat") == ("fat, held", "17.29 → 40 %")


# ---- one for another


def choose(panel, what, into=None):
    panel.choices["what"].value = what
    if into:
        panel.choices["into"].value = into


def tile(panel, name):
    """Return the large number and the words beneath it of a tile."""
    found = re.search(f">{name}<div[^>]*>([^<]*)</div><b[^>]*>([^<]*)</b> ([^<]*)<", panel._live.value)
    return found.groups() if found else None


def test_oil_for_butter_and_the_size_of_the_usual_error(swaps):
    choose(swaps, "butter in the dough", "oil")
    oil = 18 * BUTTER_FAT
    assert tile(swaps, "rapeseed oil") == (f"{oil:.1f} %", f"+{without_zeros(figure(oil, 2))}", "of flour")
    assert tile(swaps, "water")[1] == f"+{18 * BUTTER_WATER:.2f}"
    off, right = (without_zeros(figure(value, 2)) for value in (18 - oil, oil))
    assert tile(swaps, "rapeseed oil, off by") == (f"+{off} points", "18 %", f"where {right} is right")
    assert tile(swaps, "total hydration, off by")[0] == f"−{without_zeros(figure(18 * BUTTER_WATER, 2))} points"
    assert tile(swaps, "fat, off by")[0] == f"+{without_zeros(figure(18 * (1 - BUTTER_FAT), 2))} points"
    assert "common practice" in swaps._live.value
    assert marks(swaps._handles[0])["unsalted butter"] == (18, 0)


def test_half_of_it_brings_half(swaps):
    choose(swaps, "butter in the dough", "oil")
    slide(swaps, "share", 50.0)
    assert tile(swaps, "rapeseed oil")[0] == f"{9 * BUTTER_FAT:.1f} %"
    assert swaps.variant.of_kind("butter") == 9


def test_what_is_equal_can_be_chosen(swaps):
    choose(swaps, "egg in the dough", "yolk")
    assert swaps.variant.of_kind("yolk") == 16
    swaps.choices["basis"].value = "fat"
    assert swaps.variant.of_kind("yolk") == pytest.approx(16 * 0.0951 / 0.2654, abs=0.01)  # fat of egg and yolk, SR28


def test_what_comes_in_follows_what_goes_out_and_undo_brings_both_back(swaps):
    choose(swaps, "milk in the dough", "cream")
    choose(swaps, "flour in the topping", "cocoa")
    assert swaps.dials["share"].value == 10
    swaps.undo()
    swaps.undo()
    assert (swaps.choices["what"].value, swaps.choices["into"].value) == ("milk in the dough", "cream")
    assert swaps.dials["share"].value == 100
    assert swaps.variant.of_kind("cream") == 32
    swaps.reset()
    assert swaps._state() == swaps.start


def test_a_swap_that_cannot_be_is_said_and_the_last_stays(swaps):
    choose(swaps, "butter in the dough", "oil")
    shown = swaps._live.value
    choose(swaps, "butter in the dough", "cream")
    assert "swap at most" in swaps._problem.value
    assert swaps._live.value == shown
    slide(swaps, "share", 50.0)
    assert swaps._problem.value == ""


@pytest.mark.parametrize(("name", "kinds"), [("egg", {"egg", "yolk", "white"}), ("milk", {"milk", "butter"})])
def test_without_an_allergen_in_every_part(swaps, name, kinds):
    choose(swaps, f"all that holds {name}")
    used = {swaps.variant.ingredients[key]["kind"] for part in swaps.variant.parts for key in part.keys}
    assert used.isdisjoint(kinds)
    assert f"Gone: {name}; read every label." in swaps._live.value
    contains = re.search(r"Contains [^<]*", swaps._cautions.value).group()
    assert "wheat" in contains
    assert f"{name} (" not in contains
    assert any(row.get_text().startswith("topping: ") for row in swaps._handles[0].names)


def test_every_swap_on_offer_is_made_or_refused_in_words(swaps):
    made = 0
    for what in swaps._offers:
        choose(swaps, what)
        for into in swaps.choices["into"].options:
            choose(swaps, what, into)
            refused = "must be" in swaps._problem.value
            assert refused or swaps._problem.value == ""
            made += not refused
    assert made > 30


def test_a_swap_is_kept_under_its_own_name(swaps):
    choose(swaps, "milk in the dough", "milk powder")
    kept = swaps.row.keep()
    assert Formula.read(kept.path).name == "Cardamom crackle bun, whole milk → skimmed milk powder"
    assert kept.of_kind("milk") == 0


def test_no_markup_of_a_name_reaches_the_page(tmp_path):
    text = SOURCE.read_text(encoding="utf-8").replace('"Cardamom crackle bun"', '"<script>alert(1)</script>"')
    text = re.sub(r"\[parts\.topping\.", '[parts."<b>x".', text)
    path = tmp_path / "bun.toml"
    path.write_text(text.replace('[parts."<b>x".lines]', '[parts."<b>x"]\nkind = "topping"\n\n[parts."<b>x".lines]'))
    panel = SubstitutePanel(Formula.read(path))
    choose(panel, "all that holds egg")
    panel.row.keep()
    assert "<script" not in panel._live.value + panel.row.said.value
    assert "<b>x" not in panel._live.value


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_a_class_is_at_least_that_on_panels_while_a_fat_is_unknown(tmp_path):
    """A house's butter of which the water alone is known, invented; 20 of yolk alone make the dough soft."""
    mine = {"name": "my butter", "group": "fat", "kind": "butter", "water_g_per_100g": "16"}
    known = kit.tables.ingredients().with_rows({"my_butter": mine}, "own")
    lines = {"flour": 100, "milk": 30, "my butter": 20, "egg yolk": 20, "sugar": 5, "fresh yeast": 3, "water": 10}
    bun = Formula.from_weights("bun", lines, ingredients=known)
    assert SolvePanel(bun, folder=tmp_path)._numbers()[-1][1] == "at least soft"
    assert FormulaPanel(bun, folder=tmp_path)._figures()[0][1] == "at least soft"
    swap = kit.substitute(bun, "fresh yeast", "instant yeast")
    assert swap.notes[0] == "Dough class still at least soft."
