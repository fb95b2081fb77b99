"""What each change of a dough does to the time it takes to rise, exactly.

ln(minutes) is a sum over temperature, water activity and yeast; each part's difference is a chord, and the water
activity's is parted further, ingredient by ingredient.
"""

import math
from dataclasses import dataclass

import numpy as np

from ..balance.expressions import Change
from ..errors import FormulaError, must
from ..formula.parts import only_one
from ..page import Result
from ..words import figure, listing, signed
from .activity import HEXOSE, SUCROSE, WATER, ln_activity, molalities, solutes_of, weights
from .gassing import FREE, ln_rate, values

_BRINGS = ("sugar", "salt", "water")  # what an ingredient may bring that the yeast meets


@dataclass(frozen=True)
class RiseCauses(Result):
    """What each change does to the time [min]; the minutes add up to the whole difference."""

    before: float  # [min]
    after: float
    minutes: tuple  # (cause, minutes), largest first
    columns = ("cause", "minutes")

    @property
    def total(self):
        """The difference [min]."""
        return self.after - self.before

    def frame_rows(self):
        """Return the causes and their sum."""
        return [*self.minutes, ("in all", self.total)]

    @property
    def words(self):
        """What moves the time, in one sentence."""
        shown = [(cause, m) for cause, m in self.minutes if abs(m) >= 0.05]
        said = listing(f"{cause} {signed(m)} min" for cause, m in shown) or "nothing moves it"
        return f"{figure(self.before, 0)} → {figure(self.after, 0)} min: {said}"


def causes(before, after):
    """Return the RiseCauses of the difference between two Rises of one stage, exact.

    ln(minutes) parts exactly (chords of each factor over the ingredients' sums; temperature and dough in both orders,
    averaged) and minutes = logarithmic mean of both times x part. Raises FormulaError.
    """
    for one in (before, after):
        only_one(one.formula, "to be compared")
        if not math.isfinite(one.minutes):
            do = "compare two that do"
            raise FormulaError(must("rise", "of doughs that rise", str(one), do))
    if before.stage != after.stage:
        raise FormulaError(must("rise", "of one stage", after.stage, "compare alike"))
    work = [one.band.work.ln.item() for one in (before, after)]
    paths = [one.band.path for one in (before, after)]
    (aa, ab), (ba, bb) = [[float(path.ln_minutes(w)) for path in paths] for w in work]  # [work][path]
    run = work[1] - work[0]
    stretch = ((ba - aa) + (bb - ab)) / 2 / run if abs(run) > 1e-12 else 1.0
    parts = {"dough and room temperature": ((ab - aa) + (bb - ba)) / 2}
    for cause, value in _of_work(before, after):
        parts[cause] = parts.get(cause, 0.0) + stretch * value
    if not all(map(math.isfinite, parts.values())):
        do = "change temperature, strain and dough one after the other"
        raise FormulaError(
            must("rise", "of doughs that rise at either temperature with either strain", "one that does not", do)
        )
    mean = _logarithmic_mean(before.minutes, after.minutes)
    moved = [(cause, mean * value) for cause, value in parts.items() if value]
    return RiseCauses(before.minutes, after.minutes, tuple(sorted(moved, key=lambda entry: -abs(entry[1]))))


def _logarithmic_mean(a, b):
    return (a + b) / 2 if abs(a - b) <= 1e-9 * (a + b) else (b - a) / math.log(b / a)


def _through(function, change):
    """Return the Change of a function of one: its chord shared out as its argument's, its tangent where ends meet."""
    first, second, run = function(change.before), function(change.after), change.change
    slope = (second - first) / run if abs(run) > 1e-12 else (function(change.before + 1e-6) - first) / 1e-6
    return Change(first, second, slope * change.by)


def _of_work(before, after):
    """Yield (cause, its share of the difference of ln(work)), which add up exactly."""
    value, settings = values(), [one.setting for one in (before, after)]
    yield "how far it must rise", value["rise exponent"] * math.log((after.until - 1) / (before.until - 1))
    yield "calibration", math.log(settings[1].factor.value / settings[0].factor.value)
    yield "yeast", -value["yeast exponent"] * math.log(after.yeast / before.yeast)
    names, activity = _of_activity(before, after, value[FREE])
    rates = [  # of either strain
        _through(lambda ln, least=value[setting.least]: float(ln_rate(math.exp(ln), least)), activity)
        for setting in settings
    ]
    first, second = ((rate.before + rate.after) / 2 for rate in rates)
    yield "strain of yeast", first - second
    yield from zip(names, (-(rates[0].by + rates[1].by) / 2).tolist(), strict=True)


def _of_activity(before, after, free):
    """Return (causes, the Change of ln(activity)), what each ingredient dissolves and what water it brings.

    ln(activity) is a sum over solutes of functions of molality = counted share x moles / water, each a Change; moles,
    sugars and water are sums over ingredients.
    """
    grams = {}
    for sign, one in ((-1, before), (1, after)):
        per_gram = weights(one.formula.ingredients)
        for key, amount in zip(one.lines.keys, one.lines.grams, strict=True):
            brought = sign * float(amount) * per_gram[one.formula.ingredients.row(key)]
            grams[key] = grams.get(key, 0.0) + brought
    rows = [after.formula.ingredients[key] for key in grams]
    # both doughs, then what each ingredient moves; moles are those in 1 kg of water
    whole = np.array([*(solutes_of(one.formula, one.lines) for one in (before, after)), *grams.values()])
    moles = molalities(np.where(np.arange(whole.shape[1]) == WATER, 1000.0, whole))

    def change(values, what):
        parts = np.zeros((len(_BRINGS), len(rows)))
        parts[_BRINGS.index(what)] = values[2:]
        return Change(float(values[0]), float(values[1]), parts.ravel())

    water = change(whole[:, WATER] / 1000, "water")
    sugar = change(whole[:, SUCROSE] + whole[:, HEXOSE], "sugar")
    counted = _through(lambda s: max(s - free, 0.0) / s if s > 0 else 0.0, sugar)
    activity = Change(0.0, 0.0, np.zeros(len(_BRINGS) * len(rows)))
    for solute, what in (("glucose", "sugar"), ("lactose", "sugar"), ("salt", "salt")):
        of = change(moles[solute], what)
        if solute == "glucose":  # of which yeast takes some
            of = counted * of
        activity += _through(lambda m, solute=solute: float(ln_activity({solute: m})), of / water)
    names = [
        row.name if row.kind == what else f"{row.name}'s {'sugars' if what == 'sugar' else what}"
        for what in _BRINGS
        for row in rows
    ]
    return names, activity
