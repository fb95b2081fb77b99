"""Oven and core: what can't be is refused, what nobody prints for such goods is doubted, in files and trials alike."""

from dataclasses import replace

import pytest

from kit.errors import KitError
from kit.formula import Bake, Formula, doubts
from kit.formula.usual import goods_of
from kit.trials import Trial

FILE = """format = 1
name = "bun"
[parts.dough.lines]
flour = 100
"whole milk" = 55
butter = 15
"fresh yeast" = 4
[bake]
"""
DOUGH = {"flour": 100, "milk": 55, "butter": 15, "fresh yeast": 4}


# A crumb holds water, so that it stays at 100 degC or below; egg is cooked from about 60 degC up: common practice.
@pytest.mark.parametrize(
    ("written", "says"),
    [
        ('core = "91 degF"', "did you mean 91 degC?"), ('core = "-5 degC"', "got -5 °C"), ("core = 19", "got 19 °C"),
        ("core = 59.9", "60 to 100 °C (140 to 212 °F)"), ("core = 100.5", "got 100.5 °C"),
        ("core = 191", "did you mean 191 degF?"), ("core = 300", "look at the thermometer again"),
        ("oven = 18", "80 to 320 °C"), ("oven = 1800", "to 608 °F)"), ('oven = "350 degC"', "did you mean 350 degF?"),
    ],
)  # fmt: skip
def test_a_bake_that_cannot_be_is_refused(written, says):
    with pytest.raises(KitError) as refused:
        Formula.parse(FILE + written)
    assert says in str(refused.value)
    assert str(refused.value).startswith(f"'{written.split()[0]}' must be")


# Done at 88 to 93 degC (a maker's page) or 85 to 91 (a mailing list); small pieces at 350 to 425 degF (printed cards).
@pytest.mark.parametrize(
    ("bake", "doubted"),
    [
        (Bake(core=85), ""), (Bake(core=93), ""), (Bake(core=84), "core"), (Bake(core=96), "core"),
        (Bake(core=60), "core"), (Bake(core=100), "core"), (Bake(oven=175), ""), (Bake(oven=220), ""),
        (Bake(oven=140), "oven"), (Bake(oven=250), "oven"), (Bake(), ""),
    ],
)  # fmt: skip
def test_a_bake_that_is_not_usual_is_doubted(bake, doubted):
    said = [text for text in doubts(replace(Formula.from_weights("bun", DOUGH), bake=bake)) if "as usual" in text]
    assert [text.split("'")[1] for text in said] == [doubted] * bool(doubted)
    set_alike = {"oven_set": bake.oven, "core_temperature": bake.core}
    trial = Trial.of("bake", "2026-11-29", **{name: value for name, value in set_alike.items() if value})
    assert [text for text in trial.doubts if "as usual" in text] == said


def test_goods_of_another_kind_have_figures_of_their_own():
    lean = Formula.from_weights("lean", {"flour": 100, "water": 60, "fresh yeast": 2})
    filled = Formula.from_weights("filled", DOUGH, filling={"sugar": 1})
    assert [goods_of(bun) for bun in (lean, filled)] == ["lean goods", "filled goods"]
    assert doubts(replace(lean, bake=Bake(core=97))) == doubts(replace(filled, bake=Bake(core=96))) == ()


@pytest.mark.parametrize("degrees", [59, 101])
def test_a_trial_holds_to_the_same_limits(degrees):
    with pytest.raises(KitError, match="'core temperature' must be 60.0 to 100.0 °C"):
        Trial.of("bake", "2026-11-29", core_temperature=degrees)
