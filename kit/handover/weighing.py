"""What goes into a batch and a piece, and as a bench reads it: to the step of scale, ruler or thermometer."""

import math
from dataclasses import dataclass

from ..cautions import unspelled
from ..errors import FormulaError, must
from ..formula.amounts import counted_as
from ..formula.parts import KINDS, MIXED, ON_FLOUR
from ..formula.scaling import ToWeigh, to_weigh, weighed
from ..process import predict_yield
from ..tables import table
from ..units import in_unit, read
from ..words import figure, listing, nearest, plain, plural, without_zeros

_FRACTIONS = {0.125: "⅛", 0.25: "¼", 0.375: "⅜", 0.5: "½", 0.625: "⅝", 0.75: "¾", 0.875: "⅞"}

# amounts of any kind


def step_of(what, unit, kind="all", value=0.0):
    """Return the step [unit] that sheet_steps.csv gives for a value [unit] of a kind: the finest row that fits.

    >>> step_of("mass", "oz", "egg", 12.1), step_of("mass", "oz", "salt", 12.1), step_of("oven", "degF")
    (0.25, 0.01, 5.0)
    """
    rows = [row for row in table("sheet_steps").rows if (row.what, row.unit) == (what, unit)]
    fitting = [row for row in rows if row.kind in (kind, "all")]
    return min(row.step for row in fitting if value < (row.below or math.inf))


def in_ounces(grams, kind="all"):
    """Return a mass [g] in ounces, rounded to its step [oz], and the step.

    >>> in_ounces(516), in_ounces(27.5, "salt")
    ((18.25, 0.25), (0.97, 0.01))
    """
    exact = in_unit(grams, "oz", "mass")
    step = step_of("mass", "oz", kind, exact)
    return round(nearest(exact, step), 2), step


def pounds_and_ounces(ounces, step=0.01):
    """Return ounces as a bench reads them: pounds from 16 oz up, quarters as fractions.

    >>> pounds_and_ounces(18.25, 0.25), pounds_and_ounces(0.61), pounds_and_ounces(32, 0.25)
    ('1 lb 2¼ oz', '0.61 oz', '2 lb')
    """
    pounds, rest = divmod(round(ounces, 2), round(in_unit(read("1 lb", "mass"), "oz", "mass")))
    rest = round(rest, 2)
    text = _fraction(rest) if step >= 0.125 else figure(rest, 2)
    return f"{grouped(pounds)} lb{f' {text} oz' if rest else ''}" if pounds else f"{text} oz"


def grouped(value, digits=0):
    """Return a number whose thousands nobody reads as decimals: no mark below 10,000, a thin space above.

    >>> grouped(3428.3, 1), grouped(27522936) == "27\\u202f522\\u202f936"
    ('3428.3', True)
    """
    return figure(value, digits).replace(",", "\u202f" if abs(value) >= 9999.5 else "")


def counted(count, word):
    """Return a count with its word, its thousands as in `grouped`.

    >>> counted(1, "tray"), counted(12, "tray")
    ('1 tray', '12 trays')
    """
    return plural(count, word).replace(f"{count:,}", grouped(count), 1)


def trimmed(value, digits=2):
    """Return a number without zeros that say nothing.

    >>> trimmed(18.0), trimmed(0.8), trimmed(62.5, 1)
    ('18', '0.8', '62.5')
    """
    return without_zeros(grouped(value, digits))


@dataclass(frozen=True)
class Bench:
    """How a bench reads what is no line of the sheet: in the units that it works in, the others in brackets."""

    working: str  # metric or US

    def both(self, metric, american):
        """Return two texts, the working one first.

        >>> Bench("US").both("26 °C", "79 °F")
        '79 °F (26 °C)'
        """
        return f"{american} ({metric})" if self.working == "US" else f"{metric} ({american})"

    def mass(self, grams, digits=1, alone=False):
        """Return a mass [g], such as of a piece, in both units, or in the working one alone.

        >>> Bench("metric").mass(70), Bench("US").mass(62.5), Bench("metric").mass(892, alone=True)
        ('70 g (2.47 oz)', '2.20 oz (62.5 g)', '892 g')
        """
        metric, american = f"{trimmed(grams, digits)} g", pounds_and_ounces(*in_ounces(grams))
        return (american if self.working == "US" else metric) if alone else self.both(metric, american)

    def temperature(self, degrees, what="dough"):
        """Return a temperature [degC] in both units, to the step of a dough's thermometer or an oven's.

        >>> Bench("metric").temperature(180, "oven"), Bench("US").temperature(26)
        ('180 °C (355 °F)', '79 °F (26 °C)')
        """
        shown = (nearest(in_unit(degrees, unit, "temperature"), step_of(what, unit)) for unit in ("degC", "degF"))
        return self.both(*(f"{grouped(value)} {sign}" for value, sign in zip(shown, ("°C", "°F"), strict=True)))

    def length(self, centimetres, what="length"):
        """Return a length or thickness [cm] in both units.

        >>> Bench("metric").length(8.9), Bench("metric").length(0.37, "thickness")
        ('89 mm (3½ in)', '3.7 mm (0.15 in)')
        """
        steps = {unit: step_of(what, unit) for unit in ("mm", "inch")}
        mm, inch = (nearest(in_unit(centimetres, unit, "length"), step) for unit, step in steps.items())
        inches = _fraction(inch) if steps["inch"] >= 0.125 else figure(inch, 2)
        return self.both(f"{grouped(mm, 0 if steps['mm'] >= 1 else 1)} mm", f"{inches} in")


def _fraction(value):
    whole, rest = divmod(round(value, 3), 1)
    mark = _FRACTIONS.get(rest, "")
    return f"{grouped(whole)}{mark}" if whole or not mark else mark


# what goes in


def taken(formula):
    """Return in words the masses of a piece that are the usual ones because nobody gave them; nothing when none."""
    masses = [
        f"{trimmed(getattr(formula.pieces, part))} g of {part}" for part in formula.pieces.taken if formula.has(part)
    ]
    do = "write it in the formula"
    return [f"A piece is taken as {listing(masses)}, since the formula says no mass: {do}"] if masses else []


def left_out(formula, what="so nothing of it is weighed"):
    """Return in words what of a piece is not written down: parts without a mass, and masses without a part."""
    bare = [p for p in formula.parts if p.kind not in ON_FLOUR and not getattr(formula.pieces, p.kind)]
    said = [f"The {part.name} has no mass on a piece, {what}: write its mass, or take it out" for part in bare]
    for kind, grams in unspelled(formula).items():
        said.append(f"{trimmed(grams)} g of {kind} on a piece is not spelled out: write it as a part of the formula")
    return said


def made_of(formula, flour, dough, pieces, calibration):
    """Return the Yield of a batch that gives a piece or more. Raises FormulaError, AmountError, UnitError."""
    made = predict_yield(formula, flour=flour, dough=dough, pieces=pieces, calibration=calibration)
    if made.pieces < 1:
        be, got = f"enough for one piece of {trimmed(formula.pieces.dough, 1)} g", trimmed(made.dough_scaled, 1)
        raise FormulaError(must("batch", be, f"{got} g of dough", "make more"))
    return made


def task_of(formula, part, key):
    """Return the number of the task in which an ingredient goes into its part, None when no step is of that part.

    The step that names it among what it adds, else the first step of the part.
    """
    row, known, steps = formula.ingredients[key], formula.ingredients.index, list(enumerate(formula.steps, 1))
    own = [place for place, step in steps if plain(step.part) == plain(part.name)]
    for place, step in steps:
        if place in own or (not step.part and part.kind == "dough"):
            added = [plain(name) for name in step.adds]
            if plain(row.kind) in added or any(known.get(name) == formula.ingredients.row(key) for name in added):
                return place
    return own[0] if own else None


# lines and sums


@dataclass(frozen=True)
class Line:
    """One thing to weigh: as scaled, and rounded to the scale's step in g and in oz."""

    part: str
    item: str
    percentage: float
    exact: float  # [g]
    weigh: ToWeigh
    ounces: float  # to weigh [oz]
    ounces_step: float
    task: int | None = None  # number of the task in which it goes in
    count: str = ""  # how many eggs to break for it

    @property
    def named(self):
        """What it is called, and how many eggs are broken for it."""
        return f"{self.item} ({self.count})" if self.count else self.item

    @property
    def grams(self):
        """The mass to weigh [g]."""
        return self.weigh.grams

    @property
    def metric(self):
        """The mass to weigh in g, as text."""
        return grouped(self.weigh.grams, self.weigh.digits)

    @property
    def american(self):
        """The mass to weigh in lb and oz, as text."""
        return pounds_and_ounces(self.ounces, self.ounces_step)

    def shown(self, working):
        """Both texts, the working one first."""
        return (self.american, self.metric) if working == "US" else (self.metric, self.american)


@dataclass(frozen=True)
class Total:
    """What lines add up to: as rounded, and as scaled without rounding [g, or oz on an American sheet]."""

    name: str
    percentage: float
    exact: float  # [g]
    rounded: str
    true: str
    other: str  # in the column that is not worked in


def lines_of(formula, made):
    """Return the Lines of a Yield, in the order in which the bench comes to them."""
    lines = []
    for (name, key), exact in weighed(formula, made, made.losses).items():
        if exact > 0:
            part = formula.part(name)
            row, task = formula.ingredients[key], task_of(formula, part, key)
            weigh, ounces = to_weigh(exact, row.kind), in_ounces(exact, row.kind)
            share, eggs = float(part.percentage(key)), _eggs(key, exact)
            line = Line(part.name, row.name, share, exact, weigh, *ounces, task, eggs)
            lines.append(((KINDS.index(part.kind), formula.parts.index(part), task or 0), line))
    return tuple(line for _, line in sorted(lines, key=lambda entry: entry[0]))


def _eggs(key, grams):
    """How many large eggs are to be broken for a mass [g] of their insides; nothing for what is no shell egg."""
    large = counted_as(key).get("each-large")
    return f"break {counted(math.ceil(grams / large - 1e-9), 'large egg')}" if large else ""


def rounded_away(lines, bench):
    """Return in words which lines rounding moves further than sheet_steps.csv allows."""
    said, most = [], step_of("line apart", "%")
    for line in lines:
        exact = in_unit(line.exact, "oz", "mass") if bench.working == "US" else line.exact
        off = 100 * ((line.ounces if bench.working == "US" else line.grams) / exact - 1)
        if abs(off) > most:
            text = line.american if bench.working == "US" else f"{line.metric} g"
            far = f"{figure(abs(off), 0)} % too {'much' if off > 0 else 'little'}"
            said.append(f"{line.part}, {line.item}: {text} is {far}: take a finer scale, or make more")
    return said


def totals_of(formula, lines, bench):
    """Return {part it stands under: Total}: the dough with all its bowls, and each other part of several lines."""
    groups = {}
    for line in lines:
        kind = formula.part(line.part).kind
        groups.setdefault("dough" if kind in MIXED else line.part, []).append(line)
    found = {}
    for name, some in groups.items():
        if len(some) < 2:
            continue
        exact, share = sum(line.exact for line in some), sum(line.percentage for line in some)
        metric = [grouped(grams, 1) for grams in (sum(line.grams for line in some), exact)]
        ounces = sum(line.ounces for line in some), in_unit(exact, "oz", "mass")
        american = [pounds_and_ounces(each) for each in ounces]
        rounded, true = american if bench.working == "US" else metric
        other = grouped(exact) if bench.working == "US" else pounds_and_ounces(*in_ounces(exact))
        found[some[-1].part] = Total(f"Total {name}", share, exact, rounded, true, other)
    return found


def bases_of(formula, made, bench):
    """Return {part: what is said beside its name}: what its percentages are of, and where it goes."""
    said, count = {}, grouped(made.pieces)
    first = [part.name for part in formula.bowls if part.kind != "dough"]
    for part in formula.parts:
        said[part.name] = f"% of {formula.base_words(part).replace(f'the {part.name}', 'its')}".replace("its's", "its")
        if part.kind == "dough" and first:
            said[part.name] += f"; into the mixer with all of the {listing(first)}"
        if part.kind not in ON_FLOUR:
            alike = [other for other in formula.parts if other.kind == part.kind]
            each = getattr(formula.pieces, part.kind) * part.mass / sum(other.mass for other in alike)
            loss = part.kind == "topping" and made.topping_to_mix > made.topping_needed * 1.0001
            said[part.name] += f"; {count} × {bench.mass(each, alone=True)}"
            said[part.name] += " and what is lost on the way" * loss
    return said
