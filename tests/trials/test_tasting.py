"""Tasters' evidence against the published tables, worked examples, a general-purpose library and a simulation."""

import csv
import itertools
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import kit
from kit.errors import AmountError, KitError, UnknownName
from kit.trials.tasting import (
    CHANCE,
    ONE_BAKE,
    friedman,
    guessed,
    rank_sums_apart,
    ranking,
    right_needed,
    square_sums,
    tasters_needed,
    tasting,
    tasting_power,
)
from tests.laws import drawn

PUBLISHED = Path(__file__).parent.parent / "published"


def table(name):
    with open(PUBLISHED / f"tasting_{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# right and wrong answers: ISO 4120, 5495


def test_every_printed_number_needed():
    """Every cell of the triangle's tables named in the rows; blank where even all right show nothing."""
    rows = table("needed")
    assert len(rows) > 180
    for risk in {row["risk_percent"] for row in rows}:
        mine = [row for row in rows if row["risk_percent"] == risk]
        found = right_needed("triangle", np.array([int(row["tasters"]) for row in mine]), float(risk))
        assert found.tolist() == [int(row["printed"] or int(row["tasters"]) + 1) for row in mine]


def test_preference_is_the_two_sided_binomial_of_a_general_library():
    for n, k in itertools.product((2, 5, 24, 40, 100), range(101)):
        if k <= n:
            assert guessed("preference", k, n) == pytest.approx(stats.binomtest(k, n).pvalue, rel=1e-11)
    # common practice's 9, 15, 18, 21 and 27 of 12, 20, 24, 30 and 40
    assert right_needed("preference", np.array([20, 24, 30, 40])).tolist() == [15, 18, 21, 27]


def test_every_printed_number_of_tasters():
    """ISO 4120:2004 Table A.3 (from memory); one cell keeps the first number after which no smaller one fails."""
    rows = table("power")
    assert len(rows) == 125
    for row in rows:
        found = tasters_needed(
            "triangle", float(row["share_percent"]), float(row["power_percent"]), float(row["risk_percent"])
        )
        assert found == int(row["note"].split()[1].rstrip(";") if row["note"] else row["printed"]), row


def test_power_by_the_whole_distribution():
    for test, share, n in itertools.product(CHANCE, (5, 30, 100), (6, 24, 41)):
        right = CHANCE[test] + (1 - CHANCE[test]) * share / 100
        finds = [k for k in range(n + 1) if guessed(test, k, n) <= 0.05 and (test == "preference" or k > 0)]
        wanted = 100 * sum(stats.binom.pmf(k, n, right) for k in finds)
        assert tasting_power(test, share, n) == pytest.approx(wanted, abs=1e-9)


def test_iso_5495_worked_example():
    """ISO 5495:2005/Amd 1:2016 B.5.2: 32 of 44, two-sided: the share, and its limits by the normal curve."""
    found = tasting("preference", 32, 44)
    assert found.found
    assert found.share[0] == pytest.approx(73, abs=0.5)
    low, high = (2 * each - 100 for each in found.share[1:])
    assert (low, high) == pytest.approx((19, 71), abs=5)  # as printed, by the normal curve
    exact = stats.binomtest(32, 44).proportion_ci(0.95)
    assert found.share[1:] == pytest.approx((100 * exact.low, 100 * exact.high), abs=1e-9)


def test_published_triangle():
    """J. Soc. Cosmetic Chem. 22:214: 11 of 20 is significant at 5 %, where 11 are needed."""
    found = tasting("triangle", 11, 20)
    assert (found.needed, found.found, tasting("triangle", 10, 20).found) == (11, True, False)


def test_not_found_is_never_called_the_same():
    found = tasting("triangle", 9, 24, ("plain", "25 % butter"))
    limit = stats.binomtest(9, 24, alternative="less").proportion_ci(0.95).high
    assert found.unseen == pytest.approx(100 * (1.5 * limit - 0.5), abs=1e-9)
    assert "not shown that they can tell plain and 25 % butter apart" in found.words
    assert f"not the same as alike: up to {found.unseen:.0f} % of such tasters could truly notice" in found.words
    assert any("Below 30 tasters likeness cannot be claimed" in note for note in found.notes)
    assert not any("likeness" in note for note in tasting("triangle", 11, 30).notes)
    assert not any("likeness" in note for note in tasting("triangle", 15, 24).notes)


def test_all_right_none_right_and_too_few():
    every, none, few = (tasting("triangle", *given) for given in ((6, 6), (0, 6), (2, 2)))
    assert (every.share[0], every.share[2]) == (100, 100)
    assert none.share[:2] == (0, 0)
    assert none.p == 1
    assert not few.found
    assert "2 of 2 right, even all would show nothing" in few.words


def test_no_preference_is_left_out_and_told():
    found = tasting("preference", 5, 20, ("plain", "sesame"), neither=3)
    mirror = tasting("preference", 15, 20)
    assert (found.p, found.share) == (mirror.p, mirror.share)
    assert found.words.startswith("15 of 20 prefer sesame, 15 needed")
    assert "sesame is preferred" in found.words
    assert "3 tasters without a preference left out" in found.notes[0]
    assert any("60 or more" in note for note in found.notes)
    assert found.to_frame().loc["no preference", "value"] == 3


@given(st.sampled_from(list(CHANCE)), st.integers(2, 80), st.data())
@drawn(120)
def test_laws_of_a_tasting(test, tasters, data):
    right = data.draw(st.integers(0, tasters))
    one = tasting(test, right, tasters)
    assert one.found == (one.p <= 0.05)
    assert 0 <= one.share[1] <= one.share[0] <= one.share[2] <= 100
    if test == "preference":
        assert one.p == tasting(test, tasters - right, tasters).p
    else:
        assert one.unseen <= one.share[2]
        if right:
            assert tasting(test, right - 1, tasters).p >= one.p


@given(st.sampled_from(list(CHANCE)), st.integers(2, 60), st.floats(0.2, 30))
@drawn(100)
def test_laws_of_the_number_needed(test, tasters, risk):
    needed = int(right_needed(test, tasters, risk))
    sides = 2 if test == "preference" else 1
    chance = [sides * stats.binom.sf(k - 1, tasters, CHANCE[test]) for k in (needed, needed - 1)]
    assert chance[0] <= risk / 100 < chance[1]


# ranks: ISO 8587, Friedman


def limit(sums, tasters, samples, risk):
    """The smallest value whose chance is within the risk, of rankings without ties."""
    values, chances = sums((tuple(range(2, 2 * samples + 1, 2)),) * tasters)
    rare = chances <= risk / 100 * (1 + 1e-9)
    return values[rare.argmax()] if rare.any() else math.inf


@pytest.mark.long
def test_friedmans_printed_limits():
    """Exact for 3 and 4 samples, and 5 up to 8 tasters; two misprints, 13.200 for 12.300 and 10.050 for 11.050."""
    checked, misprints = 0, {(8, 5, 1.0): 12.300, (17, 4, 1.0): 11.05}  # by enumeration
    for row in table("friedman"):
        n, k, risk = int(row["tasters"]), int(row["samples"]), float(row["risk_percent"])
        printed = float(row["printed"])
        if k > 5 or (k == 5 and n > 8):
            continue
        value = 3 * limit(square_sums, n, k, risk) / (n * k * (k + 1)) - 3 * n * (k + 1)
        assert value == pytest.approx(misprints.get((n, k, risk), printed), abs=0.0051)
        checked += 1
    assert checked == 86


def test_friedman_beyond_what_is_counted_out_nears_chi_squared():
    """6 samples and 20 tasters, printed 11.000 and 14.660: chi-squared with 5 degrees is within 0.5 of it."""
    for row in table("friedman"):
        if (row["tasters"], row["samples"]) == ("20", "6"):
            at = stats.chi2.ppf(1 - float(row["risk_percent"]) / 100, 5)
            assert float(row["printed"]) == pytest.approx(at, abs=0.5)
    ranks = np.array(list(itertools.permutations(range(1, 7))))[::36].astype(float)  # 20 tasters
    F, p, exact = friedman(ranks)
    assert not exact
    assert (F, p) == pytest.approx(tuple(stats.friedmanchisquare(*ranks.T)), abs=1e-9)


def test_iso_8587_worked_examples():
    """Rank sums 17, 31, 32, 23, 17 of 8 tasters: F 10.6; 33, 14, 20, 43 of 11: F 27.76."""
    result = ranking(rows("3124 " * 7 + "3214 3214 4213 2134"), list("ABCD"))
    assert result.sums == (33, 14, 20, 43)
    assert result.statistic == pytest.approx(27.76, abs=0.005)
    assert result.found
    result = ranking(rows("25431 23541 45321 12543 14523 54213 14523 14352"), list("ABCDE"))
    assert result.sums == (17, 31, 32, 23, 17)
    assert result.statistic == pytest.approx(10.6, abs=0.05)
    assert result.found  # 9.5 needed by chi-squared


@pytest.mark.parametrize(("tasters", "samples"), [(12, 3), (24, 4)])
def test_rank_sums_of_like_samples_seldom_lie_apart(tasters, samples):
    """A seeded simulation: of tastings of samples that are alike, any two rank sums lie apart in 2 to 6 of 100."""
    rng = np.random.default_rng(11)
    ranks = rng.random((20_000, tasters, samples)).argsort(2) + 1
    seen = np.mean(np.ptp(ranks.sum(1), axis=1) >= rank_sums_apart(tasters, samples))
    assert 0.02 < seen < 0.06
    assert np.mean(np.ptp(ranks.sum(1), axis=1) >= rank_sums_apart(tasters, samples, 20)) > 0.1


def rows(text):
    """Rankings written a word each: 312 is third, first, second."""
    return [[int(digit) for digit in word] for word in text.split()]


def test_ties_by_all_rankings_written_out():
    """Five tasters, two of whom tie: chance by writing out every arrangement of each one's ranks."""
    ranks = np.array([[1, 2, 3], [1.5, 1.5, 3], [1, 3, 2], [2, 2, 2], [1, 2, 3]])
    F, p, exact = friedman(ranks)
    assert exact
    assert pytest.approx(stats.friedmanchisquare(*ranks.T).statistic, abs=1e-12) == F
    spread, every = 0, 0
    for way in itertools.product(*(list(itertools.permutations(row)) for row in ranks)):
        sums = np.sum(way, 0)
        every += 1
        spread += (sums**2).sum() >= (ranks.sum(0) ** 2).sum() - 1e-9
    assert p == pytest.approx(spread / every, rel=1e-12)


def test_ranking_says_which_from_which():
    names = ["sesame", "plain", "cocoa"]
    result = ranking([[1, 2, 3]] * 8 + [[2, 1, 3]] * 4, names)
    assert result.pairs == (
        ("sesame", "plain", 4.0, False), ("sesame", "cocoa", 20.0, True), ("plain", "cocoa", 16.0, True),
    )  # fmt: skip
    none = ranking([[1, 2, 3], [3, 2, 1], [2, 3, 1], [2, 1, 3]], list("ABC"))
    assert "No order shown, which is not the same as alike" in none.words
    assert not any(clear for *_, clear in none.pairs)
    assert ranking([[2, 2, 2]] * 6, list("ABC")).p == 1
    between = ranking([[1, 2, 3]] * 8 + [[1, 3, 2]] * 2 + [[2, 1, 3]] * 2, list("ABC"))
    assert between.found
    assert [clear for *_, clear in between.pairs] == [apart >= between.apart for *_, apart, _ in between.pairs]
    assert not between.pairs[0][3]


@pytest.mark.long
@given(st.integers(2, 9), st.integers(2, 4), st.integers(0, 10_000))
@drawn(60)
def test_laws_of_ranks(tasters, samples, seed):
    rng = np.random.default_rng(seed)
    ranks = np.array([stats.rankdata(rng.integers(0, samples, samples)) for _ in range(tasters)])
    F, p, _ = friedman(ranks)
    mixed = ranks[rng.permutation(tasters)][:, rng.permutation(samples)]
    assert friedman(mixed)[:2] == pytest.approx((F, p), abs=1e-9)
    assert friedman(samples + 1 - ranks)[:2] == pytest.approx((F, p), abs=1e-9)
    assert 0 < p <= 1 + 1e-12


def test_all_say_that_one_bake_is_one_bake():
    made = [tasting("triangle", 9, 24), tasting("preference", 9, 24), ranking([[1, 2, 3]] * 4, list("ABC"))]
    for result in made:
        assert ONE_BAKE in result.notes
        html = result._repr_html_()
        assert result.words.split(":")[0] in html
        assert result.to_frame().columns.tolist() == ["value", "low", "high", "unit"]
        assert {"method", *(row["what"] for row in kit.tables.table("tasting_rules").rows)} == set(result.sources())


def test_names_are_text():
    result = tasting("triangle", 9, 24, ("<script>", "=1+1"))
    assert "<script>" not in result._repr_html_()
    assert "&lt;script&gt;" in result._repr_html_()


# what must not be taken


@pytest.mark.parametrize(
    ("what", "words"),
    [
        (lambda: tasting("triangle", 15, 12), "'right answers' must be a whole number from 0 to 12 (got 15)"),
        (lambda: tasting("triangle", -1, 12), "'right answers' must be a whole number from 0 to 12 (got -1)"),
        (lambda: tasting("triangle", math.nan, 12), "(got nan)"),
        (lambda: tasting("triangle", True, 12), "(got True)"),
        (lambda: tasting("triangle", 0.5, 12), "(got 0.5)"),
        (lambda: tasting("triangle", "ten", 12), "(got 'ten')"),
        (lambda: tasting("triangle", 1, 1), "'tasters' must be a whole number, 2 or more (got 1)"),
        (lambda: tasting("triangle", 1, None), "'tasters' must be a whole number, 2 or more (got None)"),
        (lambda: tasting("triangle", 5, 12, risk=0), "'risk' must be a percentage above 0 and below 100 (got 0)"),
        (lambda: tasting("triangle", 5, 12, neither=2), "'no preference' must be 0 in a triangle test (got 2)"),
        (lambda: tasting("triangle", 5, 12, ("a", "A")), "'names' must be 2 names that differ"),
        (lambda: tasting("triangle", 5, 12, ("a", " ")), "'names' must be 2 names that differ"),
        (lambda: tasting("triangel", 5, 12), "did you mean triangle?"),
        (lambda: tasters_needed("triangle", 0.5), "'share' must be one that 5,000 tasters can find (got 0.5 %)"),
        (lambda: tasters_needed("triangle", math.nan), "(got nan)"),
        (lambda: ranking([], list("AB")), "'ranks' must be a row a taster and a column a sample"),
        (lambda: ranking([[1, 2]], list("AB")), "2 or more of each (got 1 of 2)"),
        (lambda: ranking([[1, 2, 3], [1, 2]], list("ABC")), "rows that differ in length"),
        (lambda: ranking([[1, 2, 3], [1, 1, 3]], list("ABC")), "'ranks of taster 2' must be 1 to 3, ties sharing"),
        (lambda: ranking([[1, 2, 3], [1, math.nan, 3]], list("ABC")), "(got 1, nan and 3)"),
        (lambda: ranking([[1, 2, 3], ["a", "b", "c"]], list("ABC")), "(got a, b and c)"),
        (lambda: ranking([[1, 2, 3]] * 3, list("AB")), "'names' must be 3 names that differ"),
    ],
)
def test_what_cannot_be_is_told(what, words):
    with pytest.raises(KitError) as error:
        what()
    assert words in str(error.value)
    assert isinstance(error.value, (AmountError, UnknownName, kit.trials.TrialError))
