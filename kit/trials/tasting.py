"""What tasters' answers say: whether they can tell two bakes apart, which they like better, how they rank several.

The unit is the taster, and what is judged is the bake that was on the table. The numbers needed come from the exact
binomial, and whether rank sums differ is counted out over all rankings that are equally likely when nothing differs,
wherever they are few enough; never from a table. That a difference was not found never says that there is none.
"""

import functools
import itertools
import math
from dataclasses import dataclass

import numpy as np

from ..errors import AmountError, must, percent, whole
from ..page import Result
from ..tables import ground, table, told
from ..units import is_number
from ..words import figure, listing, one_of, plural

CHANCE = {"triangle": 1 / 3, "preference": 1 / 2}  # share right by guessing alone
MOST = 5000  # tasters looked through for a power
EXACT = 2.5e8  # additions up to which all rankings are counted out
ONE_BAKE = "Tasters repeated on one bake say nothing of the next bake: bake it again, and compare the bakes."


@functools.cache
def rules():
    """Return {key: number} of tasting_rules.csv: what the standards and the trade advise."""
    return {row.key: row.value for row in table("tasting_rules").rows}


def guessed(test, right, tasters):
    """Return how likely so many right answers, or more, are by guessing alone: the exact p [-].

    A preference has two sides: so many, or more, for either. right and tasters [count], one or arrays.

    >>> round(float(guessed("triangle", 15, 24)), 4), round(float(guessed("preference", 18, 24)), 4)
    (0.0032, 0.0227)
    """
    from scipy.stats import binom

    chance, right, tasters = CHANCE[one_of("test", test, CHANCE)], np.asarray(right), np.asarray(tasters)
    if test != "preference":
        return binom.sf(right - 1, tasters, chance)
    return np.minimum(1.0, 2 * binom.sf(np.maximum(right, tasters - right) - 1, tasters, chance))


def right_needed(test, tasters, risk=5.0):
    """Return the smallest number of right answers [count] that guessing reaches with at most `risk` [%].

    Exact binomial. One more than there are tasters means that even all right would not show it. tasters: one or an
    array. Raises AmountError, UnknownName.

    >>> int(right_needed("triangle", 24)), int(right_needed("preference", 24)), int(right_needed("triangle", 2))
    (13, 18, 3)
    """
    from scipy.stats import binom

    test, risk = one_of("test", test, CHANCE), percent("risk", risk) / 100
    risk = (risk / 2 if test == "preference" else risk) * (1 + 1e-9)  # a chance that equals the risk is within it
    return binom.isf(risk, tasters, CHANCE[test]).astype(int) + 1


def tasting_power(test, share, tasters, risk=5.0):
    """Return the chance [%] to find what `share` [% of such tasters] truly notice, or truly prefer.

    Right are those who notice, and of the others as many as guess so: pc = p0 + (1 - p0) pd (ISO 4120; of a preference
    ISO 5495). share and tasters: one or arrays. It climbs in saw teeth, as the number needed steps. Raises AmountError.

    >>> round(float(tasting_power("triangle", 30, 24)))
    55
    """
    from scipy.stats import binom

    needed, chance = right_needed(test, tasters, risk), CHANCE[one_of("test", test, CHANCE)]
    right = chance + (1 - chance) * np.asarray(share) / 100
    other = binom.sf(needed - 1, tasters, 1 - right) if test == "preference" else 0.0
    return 100 * (binom.sf(needed - 1, tasters, right) + other)


def tasters_needed(test, share, power=80.0, risk=5.0):
    """Return the smallest number of tasters [count] who find with `power` [%] what `share` [%] truly notice.

    The first number that reaches it, as the tables of ISO 4120 have it. Raises AmountError beyond 5,000.

    >>> tasters_needed("triangle", 50, power=90)
    20
    """
    share, power = percent("share", share), percent("power", power)
    for first in range(1, MOST, 200):
        many = np.arange(first, first + 200)
        enough = tasting_power(test, share, many, risk) >= power
        if enough.any():
            return int(many[enough.argmax()])
    do = "so few who notice are beyond a tasting; look for a larger share"
    raise AmountError(must("share", f"one that {MOST:,} tasters can find", f"{share:g} %", do))


class Judged(Result):
    """What the results of tastings share: figures with their limits, and the rules that they rest on."""

    columns = ("what", "value", "low", "high", "unit")

    @property
    def grounds(self):
        """What the figures rest on."""
        return {"method": self.method} | {row.what: ground(row) for row in table("tasting_rules").rows}


@dataclass(frozen=True)
class Tasting(Judged):
    """How many tasters were right, or chose the first; shares in % of such tasters, intervals at 95 %."""

    test: str
    right: int
    tasters: int
    names: tuple
    neither: int  # without a preference, and in none of the counts
    needed: int  # one more than tasters where even all would show nothing
    p: float
    share: tuple  # value, low, high: who truly notice; of a preference, who prefer the leading one
    unseen: float  # upper limit, one-sided, of who truly notice
    risk: float
    method = "exact binomial; intervals from the exact limits of Clopper & Pearson 1934"

    @property
    def found(self):
        """Whether guessing explains it no longer, at the risk."""
        return self.most >= self.needed

    @property
    def most(self):
        """How many were right; of a preference, how many preferred the leading one."""
        return max(self.right, self.tasters - self.right) if self.test == "preference" else self.right

    @property
    def preferred(self):
        """The one that leads in a preference."""
        return self.names[self.right < self.tasters - self.right]

    @property
    def words(self):
        """The answer in words, with how likely guesses alone give it."""
        return self.told(f" ({p_words(self.p)})")

    def told(self, chance=""):
        """Return the answer in words; chance: what stands behind it."""
        ends = zip(("low", "high", "unseen"), (*self.share[1:], self.unseen), strict=True)
        figures = {"names": listing(self.names), "preferred": self.preferred} | {
            name: figure(end, 0) for name, end in ends
        }
        answer = "found" if self.found else "not found"
        did, said, more = told("paper_words", figures, paper=self.test, what=answer)
        need = f"{self.needed} needed" if self.needed <= self.tasters else "even all would show nothing"
        head = f"{self.most} of {self.tasters} {did}, {need} at a risk of {self.risk:g} %"
        return f"{head}: {said}{chance}. {more} (95 %)."

    @property
    def notes(self):
        """What else is to be known."""
        said, least = [], rules()["fewest_for_alike"]
        if self.neither:
            said += [f"{plural(self.neither, 'taster')} without a preference left out: it is of those who prefer one."]
        if self.test == "preference":
            said += [not_the_market(self.tasters + self.neither)]
        elif not self.found and self.tasters < least:
            said += [f"Below {least:g} tasters likeness cannot be claimed."]
        return (*said, ONE_BAKE)

    def frame_rows(self):
        """Return the rows of the frame: counts, what guessing would do, shares with their limits."""
        of, such, counts = f"of {self.tasters}", "% of such tasters", {"right": self.right}
        last = [("truly notice", *self.share, such), ("could go unseen", self.unseen, None, None, such)]
        if self.test == "preference":
            counts = {
                f"prefer {a}": n for a, n in zip(self.names, (self.right, self.tasters - self.right), strict=True)
            }
            last = [("no preference", self.neither, None, None, "left out")]
            last += [(f"would prefer {self.preferred}", *self.share, such)]
        rows = [(what, n, None, None, of) for what, n in (counts | {"needed": self.needed}).items()]
        return [*rows, ("by guessing alone, p", self.p, None, None, ""), *last]


def tasting(test, right, tasters, names=("the one", "the other"), neither=0, risk=5.0):
    """Return the Tasting of a 'triangle' or 'preference' test.

    right [count] of tasters [count]: who chose the right one, or the first of names; neither: who had no preference,
    counted in neither. risk [%] of taking guesses for a difference. The intervals of 95 % are the exact limits of
    Clopper & Pearson 1934 of the share right pc, carried over to who truly notice, pd = (pc - p0) / (1 - p0), and cut
    at 0, where the standards print normal ones. Raises AmountError, UnknownName.

    >>> print(tasting("triangle", 15, 24, ("plain", "25 % butter")).words)
    15 of 24 right, 13 needed at a risk of 5 %: they can tell plain and 25 % butter apart (p = 0.003). Between 11 and
    72 % of such tasters truly notice (95 %).
    """
    from scipy.stats import binomtest

    test, tasters = one_of("test", test, CHANCE), whole("tasters", tasters, 2)
    right, neither = whole("right answers", right, 0, tasters), whole("no preference", neither, 0)
    if neither and test != "preference":
        raise AmountError(must("no preference", f"0 in a {test} test", neither, "have them guess: who can't tell must"))
    chance = CHANCE[test]
    most = max(right, tasters - right) if test == "preference" else right
    limits = most / tasters, *binomtest(most, tasters).proportion_ci()
    unseen = binomtest(most, tasters, alternative="less").proportion_ci().high
    *noticing, unseen = (max(100 * (pc - chance) / (1 - chance), 0.0) for pc in (*limits, unseen))
    share = tuple(100 * pc for pc in limits) if test == "preference" else tuple(noticing)
    needed, p = int(right_needed(test, tasters, risk)), float(guessed(test, right, tasters))
    return Tasting(test, right, tasters, sample_names(names, 2), neither, needed, p, share, unseen, risk)


# rankings


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
    from scipy.stats import tiecorrect

    ranks = as_ranks(ranks)
    n, k = ranks.shape
    alike = float(np.mean([tiecorrect(row) for row in ranks]))
    sums = ranks.sum(0)
    statistic = (12 * (sums**2).sum() / (n * k * (k + 1)) - 3 * n * (k + 1)) / alike if alike > 1e-12 else 0.0
    steps = k - 1 if np.all(ranks % 1 == 0) else 2 * k - 2
    if math.factorial(k) * steps ** (k - 1) * n**k / k > EXACT:
        return float(statistic), float(chdtrc(k - 1, statistic)), False
    rows = tuple(sorted(tuple(sorted(map(int, row))) for row in 2 * ranks))
    squares, chances = square_sums(rows)
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


# what is given, and words


def sample_names(names, many):
    """Return names of so many samples, all different. Raises AmountError."""
    made = tuple(str(name).strip() for name in ([names] if isinstance(names, str) else names))
    if len(made) != many or len({each.casefold() for each in made}) < many or not all(made):
        got = listing(map(repr, made)) or "none"
        raise AmountError(must("names", f"{many} names that differ", got, "name each sample"))
    return made


def not_the_market(tasters):
    """Return in words whom so few tasters do not speak for."""
    said, least = f"{plural(tasters, 'house taster')} speak for the house, not for the market", rules()["fewest_buyers"]
    return f"{said}: that takes {least:g} or more of those who buy." if tasters < least else f"{said}."


def p_words(p):
    """Return a probability in words.

    >>> p_words(0.0004), p_words(0.0123)
    ('p < 0.001', 'p = 0.012')
    """
    return "p < 0.001" if p < 0.001 else f"p = {p:.3f}"
