"""What a label declares: figures rounded half up by each law, energy by its factors, percentages of ingredients."""

import functools
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from ..balance.accounts import lines_of
from ..cautions import unspelled
from ..errors import AmountError, above, must
from ..tables import COLUMNS, COMPONENTS, table
from ..words import figure, listing, one_of

# A part of an ingredient is at most the whole it belongs to; sodium [mg] is in the ash [g].
_WHOLE = {
    "saturated_fat": ("fat", 1),
    "sugars": ("carbohydrate", 1),
    "fibre": ("carbohydrate", 1),
    "sodium": ("ash", 1000),
}
# Carbohydrate is taken without fibre, which has a factor of its own.
_BURNT = {"carbohydrate": "carbohydrate_without_fibre"}


@dataclass(frozen=True)
class Declared:
    """A figure as a label says it: text, and the rounded number with its step (None for a "less than")."""

    text: str
    unit: str
    number: Decimal | None = None
    step: Decimal | None = None

    def __str__(self):
        return f"{self.text} {self.unit}"


def declare(nutrient, value):
    """Return the Declared figure of a value [the nutrient's unit: g, kcal, kJ], rounded half up.

    Exact decimals of the value's first twelve digits, so that 9.95 is no 9.94999999. Commission guidance on
    tolerances, December 2012, Table 4. Any value of 0 or more. Raises UnknownName, AmountError.

    >>> str(declare("fat", 9.96)), str(declare("sugars", 0.4)), str(declare("salt", 0.984))
    ('10 g', '<0.5 g', '0.98 g')
    """
    rows = table("label_rounding").rows
    nutrient = one_of("nutrient", nutrient, dict.fromkeys(name for row in rows for name in row.nutrients.split(";")))
    exact = Decimal(format(above(nutrient, value, do="check the composition", zero=True), ".12g"))
    row = _rule(nutrient, exact)
    if row.step is None:
        return Declared(row.says, row.unit)
    step = Decimal(row["step"])
    number = (exact / step).to_integral_value(ROUND_HALF_UP) * step
    shown = Decimal(_rule(nutrient, number)["step"] or step)  # 9.96 g rounds across the line and is printed as 10
    return Declared(f"{number:,.{max(-shown.as_tuple().exponent, 0)}f}", row.unit, number, step)


def _rule(nutrient, value):
    """Return the row of label_rounding.csv that holds for a value: the last one from which on it lies."""
    rows = [row for row in table("label_rounding").rows if nutrient in row.nutrients.split(";")]
    ends = [(Decimal(row["from_value"]), row) for row in rows]
    return [row for end, row in ends if value > end or (row.from_included == "yes" and value == end)][-1]


def energy(grams):
    """Return the energy {"kJ": ..., "kcal": ...} of components [g], each unit by its own factors.

    Regulation (EU) 1169/2011, Annex XIV, carbohydrate without fibre. Raises UnknownName.

    >>> energy({"fat": 10, "carbohydrate": 20, "protein": 15})
    {'kJ': 965.0, 'kcal': 230.0}
    """
    rows = {row.component: row for row in table("energy_factors").rows}
    burnt = [(rows[one_of("component", name, rows)], value) for name, value in grams.items()]
    units = {"kJ": "energy_kj_per_g", "kcal": "energy_kcal_per_g"}
    return {unit: float(sum(value * getattr(row, column) for row, value in burnt)) for unit, column in units.items()}


def quid(used: dict[str, float], finished: float, mixed: float) -> dict[str, str]:
    """Return {name: what is declared of it} of ingredients that a name, words or a picture put forward.

    used: their mass at the time of use [g].
    finished: mass of the finished food that they went into [g].
    mixed: mass of all that went into it [g]; the base where the food took up water.

    Above 100 %, alone or together, the grams in 100 g instead. Regulation (EU) 1169/2011, Article 22 and Annex VIII
    (3). Raises AmountError.

    >>> quid({"sultanas": 200}, finished=800, mixed=1000)
    {'sultanas': '25 %'}
    """
    for name, mass in (("finished food", finished), ("mixed", mixed)):
        above(name, mass, "a mass", "g", "weigh it")
    for name, mass in used.items():
        if not 0 <= mass <= mixed * (1 + 1e-9):
            raise AmountError(must(name, f"0 to {figure(mixed)} g, all that was mixed", f"{mass:g} g", "weigh it"))
    whole = min(finished, mixed)
    texts = {name: figure(100 * mass / whole).removesuffix(".0") for name, mass in used.items()}
    over = sum(used.values()) > whole * (1 + 1e-9)
    return {name: f"made with {text} g per 100 g" if over else f"{text} %" for name, text in texts.items()}


@dataclass(frozen=True)
class Nutrient:
    """One line of the nutrition table: least and most in 100 g, one and the same when all is known."""

    key: str
    name: str
    unit: str
    of_which: bool
    per_100_g: tuple
    unknown: tuple = ()  # (ingredient, g in a piece)

    @property
    def declared(self):
        """The text per 100 g; "at least ..." when what is unknown could move it."""
        if self.settled:
            return str(declare(self.key, self.per_100_g[0]))
        digits = {"kJ": 0, "kcal": 0}.get(self.unit, 2 if self.key == "salt" else 1)
        return f"at least {figure(int(self.per_100_g[0] * 10**digits + 1e-9) / 10**digits, digits)} {self.unit}"

    @property
    def line(self):
        """What it is called in a sentence, with the unit where energy stands twice."""
        return f"energy in {self.unit}" if self.name == "energy" else self.key.replace("_", " ")

    @functools.cached_property
    def settled(self):
        """Whether it is known well enough to be printed."""
        least, most = (declare(self.key, bound) for bound in self.per_100_g)
        return least == most

    def unknown_in(self):
        """Return in what of a piece the figure is unknown and whether that matters, in words, or nothing."""
        if not self.unknown or (self.settled and self.per_100_g[1] < self.per_100_g[0] * 1.0005):
            return ""  # no figure of a label reads that finely
        where = listing(f"{figure(max(grams, 0.01), 2)} g of {name}" for name, grams in self.unknown)
        return f"unknown in {where} a piece" + "; too little to move the declared figure" * self.settled


def in_piece(formula):
    """Return {ingredient: g} of one raw piece, what no part of the formula spells out left aside."""
    found = {}
    for kind in ("dough", "filling", "topping", "wash"):
        lines = lines_of(formula, "divided" if kind == "dough" else kind)
        if lines is not None:
            factor = float(getattr(formula.pieces, kind) / lines.grams.sum())
            found |= {k: found.get(k, 0.0) + factor * float(v) for k, v in zip(lines.keys, lines.grams, strict=True)}
    return {key: grams for key, grams in found.items() if grams > 0}


def bounds(known_ingredients, key):
    """Return {account: (least, most)} in 100 g of an ingredient [g, sodium mg].

    What the tables do not know lies between 0 and what 100 g leave room for.
    """
    place = known_ingredients.row(key)
    known = known_ingredients.known[place]
    cells = dict(zip(COLUMNS, known_ingredients.composition[place].tolist(), strict=True))
    sure = {name for name, is_known in zip(COLUMNS, known, strict=True) if is_known}
    room = max(100.0 - sum(cells[name] for name in COMPONENTS), 0.0)
    found = {name: (cells[name], cells[name] if name in sure else room) for name in COMPONENTS}
    for name, (whole, factor) in _WHOLE.items():
        found[name] = cells[name], cells[name] if name in sure else factor * found[whole][1]
    (least, most), fibre = found["carbohydrate"], found["fibre"]
    found["carbohydrate_without_fibre"] = max(least - fibre[1], 0.0), max(most - fibre[0], 0.0)
    return found


def content(formula, baked, lost=0.0):
    """Return (Nutrients in the order of the law, {account: (least, most)} in a piece [g, sodium mg, energy kJ, kcal]).

    Of one raw piece that weighs so much baked [g], of which the oven takes so much [g]: water first, then alcohol, no
    more. Raises AmountError when more is lost than water and alcohol.
    """
    known = formula.ingredients
    entries = [(known[key].name, g, bounds(known, key)) for key, g in in_piece(formula).items()]
    nothing_known = {account: (0.0, 100_000.0 if account == "sodium" else 100.0) for account in entries[0][2]}
    for part, g in unspelled(formula).items():
        entries.append((f"{part} that the formula does not spell out", g, nothing_known))
    sums, missing = {}, {}
    for account in nothing_known:
        sums[account] = tuple(sum(g * ends[account][end] / 100 for _, g, ends in entries) for end in (0, 1))
        missing[account] = tuple((name, g) for name, g, ends in entries if ends[account][1] > ends[account][0])
    beyond = max(lost - sums["water"][1], 0.0)
    if beyond > sums["alcohol"][1] + 1e-6:
        most = figure(sums["water"][1] + sums["alcohol"][1], 2)
        be = f"a piece that lost at most {most} g, the water and alcohol in it"
        raise AmountError(must("baked", be, f"a loss of {figure(lost, 2)} g", "weigh ten cooled pieces"))
    sums["alcohol"] = tuple(max(value - beyond, 0.0) for value in sums["alcohol"])
    burnt = {row.component: _BURNT.get(row.component, row.component) for row in table("energy_factors").rows}
    ends = [energy({name: sums[account][end] for name, account in burnt.items()}) for end in (0, 1)]
    unknown = tuple(dict.fromkeys(entry for account in burnt.values() for entry in missing[account]))
    for unit in ends[0]:
        sums[f"energy_{unit.lower()}"], missing[f"energy_{unit.lower()}"] = tuple(end[unit] for end in ends), unknown
    nutrients = []
    for row in table("label_nutrients").rows:
        per_100 = tuple(100 * row.factor * value / baked for value in sums[row.account])
        what = row.nutrient, row.label_name, row.unit, row.of_which == "yes"
        nutrients.append(Nutrient(*what, per_100, missing[row.account]))
    return tuple(nutrients), sums
