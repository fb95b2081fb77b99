"""Invented buns for tests: one worked by hand, and any drawn at random with flours, preferments, topping and all."""

from hypothesis import strategies as st

from kit import Formula

# the invented bun of the hand-worked figures: common practice, no source
DOUGH = {
    "bread flour": 100, "whole milk": 30, "egg": 20, "butter": 15, "sugar": 18, "fresh yeast": 4, "salt": 1.6,
    "water": 10, "ground cardamom": 0.7,
}  # fmt: skip
TOPPING = {"plain flour": 100, "icing sugar": 95, "butter": 80, "salt": 0.5, "ground cardamom": 0.5}
LOSSES = {"dividing": 2, "topping dividing": 3, "baking": 10, "topping baking": 6.5}
WORKED = Formula.from_weights(
    "bun", DOUGH, topping=TOPPING, losses=LOSSES, makes={"pieces": 48, "piece": 70, "topping": 28}
)

FLOURS = ("bread flour", "wholemeal flour", "light rye flour")
FIRST = ("water", "whole milk", "egg", "sugar", "fresh yeast")  # what a sponge may hold
REST = (
    *FIRST, "unsalted butter", "salted butter", "egg yolk", "honey", "salt", "skimmed milk powder", "heavy cream",
    "ground cardamom", "cocoa", "rum",
)  # fmt: skip
CRUST = ("icing sugar", "unsalted butter", "egg yolk", "salt", "ground cardamom")


def grams(least, most):
    """Return a strategy of masses in steps of 0.1 g, as a scale shows them."""
    return st.integers(round(least * 10), round(most * 10)).map(lambda tenths: tenths / 10)


def lines(names, least, most, fewest=0):
    """Return a strategy of {ingredient: g}."""
    return st.dictionaries(st.sampled_from(names), grams(least, most), min_size=fewest)


@st.composite
def weights(draw, bowls=2):
    """Draw {part: {ingredient: g}} and pieces, as a baker weighs them."""
    dough = draw(lines(FLOURS, 300, 1000, 1)) | draw(lines(REST, 1, 250))
    first = {
        name: draw(lines(FLOURS, 20, 200, 1)) | draw(lines(FIRST, 1, 100))
        for name in ("sponge", "poolish")[: draw(st.integers(0, bowls))]
    }
    parts = {}
    if draw(st.booleans()):
        parts["topping"] = {"plain flour": draw(grams(60, 300))} | draw(lines(CRUST, 1, 240))
    if draw(st.booleans()):
        parts["wash"] = {"egg": 85, "whole milk": 15}
    if draw(st.booleans()):
        parts["inclusion"] = {"raisins": draw(grams(10, 300))}
    pieces = {"dough": draw(grams(20, 200)), "topping": draw(grams(0, 60)), "wash": draw(grams(0, 2))}
    return dough, first, parts, pieces


@st.composite
def buns(draw, bowls=2):
    """Draw a Formula."""
    dough, first, parts, pieces = draw(weights(bowls))
    losses = {"dividing": draw(st.integers(0, 10)), "baking": draw(st.integers(5, 15))}
    return Formula.from_weights("bun", dough, first, makes=pieces, losses=losses, **parts)
