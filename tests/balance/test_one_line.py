"""A new quantity is one line of the table: every reading of it is held against the formula's own lines, by hand."""

import pytest

import kit
from kit.balance import QUANTITIES, at_least, measure, measures
from kit.balance.expressions import kept, piece, sum_over
from kit.balance.quantities import Quantity
from kit.reformulate import sensitivities, solve
from kit.show.reformulate_panels import SolvePanel

LINE = Quantity(
    1000 * (piece("dough") / kept("dough")) * (sum_over("divided", "salt") / sum_over("divided", "mass"))
    + 1000 * piece("topping") * (sum_over("topping", "salt") / sum_over("topping", "mass")),
    "mg", "salt mixed for a piece",
)  # fmt: skip
CRUST = {"plain flour": 100, "icing sugar": 95, "butter": 80, "salt": 1}


def bun(salt=1.6, mass=70.0, loss=2.0, topping=CRUST):
    dough = {"bread flour": 100, "whole milk": 40, "egg": 20, "butter": 15, "sugar": 18, "fresh yeast": 4, "salt": salt}
    pieces = {"dough": mass, "topping": 28 if topping else 0}
    parts = {"inclusion": {"raisins": 20}} | ({"topping": topping} if topping else {})
    return kit.Formula.from_weights("bun", dough, makes=pieces, losses={"dividing": loss}, **parts)


def by_hand(salt=1.6, mass=70.0, loss=2.0, topping=CRUST):
    """Grams of salt written over all grams written, on what is mixed for a piece [mg]."""
    crumb = 1000 * mass / (1 - loss / 100) * salt / (100 + 40 + 20 + 15 + 18 + 4 + salt + 20)
    return crumb + (1000 * 28 * topping["salt"] / sum(topping.values()) if topping else 0.0)


@pytest.fixture(autouse=True)
def _a_line_more(monkeypatch):
    monkeypatch.setitem(QUANTITIES, "salt_mixed", LINE)


def test_its_numbers_for_one_and_for_many():
    assert measure(bun(), "salt_mixed") == pytest.approx(by_hand())
    assert measure(bun(topping=None), "salt_mixed") == pytest.approx(by_hand(topping=None))
    many = measures(bun().vary(salt=[1.0, 1.6, 2.2]), block=2)["salt_mixed"]
    assert many == pytest.approx([by_hand(salt) for salt in (1.0, 1.6, 2.2)])


def test_what_it_rests_on_is_told(monkeypatch):
    unknown = Quantity(sum_over("inclusion", "sugars") / sum_over("inclusion", "mass"), "g per g")
    monkeypatch.setitem(QUANTITIES, "inclusion_sugars", unknown)
    spiced = kit.Formula.from_weights("bun", {"flour": 100, "cardamom": 1}, inclusion={"cardamom": 2, "raisins": 20})
    assert at_least(spiced, "inclusion_sugars") == [("ground cardamom", pytest.approx(2.0))]
    assert at_least(spiced, "salt_mixed") == []


def test_what_moved_it_adds_up_cause_by_cause():
    moved = kit.what_moved(bun(), bun(salt=2.0, mass=66.0, loss=5.0))
    change = moved.quantities["salt_mixed"]
    assert (change.before, change.after) == pytest.approx((by_hand(), by_hand(2.0, 66.0, 5.0)))
    causes = dict(moved.because("salt_mixed"))
    assert set(causes) == {"salt", "piece of dough", "losses"}
    assert sum(causes.values()) == pytest.approx(by_hand(2.0, 66.0, 5.0) - by_hand())
    assert causes["salt"] > 0 > causes["piece of dough"]
    assert causes["losses"] > 0
    assert "salt mixed for a piece, mg" in moved._repr_html_()


def test_its_slope_is_the_balance_one_small_step_on():
    found = sensitivities(bun(), ["salt_mixed"]).to_frame()["salt_mixed"]
    assert found["salt, 1 % of flour"] == pytest.approx((by_hand(1.601) - by_hand(1.599)) / 0.002, rel=1e-6)
    assert found["piece, 1 g"] == pytest.approx((by_hand(mass=71) - by_hand()), rel=1e-9)


def test_it_is_solved_for_and_held():
    answer = solve(bun(), {"salt mixed": 900}, free=["salt"])
    salt = answer.formula.of_kind("salt")
    assert by_hand(salt) == pytest.approx(900, abs=1e-4)
    assert answer.demands[0].demand.unit == "mg"
    held = solve(bun(), {"piece": 60}, hold=["salt_mixed"], free=["salt"]).formula
    assert by_hand(held.of_kind("salt"), mass=60.0) == pytest.approx(by_hand(), abs=1e-4)
    assert solve(bun(), {"salt_mixed": 1e5}, free=["salt"], nearest=True).refusal.conflict == ("salt_mixed",)


def test_a_panel_shows_it_by_its_name(monkeypatch):
    monkeypatch.setattr("kit.show.reformulate_panels.HOLDS", ("fat", "salt_mixed"))
    panel = SolvePanel(bun(), hold=("salt_mixed",), free=("salt",))
    panel.dials["butter"].value = 25.0
    (_, value, beside) = panel._charts()[1]
    (row,) = (row for row in panel._handles[1].rows(value, **beside) if row.name.startswith("salt mixed for a piece"))
    assert row.words == f"{by_hand():.1f} mg"
