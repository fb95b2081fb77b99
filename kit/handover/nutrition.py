"""What a label declares: figures rounded half up by each law, energy by its factors, percentages of ingredients."""

import functools
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from ..balance.accounts import dough_with_inclusions, part_lines
from ..cautions import unspelled
from ..errors import AmountError, must
from ..tables import COLUMNS, COMPONENTS, in_tables, table
from ..words import figure, listing, one_of

MARKETS = ("EU", "US")
# A part of an ingredient is at most the whole it belongs to; sodium [mg] is in the ash [g].
_WHOLE = {"saturated_fat": ("fat", 1), "sugars": ("carbohydrate", 1), "fibre": ("carbohydrate", 1),
          "sodium": ("ash", 1000)}  # fmt: skip
# Where carbohydrate is taken without fibre, because fibre has a factor of its own.
_BURNT = {"EU": {"carbohydrate": "carbohydrate_without_fibre"}, "US": {}}


@dataclass(frozen=True)
class Declared:
    """A figure as a label says it: text, and the rounded number with its step (None for a "less than")."""

    text: str
    unit: str
    number: Decimal | None = None
    step: Decimal | None = None

    def __str__(self):
        return f"{self.text} {self.unit}"


@functools.cache
def _rules(market):
    """{nutrient: [(from, included, step, says, unit)]} of a market."""
    found = {}
    for row in table("label_rounding").rows:
        if row["market"] == market:
            step = Decimal(row["step"]) if row["step"] else None
            rule = Decimal(row["from_value"]), row["from_included"] == "yes", step, row["says"], row["unit"]
            for nutrient in row["nutrients"].split(";"):
                found.setdefault(nutrient, []).append(rule)
    return found


def declare(market, nutrient, value):
    """Return the Declared figure of a value [the nutrient's unit: g, mg, kcal, kJ], rounded half up.

    Exact decimals of the value's first twelve digits, so that 9.95 is no 9.94999999. 21 CFR 101.9(c) as in the Food
    Labeling Guide, Appendix H; Commission guidance on tolerances, December 2012, Table 4. Any value of 0 or more.
    Raises UnknownName, AmountError.

    >>> str(declare("EU", "fat", 9.96)), str(declare("US", "carbohydrate", 0.7)), str(declare("EU", "salt", 0.984))
    ('10 g', 'less than 1 g', '0.98 g')
    """
    rules = _rules(market_of(market))
    nutrient = one_of("nutrient", nutrient, rules)
    exact = Decimal(format(value, ".12g"))
    if not (exact.is_finite() and exact >= 0):
        raise AmountError(must(nutrient, "0 or more and finite", f"{value:g}", "check the composition"))
    _, _, step, says, unit = _rule(rules[nutrient], exact)
    if step is None:
        return Declared(says, unit)
    number = (exact / step).to_integral_value(ROUND_HALF_UP) * step
    shown = _rule(rules[nutrient], number)[2] or step  # 9.96 g rounds across the line and is printed as 10
    digits = max(-shown.as_tuple().exponent, 0) * (shown != Decimal("0.5") or number % 1 != 0)
    return Declared(f"{number:,.{digits}f}", unit, number, step)


def _rule(rules, value):
    return [rule for rule in rules if value > rule[0] or (rule[1] and value == rule[0])][-1]


@functools.cache
def _factors(market):
    rows = [row for row in table("energy_factors").rows if row["market"] == market]
    return {r["component"]: {u: float(r[f"energy_{u.lower()}_per_g"] or "nan") for u in ("kJ", "kcal")} for r in rows}


def energy(grams, market="EU"):
    """Return the energy {"kJ": ..., "kcal": ...} of components [g], each unit by its own factors (US: kcal alone).

    EU: Regulation 1169/2011, Annex XIV, carbohydrate without fibre; US: general factors 4, 4, 9 and 7, fibre in
    the carbohydrate. Raises UnknownName.

    >>> energy({"fat": 10, "carbohydrate": 20, "protein": 15})
    {'kJ': 965.0, 'kcal': 230.0}
    """
    factors = _factors(market_of(market))
    grams = {one_of("component", name, factors): value for name, value in grams.items()}
    units = ("kJ", "kcal") if market.upper() == "EU" else ("kcal",)
    return {unit: float(sum(value * factors[name][unit] for name, value in grams.items())) for unit in units}


@dataclass(frozen=True)
class Quid:
    """How much of an ingredient is used: on what went into the bowl, and on the finished food [%]."""

    name: str
    used: float  # [g]
    mixing_bowl: float
    finished: float
    over: bool = False  # it, or all that are named together, are more than 100 % of the finished food

    @property
    def said(self):
        """The percentage, or the weight that 100 g are made with, as the law words it."""
        text = figure(self.finished).removesuffix(".0")
        return f"made with {text} g per 100 g" if self.over else f"{text} %"


def quid(used, finished, mixed=None):
    """Return {name: Quid} of ingredients used [g] in so much finished food [g] from so much mixed [g].

    mixed is the sum of those used when none is given. Where the food lost water the percentage is of the finished
    food, otherwise of the mixing bowl; above 100 %, alone or together, it is grams used for 100 g. Regulation (EU)
    1169/2011, Article 22 and Annex VIII (3). Raises AmountError.

    >>> quid({"sultanas": 200}, finished=800, mixed=1000)["sultanas"].said
    '25 %'
    """
    mixed = float(sum(used.values()) if mixed is None else mixed)
    for name, grams in (("finished food", finished), ("mixed", mixed)):
        if not 0 < grams < float("inf"):
            raise AmountError(must(name, "a mass above 0 g", f"{grams:g} g", "weigh it"))
    for name, grams in used.items():
        if not 0 <= grams <= mixed * (1 + 1e-9):
            raise AmountError(must(name, f"0 to {figure(mixed)} g, all that was mixed", f"{grams:g} g", "weigh it"))
    whole = min(finished, mixed)
    over = sum(used.values()) > whole * (1 + 1e-9)
    return {name: Quid(name, g, 100 * g / mixed, 100 * g / whole, over) for name, g in used.items()}


@dataclass(frozen=True)
class Nutrient:
    """One line of the nutrition table: least and most per 100 g and per piece, None where the tables have none."""

    market: str
    key: str
    name: str
    unit: str
    of_which: bool
    per_100_g: tuple | None  # (least, most); one and the same when all is known
    per_piece: tuple | None
    unknown: tuple = ()  # (ingredient, g in a piece)
    counts: dict = field(default_factory=dict)  # {"serving": pieces, ...}: what else it is declared for
    daily: float | None = None  # its daily value, where the law has one

    def bounds(self, per):
        """Return (least, most) per "100 g", "piece" or what `counts` has; None where the tables have none."""
        if per == "100 g" or self.per_piece is None:
            return self.per_100_g
        return tuple(({"piece": 1} | self.counts)[per] * value for value in self.per_piece)

    def declared(self, per="100 g"):
        """Return the declared text per "100 g", "piece", ...; "at least ..." when what is unknown could move it."""
        bounds = self.bounds(per)
        if bounds is None:
            return "to find out"
        least, most = (declare(self.market, self.key, bound) for bound in bounds)
        if least == most:
            return str(least)
        digits = {"kJ": 0, "kcal": 0, "mg": 0}.get(self.unit, 2 if self.key == "salt" else 1)
        floor = int(bounds[0] * 10**digits + 1e-9) / 10**digits
        return f"at least {figure(floor, digits)} {self.unit}"

    def daily_value(self, per="serving"):
        """Return the % of its daily value as text, from figures before rounding; nothing where it has none."""
        if self.daily is None:
            return ""
        if (bounds := self.bounds(per)) is None:
            return "to find out"
        least, most = (declare(self.market, "daily_value", 100 * bound / self.daily) for bound in bounds)
        return str(least) if least == most else f"at least {int(100 * bounds[0] / self.daily)} %"

    @property
    def called(self):
        """Its name, with the unit where energy stands twice."""
        return f"energy in {self.unit}" if self.name == "energy" else self.name

    @property
    def settled(self):
        """Whether all that is declared is known well enough to be printed."""
        said = map(self.declared, ("100 g", "piece", *self.counts))
        return self.per_piece is not None and not any(text.startswith("at least") for text in said)

    def unknown_in(self):
        """Return in what of a piece the figure is unknown and whether that matters, in words, or nothing."""
        if not self.unknown or self.per_100_g is None:
            return ""
        if self.settled and self.per_piece[1] < self.per_piece[0] * 1.0005:  # no figure of a label reads that finely
            return ""
        where = listing(f"{figure(max(grams, 0.01), 2)} g of {name}" for name, grams in self.unknown)
        return f"unknown in {where} a piece" + "; too little to move the declared figure" * self.settled


def in_piece(formula):
    """Return {ingredient: g} of one raw piece, what no part of the formula spells out left aside."""
    found = {}
    for kind in ("dough", "filling", "topping", "wash"):
        lines = dough_with_inclusions(formula) if kind == "dough" else part_lines(formula, kind)
        if lines is not None:
            factor = float(getattr(formula.pieces, kind) / lines.grams.sum())
            found |= {k: found.get(k, 0.0) + factor * float(v) for k, v in zip(lines.keys, lines.grams, strict=True)}
    return {key: grams for key, grams in found.items() if grams > 0}


@functools.cache
def names():
    """{key: row} of label_names.csv."""
    return {row["ingredient"]: row for row in table("label_names").rows}


def bounds(known_ingredients, key):
    """Return {account: (least, most)} in 100 g of an ingredient [g, sodium mg].

    What the tables do not know lies between 0 and what 100 g leave room for.
    """
    place = known_ingredients.row(key)
    row, known = known_ingredients[key], known_ingredients.known[place]
    cells = dict(zip(COLUMNS, known_ingredients.composition[place].tolist(), strict=True))
    sure = {name for name, is_known in zip(COLUMNS, known, strict=True) if is_known}
    room = max(100.0 - sum(cells[name] for name in COMPONENTS), 0.0)
    found = {name: (cells[name], cells[name] if name in sure else room) for name in COMPONENTS}
    for name, (whole, factor) in _WHOLE.items():
        found[name] = cells[name], cells[name] if name in sure else factor * found[whole][1]
    (least, most), fibre = found["carbohydrate"], found["fibre"]
    found["carbohydrate_without_fibre"] = max(least - fibre[1], 0.0), max(most - fibre[0], 0.0)
    added = names().get(key, {}).get("added_sugars") or ("all" if row["group"] == "sugar" else "")
    if not in_tables(key) and not added:
        added = "unknown"  # what a maker put into it is on his label alone
    least, most = found["sugars"]
    found["added_sugars"] = (least if added == "all" else 0.0), (most if added else 0.0)
    return found


def content(formula, market, baked, lost=0.0, counts=None):
    """Return (Nutrients in the order of the law, {account: (least, most)} in a piece [g, sodium mg, energy kJ, kcal]).

    Of one raw piece that weighs so much baked [g], of which the oven takes so much [g]: water first, then alcohol, no
    more; counts {what else it is declared for: pieces}. Raises AmountError when more is lost than water and alcohol.
    """
    sums, missing = {}, {}
    for key, g in in_piece(formula).items():
        name = formula.ingredients[key]["name"]
        for account, (least, most) in bounds(formula.ingredients, key).items():
            low, high = sums.get(account, (0.0, 0.0))
            sums[account] = low + g * least / 100, high + g * most / 100
            if most > least:
                missing.setdefault(account, []).append((name, g))
    for part, g in unspelled(formula).items():
        for account, (low, high) in sums.items():
            sums[account] = low, high + g * (1000 if account == "sodium" else 1)
            missing.setdefault(account, []).append((f"{part} that the formula does not spell out", g))
    beyond = max(lost - sums["water"][1], 0.0)
    if beyond > sums["alcohol"][1] + 1e-6:
        most = figure(sums["water"][1] + sums["alcohol"][1], 2)
        be = f"a piece that lost at most {most} g, the water and alcohol in it"
        raise AmountError(must("baked", be, f"a loss of {figure(lost, 2)} g", "weigh ten cooled pieces"))
    sums["alcohol"] = tuple(max(value - beyond, 0.0) for value in sums["alcohol"])
    burnt = {name: _BURNT[market].get(name, name) for name in _factors(market)}
    burnt = {name: account for name, account in burnt.items() if account in sums}
    for end in (0, 1):
        for unit, value in energy({name: sums[account][end] for name, account in burnt.items()}, market).items():
            sums[f"energy_{unit.lower()}"] = (*sums.get(f"energy_{unit.lower()}", ()), value)
    entries = [entry for account in burnt.values() for entry in missing.get(account, ())]
    missing |= dict.fromkeys(("energy_kj", "energy_kcal"), tuple(dict.fromkeys(entries)))
    nutrients = []
    for row in (row for row in table("label_nutrients").rows if row["market"] == market):
        piece = per_100 = None
        if row["account"]:
            piece = tuple(float(row["factor"]) * v for v in sums[row["account"]])
            per_100 = tuple(100 * value / baked for value in piece)
        what = row["nutrient"], row["label_name"], row["unit"], row["of_which"] == "yes"
        where, daily = tuple(missing.get(row["account"], ())), row["daily_value"] and float(row["daily_value"])
        nutrients.append(Nutrient(market, *what, per_100, piece, where, counts or {}, daily or None))
    return tuple(nutrients), sums


def market_of(market):
    """Return 'EU' or 'US'. Raises UnknownName."""
    return one_of("market", market, MARKETS, "choose where it is sold")
