"""Statistics that are honest at three to eight bakes: the unit is the bake, and days are paired where they can be."""

import math
from dataclasses import dataclass

import numpy as np

FEWEST = 4  # bakes or pairs: below, dots and a range, and no probability


@dataclass(frozen=True)
class Difference:
    """A difference of means with what it rests on; low and high are its 95 % interval, or the range below four."""

    value: float
    low: float
    high: float
    n: int  # pairs, or bakes of the smaller group
    kind: str  # "paired", "unpaired", "range", "one bake each"
    p: float | None = None  # two-sided; never below four
    read: bool = False  # whether the scatter is what the instrument resolves, the bakes differing by less

    @property
    def half(self):
        """Half the width of the interval."""
        return (self.high - self.low) / 2


def paired(first, other, least=0.0):
    """Return the Difference other - first of bakes paired by day [their unit].

    first, other: one value a day, in the same order; least: standard deviation that the instrument's step makes of one
    value, below which no scatter is taken. From four pairs the 95 % interval and p of Student's t (1908);
    below, the range of the differences and no p.

    >>> d = paired([40.1, 41.9, 40.3, 42.3], [41.8, 43.1, 42.2, 43.5])
    >>> round(d.value, 2), round(d.low, 2), round(d.high, 2)
    (1.5, 0.93, 2.07)
    """
    first, other = np.asarray(list(first), float), np.asarray(list(other), float)
    differences = other - first
    n, mean = len(differences), float(differences.mean())
    if n < FEWEST:
        kind = "range" if n > 1 else "one bake each"
        return Difference(mean, float(differences.min()), float(differences.max()), n, kind)
    scatter, least = float(differences.std(ddof=1)), math.sqrt(2) * least
    return _student(mean, max(scatter, least) / math.sqrt(n), n - 1, n, "paired", scatter < least)


def unpaired(first, other, least=0.0):
    """Return the Difference other - first of bakes that share no days, with the days' own scatter in it.

    Student's t with pooled scatter from four bakes on each side; below, the range of all differences and no p. least
    as in `paired`.

    >>> round(unpaired([40.1, 41.9, 40.3, 42.3], [41.8, 43.1, 42.2, 43.5]).half, 2)
    1.67
    """
    first, other = np.asarray(list(first), float), np.asarray(list(other), float)
    n, mean = min(len(first), len(other)), float(other.mean() - first.mean())
    if n < FEWEST:
        low, high = float(other.min() - first.max()), float(other.max() - first.min())
        return Difference(mean, low, high, n, "one bake each" if len(first) == len(other) == 1 else "range")
    scatter, df = pooled([first, other])
    error = max(scatter, least) * math.sqrt(1 / len(first) + 1 / len(other))
    return _student(mean, error, df, n, "unpaired", scatter < least)


def pooled(groups):
    """Return (standard deviation within groups [their unit], degrees of freedom) of groups of values.

    Within groups of a one-way analysis of variance, about means of values shifted by their first, so that constant
    leading digits cost no accuracy (NIST StRD).

    >>> pooled([[1, 2, 3], [2, 3, 4]])
    (1.0, 4)
    """
    groups = [np.asarray(group, float) for group in groups]
    groups = [group - groups[0][0] for group in groups]
    within = sum(float(((group - group.mean()) ** 2).sum()) for group in groups)
    df = sum(len(group) - 1 for group in groups)
    return math.sqrt(within / df) if df else math.nan, df


def repeat_limit(scatter, df, first=1, other=1):
    """Return how far two means of so many bakes differ in 19 of 20 cases when nothing was changed [unit of scatter].

    t(0.975, df) s sqrt(1/n1 + 1/n2): the repeatability limit of ISO 5725-6, 2.8 s for two single bakes, with t for
    the few repeats that a kitchen has.

    >>> round(repeat_limit(1.0, 10**6), 1)
    2.8
    """
    return t_at(0.975, df) * scatter * math.sqrt(1 / first + 1 / other)


def smallest_effect(df, root):
    """Return the smallest effect seen with 80 % power (two-sided 5 %), in SD, of an estimate whose error is SD / root.

    >>> round(smallest_effect(3, math.sqrt(4)), 2)  # four pairs, in SD of their differences
    2.13
    """
    from scipy.optimize import brentq
    from scipy.stats import nct

    limit = t_at(0.975, df)  # the other tail adds less than 1e-6 at 80 % power
    return brentq(lambda shift: nct.cdf(limit, df, shift) - 0.2, 0.1, 4 * limit + 5) / root


def _student(mean, error, df, n, kind, read):
    from scipy.special import stdtr

    half = t_at(0.975, df) * error
    p = 2 * float(stdtr(df, -abs(mean) / error)) if error else (0.0 if mean else 1.0)
    return Difference(mean, mean - half, mean + half, n, kind, p, read)


def t_at(share, df):
    """Return the value below which Student's t stays with that probability.

    >>> round(t_at(0.975, 10), 3)
    2.228
    """
    from scipy.special import stdtrit

    return float(stdtrit(df, share))
