"""Water taken off a softer dough: the rates of the table, worked by hand beside each check."""

import pytest

from kit import Formula
from kit.balance import softness

BUN = Formula.from_weights(
    "bun", {"bread flour": 1000, "water": 500, "sugar": 100, "butter": 100}, makes={"piece": "60 g"}
)


@pytest.mark.parametrize(
    ("changes", "points", "low", "high"),
    [
        ({"sugar": 18}, 4.8, 2.4, 4.96),  # 8 points at 0.6 (a page of the trade); 0.3 fitted; 0.62 mL per g
        ({"butter": 25}, 3.0, 0.0, 3.0),  # 15 points at 1 in 5: common practice, no source; no sure effect in print
        ({"sugar": 18, "butter": 25}, 7.8, 2.4, 7.96),
        ({"sugar": 4}, -1.8, -0.9, -1.86),  # from 10 to 7: below 7 % no softening (an ingredient maker's compendium)
        ({"egg": 30}, 0, 0, 0),  # its water is total hydration's
    ],
)
def test_points_of_water(changes, points, low, high):
    found = softness(BUN, BUN.vary(changes))
    assert (found.points, found.low, found.high) == pytest.approx((points, low, high))
    assert sum(found.causes.values()) == pytest.approx(points)


def test_it_says_so_in_words_with_its_range():
    assert softness(BUN, BUN.vary(sugar=18)).words == (
        "sugar makes it softer: practice takes water down by 4.8 % of flour (2.4 to 5.0)"
    )
    assert softness(BUN.vary(butter=25), BUN).words == (
        "butter makes it firmer: practice takes water up by 3.0 % of flour (0.0 to 3.0)"
    )
    assert softness(BUN, BUN.vary(egg=30)).words == softness(BUN, BUN).words == ""


def test_beyond_what_is_printed_it_says_that_too():
    assert softness(BUN, BUN.vary(sugar=50)).words.endswith("(12.0 to 24.8; of so much sugar nothing is printed)")


def test_it_tells_its_grounds():
    grounds = softness(BUN, BUN).sources()
    assert grounds["butter"] == "common practice"
    assert "the water a dough takes" in grounds["sugar"]
