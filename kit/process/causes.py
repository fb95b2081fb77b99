"""What each change of a dough does to the time it takes to rise, exactly.

ln(minutes) is a sum over temperature, water activity and yeast; each part's difference is a chord, and the water
activity's is parted further, ingredient by ingredient.
"""

import math
from dataclasses import dataclass

import numpy as np

from ..balance.expressions import Change
from ..errors import FormulaError, must
from ..page import Result
from ..words import figure, listing, signed
from .activity import HEXOSE, SUCROSE, ln_activity, molalities, solutes_of, weights
from .gassing import ln_rate, values


@dataclass(frozen=True)
class RiseCauses(Result):
    """What each change does to the time [min]; the minutes add up to the whole difference."""

    before: float  # [min]
    after: float
    minutes: tuple  # (cause, minutes), largest first
    columns, lead = ("cause", "minutes"), ""

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

    def tables(self):
        """Return the table of causes."""
        rows = [[cause, signed(m)] for cause, m in self.frame_rows()]
        return [(["what moves the time", "min"], rows, "", (len(self.minutes),))]


def causes(before, after):
    """Return the RiseCauses of the difference between two Rises of one stage, exact.

    ln(minutes) parts exactly (chords of each factor over the ingredients' sums; temperature and dough in both orders,
    averaged) and minutes = logarithmic mean of both times x part. Raises FormulaError.
    """
    for one in (before, after):
        one._one("to be compared")
        if not math.isfinite(one.minutes):
            do = "compare two that do"
            raise FormulaError(must("rise", "of doughs that rise", str(one), do))
    if (before.stage, before.setting.split) != (after.stage, after.setting.split):
        raise FormulaError(must("rise", "of one stage and one way of counting sucrose", after.stage, "compare alike"))
    work = [float(one.work.ln) for one in (before, after)]
    paths = [one.setting.path() for one in (before, after)]
    (aa, ab), (ba, bb) = [[float(path.ln_minutes(w)) for path in paths] for w in work]  # [work][path]
    if not all(map(math.isfinite, (ab, ba))):
        do = "change the temperature and the dough one after the other"
        raise FormulaError(must("rise", "of doughs that rise at either temperature", "one that does not", do))
    mean = _logarithmic_mean(before.minutes, after.minutes)
    warmth = ((ab - aa) + (bb - ba)) / 2
    stretch = _chord(work, ((ba - aa) + (bb - ab)) / 2, 1.0)
    parts = [("dough and room temperature", warmth)]
    parts += [(cause, stretch * value) for cause, value in _parts_of_work(before, after)]
    joined = {}
    for cause, value in parts:
        joined[cause] = joined.get(cause, 0.0) + mean * value
    kept = {cause: minutes for cause, minutes in joined.items() if minutes}
    ordered = sorted(kept.items(), key=lambda entry: -abs(entry[1]))
    return RiseCauses(before.minutes, after.minutes, tuple(ordered))


def _logarithmic_mean(a, b):
    return (a + b) / 2 if abs(a - b) <= 1e-9 * (a + b) else (b - a) / math.log(b / a)


def _chord(ends, rise_of_it, slope):
    """Return the slope between two ends; the tangent's where they meet."""
    run = ends[1] - ends[0]
    return rise_of_it / run if abs(run) > 1e-12 else slope


def _parts_of_work(before, after):
    """Return [(cause, its share of the difference of ln(work))], which add up exactly."""
    settings = [one.setting for one in (before, after)]
    free = values()["sugar that does not slow"]
    least = [values()[s.least] for s in settings]
    both = [solutes_of(one.formula, one.lines) for one in (before, after)]
    activity = [float(one.work.activity()) for one in (before, after)]
    height = values()["rise exponent"] * math.log((after.until - 1) / (before.until - 1))
    parts = [("how far it must rise", height), ("calibration", math.log(settings[1].factor / settings[0].factor))]
    parts.append(("yeast", -values()["yeast exponent"] * math.log(after.yeast / before.yeast)))
    g = [[float(ln_rate(a, bound)) for bound in least] for a in activity]  # [dough][strain]
    if not np.all(np.isfinite(g)):
        do = "change the strain and the dough one after the other"
        raise FormulaError(must("rise", "of doughs that rise with either strain", "one that does not", do))
    parts.append(("strain of yeast", -((g[0][1] - g[0][0]) + (g[1][1] - g[1][0])) / 2))
    per_activity = -_chord(
        activity, ((g[1][0] - g[0][0]) + (g[1][1] - g[0][1])) / 2, sum(1 / (activity[0] - bound) for bound in least) / 2
    )
    per_activity *= _logarithmic_mean(*activity)  # of ln(activity)
    return parts + [(cause, per_activity * value) for cause, value in _parts_of_activity(before, after, both, free)]


def _parts_of_activity(before, after, both, free):
    """Return [(cause, its share of the difference of ln(activity))], ingredient by ingredient.

    ln(activity) is a sum over solutes of functions of molality = counted share x moles / water, each a Change; moles,
    sugars and water are sums over ingredients.
    """
    split = before.setting.split
    ingredients = after.formula.ingredients
    whole = [molalities(s, split) for s in both]
    counted = [molalities(s, split, free) for s in both]
    sugar = [float(s[SUCROSE] + s[HEXOSE]) for s in both]
    share = [max(s - free, 0.0) / s if s > 0 else 0.0 for s in sugar]
    per_sugar = _chord(sugar, share[1] - share[0], free / sugar[0] ** 2 if sugar[0] > free else 0.0)
    grams = {}
    for sign, one in ((-1, before), (1, after)):
        own = weights(one.formula.ingredients)
        for n, key in enumerate(one.lines.keys):
            brought = sign * float(one.lines.grams[n]) * own[one.formula.ingredients.row(key)]
            grams[key] = grams.get(key, 0.0) + brought
    deltas = np.array(list(grams.values()))
    still = np.zeros(len(deltas))
    # the first half of the causes is what each ingredient dissolves, the second the water it brings
    water = Change(*(float(s[4]) for s in both), np.concatenate([still, deltas[:, 4]]))
    share = Change(*share, np.concatenate([per_sugar * (deltas[:, SUCROSE] + deltas[:, HEXOSE]), still]))
    per_gram = deltas.copy()
    per_gram[:, 4] = 1.0
    parts = []
    for solute in whole[0]:
        m = [float(c[solute]) for c in counted]
        ends = [float(ln_activity({solute: x})) for x in m]
        step = 1e-6
        tangent = float(ln_activity({solute: m[0] + step}) - ln_activity({solute: m[0]})) / step
        slope = _chord(m, ends[1] - ends[0], tangent)
        sides = [float(w[solute]) * float(s[4]) for w, s in zip(whole, both, strict=True)]
        brought = [float(molalities(row, split)[solute]) for row in per_gram]
        moles = Change(*sides, np.concatenate([brought, still]))
        if solute in ("glucose", "sucrose"):  # of which yeast takes some
            moles = share * moles
        by_solute, by_water = (slope * (moles / water).by).reshape(2, -1)
        what = "salt" if solute == "salt" else "sugars"
        for key, dissolved, wet in zip(grams, by_solute.tolist(), by_water.tolist(), strict=True):
            kind, name = ingredients[key]["kind"], ingredients[key]["name"]
            parts.append((name if kind in ("sugar", "salt") else f"{name}'s {what}", dissolved))
            parts.append((name if kind == "water" else f"{name}'s water", wet))
    return [(cause, value) for cause, value in parts if value]
