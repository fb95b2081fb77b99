"""What a piece costs the shop, what to ask for it, and what a change costs."""

import math
from dataclasses import dataclass, field

from .. import page
from ..cautions import unspelled
from ..errors import AmountError, must
from ..formula import Formula
from ..formula.losses import kept_before_scaling
from ..formula.parts import DOUGH, only_one
from ..formula.scaling import weighed
from ..process import Yield, predict_yield
from ..units import read_above
from ..words import capital, figure, listing, plural, signed
from .money import each, money, more, read_money, read_percent, read_rate
from .prices import Prices, as_prices, doubts_of, shown, span
from .printed import cost_page, title_of
from .weighing import left_out, taken, too_little

ONLY = "Ingredients only: labour, energy, packaging, rent and all else come out of what is left."
BAND = (
    "The band holds 80 % where each price's range does and prices move independently: half-widths add as squares. "
    "The price list's own ranges; a price without one counts as fixed, and so do labour and energy."
)


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


@dataclass(frozen=True, eq=False)
class Cost(page.Result):
    """What a batch costs, line by line, in the currency of its price list."""

    formula: Formula = field(repr=False)
    prices: Prices = field(repr=False)
    made: Yield = field(repr=False)
    lines: tuple = field(repr=False)
    extras: dict = field(default_factory=dict)  # labour, energy, packaging: of the batch
    notes: tuple = field(default=(), repr=False)
    columns = ("part", "ingredient", "g", "price per kg", "cost", "cost per piece", "share, %")
    named = False

    @property
    def currency(self):
        """The currency, as the price list writes it."""
        return self.prices.currency

    @property
    def pieces(self):
        """How many pieces the batch makes [count]."""
        return self.made.pieces

    @property
    def ingredients(self):
        """What the ingredients of the batch cost [currency]; at least that while `missing` names any."""
        return math.fsum(line.cost for line in self.lines if line.cost is not None)

    @property
    def total(self):
        """What the batch costs with labour, energy and packaging where given [currency]."""
        return self.ingredients + math.fsum(self.extras.values())

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
        found = {}
        for line in self.lines:
            if line.cost is None:
                found[line.name] = found.get(line.name, 0.0) + line.grams
        return list(found.items())

    @property
    def by_part(self):
        """{part: what its ingredients cost in the batch [currency]}, then labour, energy and packaging."""
        found = {}
        for line in self.lines:
            found[line.part] = found.get(line.part, 0.0) + (line.cost or 0.0)
        return found | self.extras

    @property
    def lost(self):
        """{what is lost: what its ingredients cost in the batch [currency]}."""
        kinds = (*DOUGH, "inclusion"), ("topping",)
        bowls, crust = (math.fsum(x.cost or 0.0 for x in self.lines if x.kind in these) for these in kinds)
        found = {
            "dough lost before the scale": bowls * (1 - kept_before_scaling(self.made.losses)),
            "dough left after the last piece": bowls * self.made.dough_left / self.made.dough_mixed,
            "topping lost before the scale": crust * (1 - kept_before_scaling(self.made.losses, "topping")),
        }
        return {what: value for what, value in found.items() if value > 1e-9 * self.total}

    @property
    def band(self):
        """(low, high) of a piece [currency], 80 %, from the price list's ranges; None where it has none."""
        used = {}
        for line in self.lines:
            used[line.key] = used.get(line.key, 0.0) + line.grams / 1000
        ranged = [row for row in self.prices.rows if row.key in used and row.low is not None]
        if not ranged:
            return None
        down = math.hypot(*(used[row.key] * (row.per_kg - row.low) for row in ranged))
        up = math.hypot(*(used[row.key] * (row.high - row.per_kg) for row in ranged))
        return self.per_piece - down / self.pieces, self.per_piece + up / self.pieces

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
        if self.band:
            of = "what has a price in a piece" if self.missing else "a piece"
            said.append(f"80 % band of {of}: {' to '.join(each(end) for end in self.band)} {self.currency}.")
        said.append(ONLY if not self.extras else f"With {listing(self.extras)}; rent and all else not in it.")
        return " ".join(said)

    def frame_rows(self):
        """Return a row a line: g, price per kg, cost of batch and piece, share [%]; NaN where there is no price."""
        rows = [(x.part, x.name, x.grams, x.per_kg, x.cost) for x in self.lines]
        rows += [(name, "", math.nan, math.nan, value) for name, value in self.extras.items()]
        for *line, paid in rows:
            cost = math.nan if paid is None else paid
            yield *line, cost, cost / self.pieces, 100 * cost / (self.total or math.nan)

    @property
    def grounds(self):
        """What each price and each loss rests on."""
        used = {line.name for line in self.lines}
        listed = {name: text for name, text in self.prices.sources().items() if name in used}
        return listed | self.made.sources() | dict.fromkeys(self.extras, "given by the caller")

    def against(self, other: "Cost") -> "CostChange":
        """Return the CostChange from another Cost to this one; the bowls of the dough count as one.

        Raises AmountError for two currencies.

        >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 50, "butter": 10}, losses={"dividing": 0})
        >>> now, before = (cost(one, {"flour": 1, "water": 0, "butter": 8}) for one in (bun.vary(butter=20), bun))
        >>> round(now.against(before).per_piece, 4)  # 60 g: (100 + 160) / 170 against (100 + 80) / 160 per kg
        0.0243
        """
        if self.currency != other.currency:
            do = "use one price list for both"
            raise AmountError(must("currency", f"{other.currency} in both", self.currency, do))
        return CostChange(other, self, _pairs(_by_line(other), _by_line(self)))

    def selling_price(self, margin, vat=0.0):
        """Return the SellingPrice of a piece: margin and vat [%]; price = cost / (1 - margin / 100), then vat on top.

        margin is what of the price before tax is left over its cost; a markup is the same money over the cost. vat is
        what the law of the place asks. Raises AmountError for a margin of 100 % or more, which no price gives.
        """
        margin = read_percent("margin", margin, "write 65 for 65 % of the price; at 100 % the goods would be free")
        return SellingPrice(self, margin, read_percent("vat", vat, "write 7 for 7 % on top of the price"))

    def body(self):
        """Return words, lines, what is lost and what it rests on as HTML, under any heading."""
        unit = self.currency
        heads = ["", "g", f"{unit} per kg".strip(), "range", f"{unit} a batch".strip(), f"{unit} a piece".strip(), "%"]
        ranges = {row.key: span(row) for row in self.prices.rows}
        rows, strong, whole, like = [], [], self.total or 1.0, self.per_piece
        for part, subtotal in self.by_part.items():
            lines = [line for line in self.lines if line.part == part]
            least = "≥ " if any(line.cost is None for line in lines) else ""
            strong.append(len(rows))
            costs = [least + money(subtotal), least + each(subtotal / self.pieces, "", like)]
            figures = [*costs, figure(100 * subtotal / whole)]
            rows.append([part, figure(sum(x.grams for x in lines), 0) if lines else "", "", "", *figures])
            for x in lines:
                cells = ["no price", "–", "?", "?", "?"]
                if x.cost is not None:
                    cells = [shown(x.per_kg), ranges.get(x.key, "–"), money(x.cost)]
                    cells += [each(x.cost / self.pieces, "", like), figure(100 * x.cost / whole)]
                rows.append([f"\u2003{x.name}", figure(x.grams), *cells])
        least = "≥ " if self.missing else ""
        strong.append(len(rows))
        rows.append(["all", "", "", "", least + money(self.total), least + each(self.per_piece), "100.0"])
        html = f"<p><b>{page.escape(self.words)}</b></p>{page.table(heads, rows, strong=strong)}"
        if self.lost:
            lost = [[what, money(value), each(value / self.pieces, "", like)] for what, value in self.lost.items()]
            html += page.table(["lost, counted in the above", *heads[4:6]], lost)
        return html + page.paragraphs([BAND if self.band else "", " ".join(self.notes)])

    def _repr_html_(self):
        return f"<p>{page.escape(title_of(self.formula, 'What it costs: ', self.prices.invented))}</p>{self.body()}"

    def rests_on(self):
        """Return in words the price list with its dates, and the losses made good."""
        said = self.made.sources()
        losses = [
            f"{part} {stage} {said[f'{part} {stage}']}"
            for (part, stage), loss in self.made.losses.items()
            if stage != "baking" and loss.percent and part in {line.kind for line in self.lines}
        ]
        return [self.price_list(), f"Losses: {'; '.join(losses)}."] if losses else [self.price_list()]

    def price_list(self):
        """Return in words where the prices come from, and of when those are that are used here."""
        used = {line.key for line in self.lines}
        dates = sorted(row.date for row in self.prices.rows if row.date and row.key in used)
        when = f", prices of {dates[0]} to {dates[-1]}" if dates else ""
        return f"Price list: {self.prices.name or 'figures given'}{' (invented)' * self.prices.invented}{when}."

    def page(self, paper="A4"):
        """Return one printable HTML page, A4 or Letter; names are text. Raises AmountError for another paper."""
        return cost_page(self, paper)


@dataclass(frozen=True, eq=False)
class SellingPrice(page.Result):
    """What to ask for a piece: margin [% of the price before tax] and vat [% on top]."""

    cost: Cost = field(repr=False)
    margin: float
    vat: float = 0.0

    @property
    def price(self):
        """Price of a piece before tax [currency]: cost of a piece / (1 - margin / 100)."""
        return self.cost.per_piece / (1 - self.margin / 100)

    @property
    def with_vat(self):
        """Price of a piece with tax [currency]."""
        return self.price * (1 + self.vat / 100)

    @property
    def left(self):
        """What is left of the price before tax [currency]."""
        return self.price - self.cost.per_piece

    @property
    def markup(self):
        """The same money over the cost [%]."""
        return 100 * self.margin / (100 - self.margin)

    @property
    def words(self):
        """The price, and the trap between margin and markup, in one paragraph."""
        unit, paid = self.cost.currency, self.cost.per_piece
        wrong = 100 * self.margin / (100 + self.margin)
        least = "at least " if self.cost.missing else ""
        taxed = f", {least}{each(self.with_vat, unit)} with {self.vat:g} % tax" if self.vat else ""
        said = [f"Ask {least}{each(self.price, unit)} a piece before tax{taxed}."]
        said.append(
            f"Margin {self.margin:g} % of the price: {each(paid)} / {1 - self.margin / 100:g}, which leaves "
            f"{each(self.left, unit)}. That is a markup of {figure(self.markup)} % on the cost. "
            f"{self.margin:g} % laid on the cost would be {each(paid * (1 + self.margin / 100), unit)} "
            f"and leave {figure(wrong)} % of the price only."
        )
        if self.cost.missing:
            said.append(f"No price for {listing(name for name, _ in self.cost.missing)}.")
        return " ".join([*said, *([] if self.cost.extras else [ONLY])])

    @property
    def columns(self):
        """Those of the frame, with the currency."""
        return ["what", f"{self.cost.currency} a piece".strip()]

    def frame_rows(self):
        """Return the way from the cost to the price with tax."""
        price, taxed = self.price, self.with_vat
        names = "cost of a piece", "left", "price before tax", "tax", "price with tax"
        return zip(names, (self.cost.per_piece, self.left, price, taxed - price, taxed), strict=True)

    def tables(self):
        """Return the table of that way."""
        return [(["", self.columns[1]], [[what, each(value)] for what, value in self.frame_rows()], "", (2, 4))]

    @property
    def grounds(self):
        """The cost's own; margin and tax are the caller's."""
        return self.cost.sources() | {"margin": "given by the caller", "vat": "given by the caller"}


@dataclass(frozen=True, eq=False)
class CostChange(page.Result):
    """What a piece costs more or less, line by line: {(part, what): (before, after)} [currency a piece]."""

    before: Cost = field(repr=False)
    after: Cost = field(repr=False)
    lines: dict = field(repr=False)
    columns, named = ("part", "what", "before", "after", "change"), False

    @property
    def per_piece(self):
        """What a piece costs more [currency]; the sum of its lines."""
        return self.after.per_piece - self.before.per_piece

    @property
    def moved(self):
        """{(part, ingredient): (before, after)} of the percentages that differ, the dough's on total flour."""
        pairs = _pairs(_percentages(self.before.formula), _percentages(self.after.formula))
        return {name: pair for name, pair in pairs.items() if abs(pair[1] - pair[0]) > 1e-9}

    @property
    def words(self):
        """What moved, what it does to a piece and through which lines, in one paragraph."""
        unit, least = self.after.currency, self.after.missing or self.before.missing
        moved = [f"{name} of the {part} {signed(b - a, 2)} points" for (part, name), (a, b) in self.moved.items()]
        told = f"{listing(moved[:6])}{' and others' if len(moved) > 6 else ''}: " if moved else ""
        ends = f"{each(self.before.per_piece)} → {each(self.after.per_piece, unit)}"
        found = sorted(self.lines.items(), key=lambda entry: -abs(entry[1][1] - entry[1][0]))
        shown = [(what, b - a) for (_, what), (a, b) in found if abs(b - a) > 1e-9][:4]
        rest = self.per_piece - sum(value for _, value in shown)
        through = [f"{what} {more(value)}" for what, value in shown]
        through += [f"the rest {more(rest)}"] if abs(rest) > 1e-9 else []
        said = capital(f"{told}a piece costs {more(self.per_piece, unit)} ({ends}).")
        said += f" Through {listing(through)}." if through else ""
        if least:
            said += f" Without {listing(dict.fromkeys(name for name, _ in least))}, which has no price."
        return said

    def frame_rows(self):
        """Return a row a line [currency a piece]."""
        return [(*name, a, b, b - a) for name, (a, b) in self.lines.items()]

    @property
    def grounds(self):
        """What the prices and losses rest on, of both."""
        return self.before.sources() | self.after.sources()

    def tables(self):
        """Return the table of the lines and their sum."""
        like = self.per_piece
        lines = self.lines | {("", "all"): (self.before.per_piece, self.after.per_piece)}
        rows = [
            [f"{what}, {part}" if part not in ("", what) else what, each(a, "", like), each(b, "", like)]
            + [more(b - a, "", like)]
            for (part, what), (a, b) in lines.items()
        ]
        heads = [f"{self.after.currency} a piece".strip(), "before", "after", "change"]
        return [(heads, rows, "", (len(rows) - 1,))]


def cost(
    formula,
    prices,
    pieces=None,
    flour=None,
    dough=None,
    losses=None,
    calibration=None,
    hands_on=None,
    rate=None,
    energy=None,
    packaging=None,
):
    """Return the Cost of a batch: what is weighed, losses made good, at a price list.

    prices: Prices, or {ingredient or kind: per kg} as `solve` takes it. pieces [count], flour or dough [g or any
    mass], losses {stage: %} and the batch when none is given as in `predict_yield`; calibration with the kitchen's own
    baking losses. hands_on [min or any time] at a rate [money an hour, or "18 / h"]; energy [money a batch];
    packaging [money a piece]. Cost of a line = g x price per kg / 1000; what has no price is named and makes every sum
    a lower bound.
    Raises FormulaError, AmountError, UnitError.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 50}, losses={"dividing": 0}, pieces={"dough": 75})
    >>> cost(bun, {"flour": 1.0, "water": 0}, pieces=20).per_piece  # 50 g of flour
    0.05
    """
    only_one(formula, "to be costed line by line", "choose one")
    prices = as_prices(formula, prices)
    made = predict_yield(formula, flour=flour, dough=dough, pieces=pieces, losses=losses, calibration=calibration)
    if not made.pieces:
        raise too_little(formula, made)
    lines, known = [], formula.ingredients
    for (name, key), grams in weighed(formula, made, made.losses).items():
        part = formula.part(name)
        per_kg = prices.per_kg.get(key)
        paid = None if per_kg is None else grams / 1000 * per_kg
        if grams > 0:
            lines.append(CostLine(part.name, part.kind, key, known[key]["name"], grams, per_kg, paid))
    for kind, grams in unspelled(formula).items():  # no price, so that it is never taken for nothing
        lines.append(CostLine(kind, kind, "", f"{kind}, not spelled out", grams * made.pieces, None, None))
    extras, notes = {}, [f"{text}." for text in left_out(formula, "so it costs nothing")]
    if hands_on is not None or rate is not None:
        if hands_on is None:
            do = "count the minutes that hands are at it, not the waiting: hands_on='35 min'"
            raise AmountError(must("hands_on", "a time, to go with the rate", "none", do))
        minutes = read_above(hands_on, "time", "hands_on", "time it with a clock", zero=True)
        a_minute = read_rate(rate, prices.currency)
        extras["labour"] = minutes * a_minute
        paid = f"at {each(60 * a_minute, prices.currency)} an hour"
        notes.append(f"Labour: {figure(minutes, 0)} min for the batch, {paid}.")
    if energy is not None:
        extras["energy"] = read_money("energy", energy, prices.currency)
    if packaging is not None:
        extras["packaging"] = read_money("packaging", packaging, prices.currency) * made.pieces
    used = [row for row in prices.rows if row.key in {line.key for line in lines}]
    notes += [f"{row.name}: {row.how}." for row in used if row.how] + doubts_of(used)
    return Cost(formula, prices, made, tuple(lines), extras, tuple(notes))


def _by_line(one):
    found = {}
    for line in one.lines:
        name = ("dough" if line.kind in DOUGH else line.part), line.name
        found[name] = found.get(name, 0.0) + (line.cost or 0.0) / one.pieces
    return found | {(name, name): value / one.pieces for name, value in one.extras.items()}


def _percentages(formula):
    names = formula.ingredients
    found = {
        ("dough", names[key]["name"]): float(value)
        for key, value in zip(formula.dough_keys, formula.dough_percentages, strict=True)
    }
    others = [part for part in formula.parts if part.kind not in DOUGH]
    return found | {(p.name, names[k]["name"]): v for p in others for k, v in zip(p.keys, p.percentages, strict=True)}


def _pairs(before, after):
    return {name: (before.get(name, 0.0), after.get(name, 0.0)) for name in dict.fromkeys((*before, *after))}
