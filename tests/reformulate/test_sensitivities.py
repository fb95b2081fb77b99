"""What one point does, held against the balance itself one small and one whole step on."""

import pytest

from kit import Formula
from kit.balance import measure, measures
from kit.errors import FormulaError, UnknownName
from kit.reformulate import sensitivities
from kit.reformulate.moving import changed, model, variable


def example():
    return Formula.from_weights(
        "bun",
        {
            "bread flour": 90, "wholemeal flour": 10, "whole milk": 30, "egg": 20, "butter": 15, "sugar": 18,
            "fresh yeast": 4, "salt": 1.6, "water": 10, "cardamom": 0.7,
        },
        topping={"plain flour": 100, "icing sugar": 95, "butter": 80}, inclusion={"raisins": 20},
        makes={"piece": 70, "topping": 28},
    )  # fmt: skip


def test_points_by_hand():
    """Common practice, no source: water −0.179 for butter, −0.7615 for egg, fat +0.811 and +0.10, protein +0.13."""
    frame = sensitivities(example()).to_frame()
    butter, egg = frame.loc["unsalted butter, 1 % of flour"], frame.loc["egg, 1 % of flour"]
    assert butter["total_hydration"] == pytest.approx(0.179, abs=0.0005)
    assert butter["fat"] == pytest.approx(0.811, abs=0.0005)
    assert egg["total_hydration"] == pytest.approx(0.7615, abs=0.00005)
    assert egg["fat"] == pytest.approx(0.10, abs=0.005)
    assert egg["protein"] == pytest.approx(0.13, abs=0.005)
    assert butter["hydration"] == egg["hydration"] == 0
    assert butter["total_percentage"] == 1


def test_slopes_are_those_of_the_balance():
    """Central differences of the balance, which knows nothing of slopes."""
    bun = example()
    found = sensitivities(bun)
    for row, name in enumerate(found.ingredients):
        for column, quantity in enumerate(found.quantities):
            up, down = (measure(moved(bun, name, step), quantity) for step in (0.01, -0.01))
            assert found.slopes[row, column] == pytest.approx((up - down) / 0.02, abs=2e-5), (name, quantity)


def moved(bun, name, step):
    if part := {"piece": "dough", "topping": "topping"}.get(name):
        return bun.vary({name: getattr(bun.pieces, part) + step})
    if name == "wholemeal flour for bread flour":
        return bun.vary({"wholemeal flour": 10 + step, "bread flour": 90 - step})
    key = bun.ingredients.find(name)
    return bun.vary({key: bun.part("dough").percentage(key) + step})


def test_energy_of_a_gram_of_topping_by_hand():
    """By hand from SR28: 100 plain flour 364, 95 icing sugar 389 and 80 butter 717 kcal in 275 g."""
    found = sensitivities(example())
    slope = found.to_frame().loc["topping, 1 g", "energy_per_piece"]
    assert slope == pytest.approx((3.64 * 100 + 3.89 * 95 + 7.17 * 80) / 275, abs=1e-6)


def test_a_chosen_few():
    """By hand: a point of salt is a point of it on flour, and the crust's butter none."""
    found = sensitivities(example(), ["salt"], more=["topping butter"])
    salt = found.to_frame()["salt"]
    assert salt["salt, 1 % of flour"] == pytest.approx(1.0)
    assert salt["topping butter, 1 % of the topping's flour"] == 0
    assert len(salt) == 10
    assert "topping butter, 1 % of the topping" in found._repr_html_()


def test_a_row_of_the_model_holds_far_away_when_it_says_it_is_straight():
    """The balance far from here: top − target × beneath stays on its line, whatever moves."""
    bun = example()
    some = [variable(bun, name) for name in ("milk", "egg", "butter", "sugar", "topping")]
    found = model(bun, some)
    there = found.now * [1.5, 0.2, 2.0, 0.5, 1.3]
    values = measures(changed(bun, some, there))
    for name in values:
        ratio = found.at().ratio(name)
        if ratio.straight:
            off, *by = ratio.above - values[name] * ratio.beneath
            assert off + by @ (there - found.now) == pytest.approx(0, abs=1e-6), name
        assert found.at(there).value(name) == pytest.approx(values[name], abs=1e-9), name


def test_bad_names_and_many_formulas():
    with pytest.raises(UnknownName, match="did you mean hydration"):
        sensitivities(example(), ["hydratoin"])
    with pytest.raises(FormulaError, match="one formula"):
        sensitivities(example().vary(butter=[10, 20]))
