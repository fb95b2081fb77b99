"""A refusal as a value: the same words as the error, and the nearest formula with what it gives up."""

import pytest

from kit.balance import measures
from kit.errors import AmountError
from kit.formula import Formula
from kit.reformulate import Impossible, Solved, measured, solve, substitute


@pytest.fixture
def bun():
    """Flour 100, milk 30, water 10, egg 18, butter 15, worked by hand below with egg's water at 76.15 per 100 g."""
    dough = {"bread flour": 100, "whole milk": 30, "water": 10, "egg": 18, "unsalted butter": 15, "salt": 1.6}
    return Formula.from_weights("bun", dough, makes={"piece": 60})


def test_what_can_be_is_solved(bun):
    """Egg's water is 76.15 per 100 g (USDA SR28, egg whole raw), so 5 points more egg take 3.81 of water out."""
    found = solve(bun, {"egg": 23}, hold=["total_hydration"], free=["water"], nearest=True)
    assert isinstance(found, Solved)
    assert found.refusal is None
    assert found.moves["water"][1] == pytest.approx(10 - 5 * 0.7615, abs=0.01)


def test_what_cannot_be_comes_as_a_value_with_the_words_of_the_error(bun):
    asked = {"demands": {"egg": 36}, "hold": ["total_hydration"], "free": ["water"]}
    found = solve(bun, **asked, nearest=True).refusal
    with pytest.raises(Impossible) as error:
        solve(bun, **asked)
    assert str(found) == str(error.value)
    assert "more water than the formula has, water would be −3.7" in str(found)  # 10 - 18 x 0.7615
    assert "given up" in found.nearest._repr_html_()


def test_a_slip_of_the_pen_is_still_an_error(bun):
    with pytest.raises(AmountError):
        solve(bun, {"egg": (30, 20)}, nearest=True)


def test_what_does_not_move_enough_to_read_is_not_told(bun):
    """Sugar brings 0.02 % of water, so water moves by a fiftieth of a hundredth: 10 and 10 to a baker."""
    sweet = bun.vary(sugar=10)
    found = solve(sweet, {"sugar": 11}, hold=["total_hydration"], free=["water"])
    assert "water" in found.moves
    assert found.words.startswith("Sugar 10 → 11 %.")


def test_a_quantity_is_measured_as_the_balance_has_it(bun):
    names = ["total_hydration", "energy_per_piece", "fat"]
    found = measured(bun, names)
    assert list(found) == names
    assert {name: found[name] for name in ("total_hydration", "fat")} == measures(bun, ("total_hydration", "fat"))
    by_hand = sum(g * k for g, k in ((100, 361), (30, 61), (18, 143), (15, 717))) / 100 / 174.6 * 60  # kcal, USDA SR28
    assert found["energy_per_piece"] == pytest.approx(by_hand, rel=0.01)


def test_how_far_one_can_go_while_all_else_that_was_asked_holds(bun):
    """USDA SR28, water per 100 g: butter 17.94, egg 76.15; tap water is all water. Butter 25 leaves 10 - 1.794."""
    found = solve(bun, {"egg": 40, "butter": 25}, hold=["total_hydration"], free=["water"], nearest=True).refusal
    assert f"egg can be at most {18 + (10 - 1.794) / 0.7615:.2f}" in str(found)
    assert "butter" not in found.conflict


def test_where_nothing_may_move_what_holds_holds_and_the_rest_cannot(bun):
    held = solve(bun, hold=["total_hydration"], free=[])
    assert held.moves == {}
    assert held.formula is bun
    for wet in ((0, 40), 70):
        near = solve(bun, {"total_hydration": wet}, free=[], nearest=True)
        found = near.refusal
        assert isinstance(found, Impossible)
        assert near.traded == found.nearest.traded == ("total_hydration",)
        assert "let water go to" in str(found) or "let whole milk go to" in str(found)
    assert solve(bun, {"total_hydration": (50, 60)}, free=[]).moves == {}


def test_brown_sugar_in_a_crust_without_water_keeps_its_own():
    """Sugars per 100 g (USDA SR28): icing sugar 97.81, brown sugar 97.02; no water is there to be taken out."""
    crust = {"plain flour": 100, "icing sugar": 94, "unsalted butter": 80}
    bun = Formula.from_weights("bun", {"flour": 100, "water": 55}, topping=crust, makes={"piece": 60, "topping": 22})
    found = substitute(bun, "sugar", "brown sugar", part="topping")
    assert found.formula.part("topping").percentage("sugar_brown") == pytest.approx(94 * 97.81 / 97.02, abs=0.01)
    assert len(found.swaps[0].lines) == 2
