"""What a piece costs the shop, what to ask for it, and what a change costs."""

import math
from dataclasses import dataclass, field
from typing import Any

from .. import page
from ..cautions import unspelled
from ..errors import AmountError, must
from ..formula import Formula
from ..formula.parts import only_one
from ..formula.scaling import weighed
from ..process import Yield
from ..units import read
from ..words import figure, listing, plural
from .prices import Prices, as_prices, doubts_of, each, money, more, shown
from .printed import Paper, title_of
from .weighing import left_out, made_of, taken

ONLY = "Ingredients only: labour, energy, packaging, rent and all else come out of what is left."


@dataclass(frozen=True)
class CostLine:
    """One ingredient of one part: what is weighed for the batch [g] and what it costs; None where no price is."""

    part: str
    kind: str
    key: str
    name: str
    grams: float
    per_kg: float | None
    cost: float | None


def _summed(by, value, lines):
    found = {}
    for line in lines:
        found[getattr(line, by)] = found.get(getattr(line, by), 0.0) + value(line)
    return found


@dataclass(frozen=True, eq=False)
class Cost(Paper):
    """What the ingredients of a batch cost, line by line, in the currency of its price list."""

    formula: Formula = field(repr=False)
    prices: Prices = field(repr=False)
    made: Yield = field(repr=False)
    lines: tuple[CostLine, ...] = field(repr=False)
    notes: tuple[str, ...] = field(default=(), repr=False)
    columns = ("part", "ingredient", "g", "price per kg", "cost", "cost per piece", "share, %")
    named = False
    cautions = ("Tax and how a price is shown are for the law of the place.", "Prices move: ask before a quote.")

    @property
    def title(self):
        """The formula's name, marked when it or its price list is invented."""
        return title_of(self.formula, "What it costs: ", self.prices.invented)

    @property
    def currency(self):
        """The currency, as the price list writes it."""
        return self.prices.currency

    @property
    def pieces(self):
        """How many pieces the batch makes [count]."""
        return self.made.pieces

    @property
    def total(self):
        """What the batch costs [currency]; at least that while `missing` names any."""
        return math.fsum(line.cost or 0.0 for line in self.lines)

    @property
    def per_piece(self):
        """What a piece made costs [currency]."""
        return self.total / self.pieces

    @property
    def per_kg_baked(self):
        """What a kg of baked pieces costs [currency per kg]."""
        return self.total / (self.made.baked_mass / 1000)

    @property
    def missing(self):
        """[(ingredient, g in the batch)] without a price, which makes every figure here a lower bound."""
        return list(_summed("name", lambda line: line.grams, [x for x in self.lines if x.cost is None]).items())

    @property
    def by_part(self):
        """{part: what its ingredients cost in the batch [currency]}."""
        return _summed("part", lambda line: line.cost or 0.0, self.lines)

    @property
    def by_ingredient(self):
        """{ingredient: what it costs in a piece, all parts together [currency]}, 0 without a price."""
        return _summed("name", lambda line: (line.cost or 0.0) / self.pieces, self.lines)

    @property
    def words(self):
        """What it costs, what that leaves out and what is not known, in one paragraph."""
        least = "at least " if self.missing else ""
        said = [
            *(f"{text}." for text in taken(self.formula)),
            f"{plural(self.pieces, 'piece')} cost{'s' * (self.pieces == 1)} {least}{money(self.total, self.currency)}: "
            f"{least}{each(self.per_piece, self.currency)} a piece, "
            f"{least}{money(self.per_kg_baked, self.currency)} per kg baked.",
        ]
        if self.missing:
            said.append(f"No price for {listing(f'{name} ({figure(g)} g)' for name, g in self.missing)}.")
        return " ".join([*said, ONLY])

    @property
    def lead(self):
        """What stands above the table: what it is of, and the words."""
        return f"{self.title}. {self.words}"

    def frame_rows(self):
        """Return a row a line: g, price per kg, cost of batch and piece, share [%]; NaN where there is no price."""
        for line in self.lines:
            cost = math.nan if line.cost is None else line.cost
            share = 100 * cost / (self.total or math.nan)
            yield line.part, line.name, line.grams, line.per_kg, line.cost, cost / self.pieces, share

    @property
    def grounds(self):
        """What each price and each loss rests on."""
        used = {line.name for line in self.lines}
        listed = {name: text for name, text in self.prices.sources().items() if name in used}
        return listed | self.made.sources()

    def tables(self):
        """Return the table of the parts, each with its lines, and of all."""
        unit, rows, strong = self.currency, [], []
        heads = ["", "g", *(f"{unit} {of}".strip() for of in ("per kg", "a batch", "a piece")), "%"]

        def row(name, lines, price=""):
            grams, paid = sum(line.grams for line in lines), math.fsum(line.cost or 0.0 for line in lines)
            least = "≥ " * any(line.cost is None for line in lines)
            costs = least + money(paid), least + each(paid / self.pieces, "", self.per_piece)
            return [name, figure(grams), price, *costs, figure(100 * paid / (self.total or 1.0))]

        for part in self.by_part:
            lines = [line for line in self.lines if line.part == part]
            strong.append(len(rows))
            rows.append(row(part, lines))
            for line in lines:
                price = "no price" if line.per_kg is None else shown(line.per_kg)
                rows.append(row(f"\u2003{line.name}", [line], price))
        return [(heads, [*rows, row("all", self.lines)], "", (*strong, len(rows)))]

    def against(self, other: "Cost") -> "CostChange":
        """Return the CostChange from another Cost to this one. Raises AmountError for two currencies.

        >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 50, "butter": 10}, losses={"dividing": 0})
        >>> prices, richer = {"flour": 1, "water": 0, "butter": 8}, bun.vary(butter=20)
        >>> change = cost(richer, prices, pieces=10).against(cost(bun, prices, pieces=10))
        >>> round(change.per_piece, 4)  # 60 g: (100 + 160) / 170 against (100 + 80) / 160 per kg
        0.0243
        """
        if self.currency != other.currency:
            do = "use one price list for both"
            raise AmountError(must("currency", f"{other.currency} in both", self.currency, do))
        return CostChange(other, self)

    def selling_price(self, margin: float | str) -> float:
        """Return what to ask for a piece before tax at a margin [%]: cost / (1 - margin / 100) [currency].

        margin is what of the price is left over its cost; 65 % laid on the cost, a markup, asks far less. Raises
        AmountError for a margin of 100 % or more, which no price gives.
        """
        value = read(margin, "percentage", "margin")
        if not (value == 0 or 1 <= value < 100):  # 0.65 is a slip
            do = "write 65 for 65 % of the price; at 100 % the goods would be free"
            raise AmountError(must("margin", "0, or 1 to less than 100 %", f"{value:g} %", do))
        return self.per_piece / (1 - value / 100)

    def price_list(self):
        """Return in words where the prices come from, and of when those are that are used here."""
        used = {line.key for line in self.lines}
        dates = sorted(row.date for row in self.prices.rows if row.date and row.key in used)
        when = f", prices of {dates[0]} to {dates[-1]}" if dates else ""
        return f"Price list: {self.prices.name or 'figures given'}{' (invented)' * self.prices.invented}{when}."

    def body(self):
        """Return the words, the table, the notes and the price list as HTML."""
        tables = "".join(page.table(*one) for one in self.tables())
        said = f'<p><b>{page.escape(self.words)}</b></p><div class="wide">{tables}</div>'
        return said + page.paragraphs([*self.notes, self.price_list()])


@dataclass(frozen=True, eq=False)
class CostChange(page.Result):
    """What a piece costs more or less, ingredient by ingredient [currency a piece]."""

    before: Cost = field(repr=False)
    after: Cost = field(repr=False)
    columns = ("ingredient", "before", "after", "change")

    @property
    def lines(self):
        """{ingredient: (before, after)} [currency a piece]."""
        was, now = self.before.by_ingredient, self.after.by_ingredient
        return {name: (was.get(name, 0.0), now.get(name, 0.0)) for name in dict.fromkeys((*was, *now))}

    @property
    def per_piece(self):
        """What a piece costs more [currency]; the sum of its lines."""
        return self.after.per_piece - self.before.per_piece

    @property
    def words(self):
        """What it does to a piece and through which ingredients, in one paragraph."""
        unit, least = self.after.currency, self.after.missing or self.before.missing
        ends = f"{each(self.before.per_piece)} → {each(self.after.per_piece, unit)}"
        changes = sorted(((name, b - a) for name, (a, b) in self.lines.items()), key=lambda entry: -abs(entry[1]))
        shown = [(name, change) for name, change in changes if abs(change) > 1e-9][:4]
        rest = self.per_piece - math.fsum(change for _, change in shown)
        shown += [("the rest", rest)] if abs(rest) > 1e-9 else []
        said = f"A piece costs {more(self.per_piece, unit, like=self.after.per_piece)} ({ends})."
        if shown:
            said += f" Through {listing(f'{name} {more(change)}' for name, change in shown)}."
        if least:
            said += f" Without {listing(dict.fromkeys(name for name, _ in least))}, which has no price."
        return said

    def frame_rows(self):
        """Return a row an ingredient [currency a piece]."""
        return [(name, a, b, b - a) for name, (a, b) in self.lines.items()]

    @property
    def grounds(self):
        """What the prices and losses rest on, of both."""
        return self.before.sources() | self.after.sources()

    def tables(self):
        """Return the table of the ingredients and their sum."""
        rows = [*self.frame_rows(), ("all", self.before.per_piece, self.after.per_piece, self.per_piece)]
        cells = [[name, *(each(side, "", self.per_piece) for side in sides)] for name, *sides, _ in rows]
        for row, (*_, change) in zip(cells, rows, strict=True):
            row.append(more(change, "", self.per_piece))
        return [([f"{self.after.currency} a piece".strip(), *self.columns[1:]], cells, "", (len(cells) - 1,))]


def cost(
    formula: Formula,
    prices: Prices | dict[str, Any],
    pieces: int | str | None = None,
    flour: float | str | None = None,
    dough: float | str | None = None,
    calibration: Any = None,
) -> Cost:
    """Return the Cost of a batch's ingredients: what is weighed, losses made good, at a price list.

    prices: what `read_prices` read, or {ingredient or kind: price per kg} as `solve` takes it [currency per kg].
    pieces, flour, dough: how much is made [count; g or any mass], one of them; else the formula's own count.
    calibration: with the kitchen's own baking losses.

    Cost of a line = g x price per kg / 1000, in the currency of the list. What has no price is named and makes every
    sum a lower bound. Raises FormulaError, AmountError, UnitError, UnknownName.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 50}, losses={"dividing": 0}, makes={"piece": 75})
    >>> cost(bun, {"flour": 1.0, "water": 0}, pieces=20).per_piece  # 50 g of flour
    0.05
    """
    only_one(formula, "to be costed line by line", "choose one")
    price_list = as_prices(formula, prices)
    made = made_of(formula, flour, dough, pieces, calibration)
    lines = []
    for (name, key), grams in weighed(formula, made, made.losses).items():
        part, per_kg = formula.part(name), price_list.per_kg.get(key)
        paid = None if per_kg is None else grams / 1000 * per_kg
        if grams > 0:
            lines.append(CostLine(part.name, part.kind, key, formula.ingredients[key].name, grams, per_kg, paid))
    for kind, grams in unspelled(formula).items():  # no price, so that it is never taken for nothing
        lines.append(CostLine(kind, kind, "", f"{kind}, not spelled out", grams * made.pieces, None, None))
    used = [row for row in price_list.rows if row.key in {line.key for line in lines}]
    notes = [f"{text}." for text in left_out(formula, "so it costs nothing")]
    notes += [f"{row.name}: {row.how}." for row in used if row.how] + doubts_of(used)
    return Cost(formula, price_list, made, tuple(lines), tuple(notes))
