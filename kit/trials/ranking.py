"""Tasters who rank bakes: do the rank sums differ, and which from which.

Whether rank sums differ is counted out over all rankings that are equally likely when nothing differs, wherever they
are few enough to be counted.
"""

import functools
import itertools
import math
from dataclasses import dataclass

import numpy as np

from ..errors import AmountError, must, percent
from ..words import listing, plural
from .reading import is_number
from .tasting import ONE_BAKE, Judged, not_the_market, p_words, sample_names

EXACT = 2.5e8  # additions up to which all rankings are counted out


def rank_sums_apart(tasters, samples, risk=5.0):
    """Return how far apart any two rank sums must lie [-] to differ at a risk [%] for all pairs together.

    q(risk, samples, infinite) sqrt(j p (p + 1) / 12) with q of the studentized range. Raises AmountError.

    >>> round(rank_sums_apart(20, 3), 1)
    14.8
    """
    from scipy.stats import studentized_range

    spread = math.sqrt(tasters * samples * (samples + 1) / 12)
    return float(studentized_range.ppf(1 - percent("risk", risk) / 100, samples, np.inf)) * spread


def friedman(ranks):
    """Return (F, p, exact) of ranks (tasters, samples): do the rank sums differ by more than chance?

    Friedman 1937, corrected for ties as in ISO 8587; p exact, ties kept as they are, or of chi-squared with samples - 1
    degrees of freedom where the rankings are too many. Raises AmountError.

    >>> F, p, exact = friedman([[1, 2, 3], [1, 3, 2], [1, 2, 3], [1, 2, 3]])
    >>> round(F, 2), round(p, 4), exact
    (6.5, 0.0417, True)
    """
    from scipy.special import chdtrc

    ranks = as_ranks(ranks)
    n, k = ranks.shape
    tied = sum(float((times**3 - times).sum()) for times in (np.unique(row, return_counts=True)[1] for row in ranks))
    alike = 1 - tied / (n * k * (k * k - 1))
    sums = ranks.sum(0)
    statistic = (12 * (sums**2).sum() / (n * k * (k + 1)) - 3 * n * (k + 1)) / alike if alike > 1e-12 else 0.0
    steps = k - 1 if np.all(ranks % 1 == 0) else 2 * k - 2
    if math.factorial(k) * steps ** (k - 1) * n**k / k > EXACT:
        return float(statistic), float(chdtrc(k - 1, statistic)), False
    squares, chances = square_sums(_rows(ranks))
    return float(statistic), float(chances[np.searchsorted(squares, round(4 * (sums**2).sum()))]), True


@functools.lru_cache(maxsize=32)
def square_sums(rows):
    """Return (values, chance of each or more [-]) of the summed squares of doubled rank sums, over all rankings.

    rows: each taster's doubled ranks, sorted: whole numbers, ties as they are.

    >>> values, chances = square_sums(((2, 4),) * 2)
    >>> [int(value) for value in values], [float(chance) for chance in chances]
    ([72, 80], [1.0, 0.5])
    """
    k, total = len(rows[0]), sum(row[0] for row in rows)
    step = math.gcd(*(each - row[0] for row in rows for each in row)) or 1
    chances = np.ones((1,) * (k - 1))  # of the rank sums of all samples but the last, which follows from them
    for row in rows:
        ways = {way[:-1] for way in itertools.permutations([(each - row[0]) // step for each in row])}
        grown = np.zeros([size + (row[-1] - row[0]) // step for size in chances.shape])
        for way in ways:
            grown[tuple(slice(a, a + size) for a, size in zip(way, chances.shape, strict=True))] += chances / len(ways)
        chances = grown
    sums = np.indices(chances.shape).reshape(k - 1, -1)[:, chances.ravel() > 0] * step + total
    last = sum(map(sum, rows)) - sums.sum(0)
    values, place = np.unique((sums**2).sum(0) + last**2, return_inverse=True)
    return values, np.bincount(place, chances[chances > 0])[::-1].cumsum()[::-1]


def _rows(ranks):
    return tuple(sorted(tuple(sorted(map(int, row))) for row in 2 * ranks))


@dataclass(frozen=True)
class Ranking(Judged):
    """How tasters rank two or more bakes; rank 1 is `first`."""

    names: tuple
    tasters: int
    sums: tuple
    statistic: float  # Friedman's F
    p: float
    exact: bool
    apart: float  # so far apart any two rank sums differ
    first: str
    risk: float
    method = "Friedman 1937 as in ISO 8587; any two by the studentized range of their rank sums"

    @property
    def found(self):
        """Whether the rank sums differ, at the risk."""
        return self.p <= self.risk / 100

    @property
    def pairs(self):
        """Rows (name, name, how far apart, whether they differ), the lower rank sum first."""
        placed = sorted(zip(self.sums, self.names, strict=True))
        return tuple(
            (a, b, high - low, self.found and high - low >= self.apart)
            for (low, a), (high, b) in itertools.combinations(placed, 2)
        )

    @property
    def words(self):
        """The answer in words."""
        sums = listing(f"{name} {total:g}" for total, name in sorted(zip(self.sums, self.names, strict=True)))
        said = f"Rank sums of {plural(self.tasters, 'taster')}, 1 for {self.first}: {sums}. "
        differ = [f"{a} before {b}" for a, b, _, clear in self.pairs if clear]
        if not self.found:
            said += f"No order shown, which is not the same as alike ({p_words(self.p)})."
        elif differ:
            rest = " Other pairs are not told apart." if len(differ) < len(self.pairs) else ""
            said += f"They differ ({p_words(self.p)}): {listing(differ)}.{rest}"
        else:
            said += f"They differ ({p_words(self.p)}), but it cannot be said which from which."
        return said

    @property
    def notes(self):
        """What else is to be known."""
        how = "Counted out over all rankings" if self.exact else "By chi-squared, for the rankings are too many"
        return (f"{how}. Any two rank sums differ when {self.apart:.1f} apart.", not_the_market(self.tasters), ONE_BAKE)

    def frame_rows(self):
        """Return the rows of the frame: rank sums, whether they differ, each pair."""
        rows = [(f"rank sum, {name}", total, None, None, "") for name, total in zip(self.names, self.sums, strict=True)]
        rows += [("Friedman's F", self.statistic, None, None, ""), ("by chance alone, p", self.p, None, None, "")]
        return rows + [
            (f"{a} before {b}", apart, None, None, "differ" if clear else "") for a, b, apart, clear in self.pairs
        ]


def ranking(ranks, names, first="the best liked", risk=5.0):
    """Return the Ranking of ranks (tasters, samples), rank 1 for what is `first`, ties sharing their mean.

    names of the samples; risk [%]. Raises AmountError.

    >>> print(ranking([[1, 2, 3]] * 8 + [[2, 1, 3]] * 4, ["sesame", "plain", "cocoa"]).words)
    Rank sums of 12 tasters, 1 for the best liked: sesame 16, plain 20 and cocoa 36. They differ (p < 0.001): sesame
    before cocoa and plain before cocoa. Other pairs are not told apart.
    """
    ranks = as_ranks(ranks)
    tasters, samples = ranks.shape
    names, sums = sample_names(names, samples), tuple(map(float, ranks.sum(0)))
    return Ranking(names, tasters, sums, *friedman(ranks), rank_sums_apart(tasters, samples, risk), first, risk)


def as_ranks(ranks):
    """Return ranks as an array (tasters, samples), ties sharing their mean. Raises AmountError."""
    from scipy.stats import rankdata

    rows = np.asarray(ranks, object)
    if rows.ndim != 2 or min(rows.shape) < 2:
        be = "a row a taster and a column a sample, 2 or more of each"
        got = f"{len(rows)} of {rows.shape[1]}" if rows.ndim == 2 else "rows that differ in length, or none"
        raise AmountError(must("ranks", be, got, "leave out a taster who did not taste all"))
    rows = rows.tolist()
    for n, row in enumerate(rows, 1):
        if not all(map(is_number, row)) or list(rankdata(row)) != row:
            be, do = f"1 to {len(row)}, ties sharing their mean", "two that share places 1 and 2 are 1.5 both"
            raise AmountError(must(f"ranks of taster {n}", be, listing(map(str, row)), do))
    return np.array(rows, float)
