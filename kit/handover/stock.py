"""How many pieces the store room gives, and what runs out first."""

import math
from dataclasses import dataclass, field

from ..errors import FormulaError, must
from ..formula import Formula, weigh
from ..formula.parts import only_one
from ..formula.scaling import weighed
from ..page import Result
from ..process import predict_yield
from ..words import figure, listing, plural
from .weighing import left_out, taken


@dataclass(frozen=True, eq=False)
class PiecesFromStock(Result):
    """How many pieces a stock gives: {ingredient: (in stock [g], for one piece [g])}, all parts of a piece together."""

    formula: Formula = field(repr=False)
    lines: dict = field(repr=False)
    not_counted: tuple = ()  # ingredients of the formula that no stock was given for
    notes: tuple = field(default=(), repr=False)
    columns = ("ingredient", "in stock, g", "for a piece, g", "enough for", "left, g")

    @property
    def pieces(self):
        """Whole pieces [count]."""
        stock, need = self.lines[self.runs_out]
        return _whole(stock / need)

    @property
    def runs_out(self):
        """The ingredient that runs out first."""
        return min(self.lines, key=lambda name: self.lines[name][0] / self.lines[name][1])

    @property
    def words(self):
        """Which runs out first, how many pieces there are, and what was taken as enough."""
        stock, need = self.lines[self.runs_out]
        said = (
            f"{plural(self.pieces, 'piece')}: {self.runs_out} runs out first, {figure(need, 2)} g a piece of "
            f"{figure(stock, 0)} g, topping and losses included."
        )
        said += f" Taken as enough: {listing(self.not_counted)}." if self.not_counted else ""
        return " ".join([*(f"{text}." for text in taken(self.formula)), said, *self.notes])

    def frame_rows(self):
        """Return a row an ingredient, the scarcest first."""
        found = sorted(self.lines.items(), key=lambda entry: entry[1][0] / entry[1][1])
        return [(n, stock, need, _whole(stock / need), stock - need * self.pieces) for n, (stock, need) in found]

    @property
    def grounds(self):
        """What the losses rest on."""
        return predict_yield(self.formula, pieces=1).sources()

    def tables(self):
        """Return the table of the ingredients."""
        rows = [
            [name, figure(stock, 0), figure(need, 2), f"{count:,}", figure(left, 0)]
            for name, stock, need, count, left in self.frame_rows()
        ]
        return [(["", *self.columns[1:]], rows, "", (0,))]


def pieces_from_stock(formula, stock, losses=None):
    """Return the PiecesFromStock of what is in the store room, {ingredient: amount} [g, any mass, count or volume].

    Of each ingredient, pieces = stock / what all parts of a piece take with losses {stage: %} made good; the least of
    them counts. An ingredient of the formula without an amount is taken as enough and named. Raises FormulaError when
    no ingredient is in the formula, UnknownName, AmountError, UnitError.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "butter": 20}, losses={"dividing": 0}, pieces={"dough": 60})
    >>> print(pieces_from_stock(bun, {"butter": "1 kg"}).words)
    100 pieces: unsalted butter runs out first, 10.00 g a piece of 1,000 g, topping and losses included. Taken as
    enough: bread flour.
    """
    only_one(formula, "to be made of the stock")
    ingredients, needed = formula.ingredients, {}
    one = predict_yield(formula, pieces=1, losses=losses)
    for (_, key), grams in weighed(formula, one, one.losses).items():
        needed[key] = needed.get(key, 0.0) + grams
    needed = {key: grams for key, grams in needed.items() if grams > 0}
    found, notes, unused = {}, [], []
    for written, value in stock.items():
        key = ingredients.find(written)
        name = ingredients[key]["name"]
        if name in found or name in unused:
            do = "add both amounts"
            raise FormulaError(must("stock", "a list that names each ingredient once", f"{written} again", do))
        amount = weigh(value, key, ingredients)
        if key not in needed:
            unused.append(name)
            continue
        found[name] = (amount.grams, needed[key])
        notes += [f"{name}: {amount.how}."] if amount.how != "weighed" else []
    if not found:
        be = f"of the formula's ingredients: {listing(ingredients[key]['name'] for key in needed)}"
        raise FormulaError(must("stock", be, listing(stock) or "none", "name one of them"))
    notes += [f"Not in the formula: {listing(unused)}."] if unused else []
    notes += [f"{text}." for text in left_out(formula, "so it takes nothing")]
    others = tuple(ingredients[key]["name"] for key in needed if ingredients[key]["name"] not in found)
    return PiecesFromStock(formula, found, others, tuple(notes))


def _whole(count):
    return math.floor(count * (1 + 1e-12) + 1e-9)
