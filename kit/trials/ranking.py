"""Tasters who rank bakes or score them: do the rank sums differ, which from which, and by how much is one liked better.

Whether rank sums differ is counted out over all rankings that are equally likely when nothing differs, wherever they
are few enough to be counted.
"""

import functools
import itertools
import math
from dataclasses import dataclass, field

import numpy as np

from ..errors import AmountError, must
from ..words import capital, listing, one_of, plural, signed
from .fields import find, is_number
from .statistics import paired
from .tasting import ONE_BAKE, Result, not_the_market, p_words, percent, sample_names

EXACT = 2.5e8  # additions up to which all rankings are counted out


def rank_sums_apart(tasters, samples, risk=5.0, pairs="all"):
    """Return how far two rank sums must lie apart [-] to differ at a risk [%].

    pairs 'all': any two of them, q(risk, samples, infinite) sqrt(j p (p + 1) / 12), Newell & MacFarlane 1987, J. Food
    Sci. 52:1721 (whose table takes exact values for few tasters: 1 or 2 more or less). 'one': a pair chosen
    beforehand, the least significant difference z sqrt(j p (p + 1) / 6) of ISO 8587. Raises AmountError, UnknownName.

    >>> round(rank_sums_apart(8, 5, pairs="one"), 2), round(rank_sums_apart(20, 3), 1)
    (12.4, 14.8)
    """
    risk, spread = percent("risk", risk) / 100, tasters * samples * (samples + 1)
    if one_of("pairs", pairs, ("all", "one")) == "one":
        from scipy.special import ndtri

        return float(ndtri(1 - risk / 2)) * math.sqrt(spread / 6)
    from scipy.stats import studentized_range

    return float(studentized_range.ppf(1 - risk, samples, np.inf)) * math.sqrt(spread / 12)


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


def expected_order(ranks):
    """Return (L, p, exact) of ranks (tasters, samples) whose columns stand in the order expected, lowest rank first.

    L = R1 + 2 R2 + 3 R3 ..., Page 1963, J. Am. Stat. Assoc. 58:216; p one-sided, exact up to 7 samples, else of the
    normal distribution. Raises AmountError.

    >>> L, p, exact = expected_order([[1, 2, 3]] * 4)
    >>> L, round(p, 5), exact
    (56.0, 0.00077, True)
    """
    from scipy.special import ndtr

    ranks = as_ranks(ranks)
    n, k = ranks.shape
    found = float((ranks.sum(0) * np.arange(1, k + 1)).sum())
    if k > 7:
        spread = k * (k + 1) * math.sqrt(n * (k - 1)) / 12
        return found, float(ndtr((n * k * (k + 1) ** 2 / 4 - found) / spread)), False
    values, chances = weighted_sums(_rows(ranks))
    return found, float(chances[np.searchsorted(values, round(2 * found))]), True


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
    return _or_more((sums**2).sum(0) + last**2, chances[chances > 0])


@functools.lru_cache(maxsize=32)
def weighted_sums(rows):
    """Return (values, chance of each or more [-]) of doubled L over all rankings; rows as in `square_sums`.

    >>> values, chances = weighted_sums(((2, 4),) * 2)
    >>> [int(value) for value in values], [float(chance) for chance in chances]
    ([16, 18, 20], [1.0, 0.75, 0.25])
    """
    chances, low = np.ones(1), 0
    for row in rows:
        ways = np.array(sorted(set(itertools.permutations(row)))) @ np.arange(1, len(row) + 1)
        chances = np.convolve(chances, np.bincount(ways - ways.min()) / len(ways))
        low += int(ways.min())
    return _or_more(low + np.flatnonzero(chances > 0), chances[chances > 0])


def _or_more(values, chances):
    values, place = np.unique(values, return_inverse=True)
    return values, np.bincount(place, chances)[::-1].cumsum()[::-1]


def _rows(ranks):
    return tuple(sorted(tuple(sorted(map(int, row))) for row in 2 * ranks))


@dataclass(frozen=True)
class Ranking(Result):
    """How tasters rank two or more bakes; rank 1 is `first`."""

    names: tuple
    tasters: int
    sums: tuple
    statistic: float  # Friedman's F
    p: float
    exact: bool
    apart: float  # so far apart any two rank sums differ
    least: float  # so far apart a pair chosen beforehand differs: least significant difference
    first: str
    risk: float
    order: tuple = ()  # as expected beforehand, lowest rank first
    order_sum: float | None = None  # Page's L
    order_p: float | None = None
    ranks: np.ndarray = field(default=None, repr=False, compare=False)
    method = "Friedman 1937 as in ISO 8587; any two by Newell & MacFarlane 1987; expected order by Page 1963"

    @property
    def found(self):
        """Whether the rank sums differ, at the risk."""
        return self.p <= self.risk / 100

    @property
    def pairs(self):
        """Rows (name, name, how far apart, whether they differ), the lower rank sum first."""
        placed = sorted(zip(self.sums, self.names, strict=True))
        return tuple((a, b, high - low, self.found and high - low >= self.apart)
                     for (low, a), (high, b) in itertools.combinations(placed, 2))  # fmt: skip

    @property
    def sentence(self):
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
        if self.order:
            shown = "shown" if self.order_p <= self.risk / 100 else "not shown"
            said += f" The order expected, {', '.join(self.order)}: {shown} ({p_words(self.order_p)})."
        return said

    @property
    def notes(self):
        """What else is to be known."""
        how = "Counted out over all rankings" if self.exact else "By chi-squared, for the rankings are too many"
        return (f"{how}. Any two rank sums differ when {self.apart:.1f} apart, two chosen beforehand when "
                f"{self.least:.1f} apart.", not_the_market(self.tasters), ONE_BAKE)  # fmt: skip

    def _rows(self):
        rows = [(f"rank sum, {name}", total, None, None, "") for name, total in zip(self.names, self.sums, strict=True)]
        rows += [("Friedman's F", self.statistic, None, None, ""), ("by chance alone, p", self.p, None, None, "")]
        rows += [(f"{a} before {b}", apart, None, None, "differ" if clear else "") for a, b, apart, clear in self.pairs]
        if self.order:
            rows += [("Page's L", self.order_sum, None, None, ""), ("of that order, p", self.order_p, None, None, "")]
        return rows


def ranking(ranks, names, first="the best liked", order=(), risk=5.0):
    """Return the Ranking of ranks (tasters, samples), rank 1 for what is `first`, ties sharing their mean.

    names of the samples; order: all names in the order expected beforehand, lowest rank first; risk [%]. Raises
    AmountError, UnknownName.

    >>> print(ranking([[1, 2, 3]] * 8 + [[2, 1, 3]] * 4, ["sesame", "plain", "cocoa"]).sentence)
    Rank sums of 12 tasters, 1 for the best liked: sesame 16, plain 20 and cocoa 36. They differ (p < 0.001): sesame
    before cocoa and plain before cocoa. Other pairs are not told apart.
    """
    ranks = as_ranks(ranks)
    n, k = ranks.shape
    names, apart = sample_names(names, k), rank_sums_apart(n, k, risk)
    order, page = tuple(one_of("order", each, names) for each in order), ()
    if order and sorted(order) != sorted(names):
        raise AmountError(must("order", "every sample once", listing(order), "name them all, lowest rank first"))
    if order:
        page = expected_order(ranks[:, [names.index(each) for each in order]])[:2]
    return Ranking(names, n, tuple(map(float, ranks.sum(0))), *friedman(ranks), apart,
                   rank_sums_apart(n, k, risk, "one"), first, risk, order, *(page or (None, None)), ranks)  # fmt: skip


def as_ranks(ranks):
    """Return ranks as an array (tasters, samples), ties sharing their mean. Raises AmountError."""
    from scipy.stats import rankdata

    rows = _rectangle("ranks", ranks)
    for n, row in enumerate(rows, 1):
        if not all(map(is_number, row)) or list(rankdata(row)) != row:
            be, do = f"1 to {len(row)}, ties sharing their mean", "two that share places 1 and 2 are 1.5 both"
            raise AmountError(must(f"ranks of taster {n}", be, listing(map(str, row)), do))
    return np.array(rows, float)


def _rectangle(name, rows):
    rows = np.asarray(rows, object).tolist() if np.ndim(np.asarray(rows, object)) == 2 else []
    if len(rows) < 2 or len(rows[0]) < 2:
        be = "a row a taster and a column a sample, 2 or more of each"
        got = f"{len(rows)} of {len(rows[0])}" if rows else "rows that differ in length, or none"
        raise AmountError(must(name, be, got, "leave out a taster who did not taste all"))
    return rows


@dataclass(frozen=True)
class Liking(Result):
    """How far the scores of two or more bakes differ, taster by taster."""

    names: tuple
    scale: str  # what was scored, and from where to where
    means: tuple
    differences: tuple  # (name, other name, Difference of the other - the one)
    tasters: int
    method = "differences within each taster by Student's t, 1908; below four tasters their range"

    @property
    def sentence(self):
        """The answer in words."""
        said = []
        for first, other, d in self.differences:
            span, more = f"{signed(d.low)} to {signed(d.high)}", f"{other} against {first} {signed(d.value)}"
            if d.p is None:
                said.append(f"{more}, from {span}; too few tasters for a probability")
            elif d.low > 0 or d.high < 0:
                said.append(f"{more} (95 %: {span}, {p_words(d.p)})")
            else:
                said.append(f"{more}, no difference shown (95 %: {span})")
        return f"{capital(self.scale)}, {plural(self.tasters, 'taster')}: {'; '.join(said)}."

    @property
    def notes(self):
        """What else is to be known."""
        many = len(self.differences)
        said = [f"{many} pairs, each interval by itself: of 20 pairs that are alike one would look different."]
        return (*said[: many > 1], not_the_market(self.tasters), ONE_BAKE)

    def _rows(self):
        rows = [(f"mean, {name}", mean, None, None, "") for name, mean in zip(self.names, self.means, strict=True)]
        return rows + [(f"{other} − {first}", d.value, d.low, d.high, "") for first, other, d in self.differences]


def liking(scores, names, what="liking"):
    """Return the Liking of scores (tasters, samples) [on the scale of a sensory field of trial_fields.csv].

    names of the samples; what: liking, from 1 to 9, or another of those fields. Raises AmountError, TrialError,
    UnknownName.

    >>> print(liking([[6, 7], [5, 7], [7, 7], [6, 8]], ["plain", "25 % butter"]).sentence)
    Liking, 1 to 9, 4 tasters: 25 % butter against plain +1.2, no difference shown (95 %: −0.3 to +2.8).
    """
    scale = find(what)
    if scale.group != "sensory":
        raise AmountError(must("what", "something that tasters score", scale.words, "liking, spice or the like"))
    made = np.array([[scale._one(each) for each in row] for row in _rectangle("scores", scores)])
    names = sample_names(names, made.shape[1])
    least = scale.resolution / math.sqrt(12)
    differences = tuple((names[a], names[b], paired(made[:, a], made[:, b], least))
                        for a, b in itertools.combinations(range(len(names)), 2))  # fmt: skip
    return Liking(names, f"{scale.words}, {scale.unit}", tuple(made.mean(0).tolist()), differences, len(made))
