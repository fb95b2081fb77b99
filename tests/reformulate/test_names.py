"""One name a thing: what the tables call a quantity is read wherever its name is."""

import re

import pytest

import kit
from kit import Formula
from kit.balance import QUANTITIES, at_least, measure, what_moved
from kit.errors import UnknownName
from kit.reformulate import Impossible, sensitivities, solve
from kit.words import plain

CALLED = {name: quantity.called for name, quantity in QUANTITIES.items() if quantity.called}


@pytest.mark.parametrize("name", CALLED)
def test_what_a_quantity_is_called_is_read_wherever_its_name_is(name):
    """The answer by its name is the law: the two words are one quantity."""
    dough = {"bread flour": 100, "whole milk": 40, "egg": 20, "butter": 15, "sugar": 18, "cardamom": 1}
    bread, called = Formula.from_weights("bun", dough, topping={"flour": 100, "sugar": 95, "butter": 80}), CALLED[name]
    assert measure(bread, called) == measure(bread, called.upper()) == measure(bread, name)
    assert at_least(bread, called) == at_least(bread, name)
    assert sensitivities(bread, [called]).to_frame().equals(sensitivities(bread, [name]).to_frame())
    moved = what_moved(bread, bread.vary(sugar=20))
    assert moved.because(called) == moved.because(name)
    target = 1.1 * measure(bread, name)
    by_name, by_words = (solve(bread, {each: target}, free=["sugar", "topping sugar"]) for each in (name, called))
    assert by_words.formula.fingerprint == by_name.formula.fingerprint
    assert by_name.words == by_words.words
    assert f"{called} as asked" in by_name.words.replace(called.capitalize(), called)
    held = solve(bread, {"butter": 20}, hold=[called], free=["sugar"])
    assert called in held.words.lower()
    with pytest.raises(Impossible, match=re.escape(f"{called} can be at most")):
        solve(bread, {called: 10 * target}, limits={"sugar": (10, 20)}, free=["sugar", "water"], hold=["topping"])


def test_no_quantity_is_called_what_an_ingredient_is():
    known = kit.tables.ingredients()
    others = {plain(name) for row in known.rows for name in (row.key, row.name, *row.aliases.split(";"))} | {
        *known.kinds
    }
    assert others.isdisjoint(CALLED.values())


def test_a_name_of_no_quantity_is_refused_everywhere():
    for act in (measure, at_least, lambda bun, name: sensitivities(bun, [name])):
        with pytest.raises(UnknownName, match="did you mean sugars without lactose"):
            act(Formula.from_weights("bun", {"flour": 100, "milk": 40}), "sugars witout lactose")
