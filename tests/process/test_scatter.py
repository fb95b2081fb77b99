"""Dividing scatter and the kitchen's own wish: numbers worked by hand, closed form against simulation."""

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.special import ndtr

from kit.errors import AmountError, FormulaError
from kit.formula import Formula
from kit.process import Calibration, Estimate, predict_yield

BUN = Formula.read(Path(__file__).parents[2] / "notebooks/formulas/crackle_bun.toml")
PLAIN = Formula.from_weights("bun", {"flour": 100, "water": 55}, makes={"piece": 98})


def under(scatter, limit, loss):
    """The share [%] of pieces under a limit: normal, dividing and loss independent."""
    return 100 * ndtr((limit - scatter.baked) / np.hypot(scatter.within, loss))


# ---- scatter -----------------------------------------------------------------------------------------------


def test_scatter_worked_by_hand():
    """60 g and 22 g divided with 2 %, kept 0.895 and 0.935; losses 8.4 to 13.65 and 4 to 10 % at 80 %."""
    scatter = predict_yield(BUN).scatter(dough=2, topping=2)
    assert scatter.dough == pytest.approx(60 * 0.02 * 0.895)
    assert scatter.topping == pytest.approx(22 * 0.02 * 0.935)
    by_dough, by_topping = (13.65 - 8.4) / 2 / 1.2815516, (10 - 4) / 2 / 1.2815516
    assert scatter.loss == pytest.approx((60 * by_dough + 22 * by_topping) / 100)
    assert scatter.within**2 == pytest.approx(scatter.dough**2 + scatter.topping**2)
    assert scatter.baked == pytest.approx(predict_yield(BUN).baked_piece)


def test_the_losses_band_is_the_yields_own():
    dry = BUN.vary(wash=0)
    made = predict_yield(dry)
    half = 1.2815516 * predict_yield(dry).scatter(dough=0, topping=0).loss
    assert made.baked_piece_high - made.baked_piece_low == pytest.approx(2 * half)


def test_scatter_against_simulation():
    """Seeded normal draws of dividing and of one loss for each bake: within four standard errors."""
    draw = np.random.default_rng(11)
    n = 200_000
    spread = (13.65 - 8.4) / 2 / 1.2815516, (10 - 4) / 2 / 1.2815516
    oven = draw.normal(0, 1, n)  # one oven for dough and topping
    dough, topping = draw.normal(60, 60 * 0.03, n), draw.normal(22, 22 * 0.04, n)
    wash = predict_yield(BUN).baked_piece - 60 * 0.895 - 22 * 0.935
    masses = dough * 0.895 + topping * 0.935 + wash - oven * (60 * spread[0] + 22 * spread[1]) / 100
    scatter = predict_yield(BUN).scatter(dough=3, topping=4)
    for limit in (70, 73, 75, 78):
        share = 100 * np.mean(masses < limit)
        error = 100 * math.sqrt(share / 100 * (1 - share / 100) / n)
        assert under(scatter, limit, scatter.loss) == pytest.approx(share, abs=4 * error + 1e-3)


def test_many_formulas_at_once():
    many = predict_yield(BUN.vary(piece=np.array([55.0, 60.0, 65.0]))).scatter()
    one = [predict_yield(BUN.vary(piece=g)).scatter() for g in (55, 60, 65)]
    for name in ("baked", "within", "loss"):
        assert getattr(many, name) == pytest.approx([float(getattr(each, name)) for each in one])


# ---- what to scale -----------------------------------------------------------------------------------------


def test_what_to_scale_worked_by_hand():
    """Six loss readings of 9.18 +- 0.31 %: for 88 g at 95 % surety 97.6 g raw. Common practice, no source."""
    kitchen = Calibration().with_(bake_loss_dough=Estimate(9.18, 0.31, bakes=6))
    scaled = predict_yield(PLAIN, calibration=kitchen).to_scale(88, wish=95, dough=0)
    assert scaled.scale == pytest.approx(97.6, abs=0.05)


@pytest.mark.parametrize("wish", [60, 90, 95, 99])
def test_scaled_so_the_wish_is_just_met(wish):
    """Put the answer back in: just so many pieces are then under the wish."""
    scaled = predict_yield(BUN).to_scale("72 g", wish=wish)
    scatter = predict_yield(BUN.vary(piece=scaled.scale)).scatter()
    assert under(scatter, 72, scatter.lighter) == pytest.approx(100 - wish, rel=1e-6)


def test_it_says_what_to_scale_beside_what_is_scaled():
    scaled = predict_yield(BUN).to_scale("72 g")
    said = f"95 of 100 baked pieces at least 72.0 g: scale {scaled.scale:.1f} g of dough; the formula scales 60.0 g."
    assert str(scaled) == said
    assert said in scaled._repr_html_()
    assert set(scaled.sources()) == {"dividing the dough", "dividing the topping", "loss in the oven"}


def test_surer_wishes_and_more_scatter_ask_for_more_dough():
    asked = [predict_yield(BUN).to_scale(74, wish=w).scale for w in (60, 80, 95, 99)]
    assert asked == sorted(asked)
    assert predict_yield(BUN).to_scale(74, dough=4).scale > predict_yield(BUN).to_scale(74, dough=1).scale


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: predict_yield(BUN).to_scale(0), "'least' must be a mass above 0 g"),
        (lambda: predict_yield(BUN).to_scale(-5), "'least'"),
        (lambda: predict_yield(BUN).to_scale(74, dough=-1), "'dividing the dough'"),
        (lambda: predict_yield(BUN).to_scale(74, dough=math.nan), "'dividing the dough'"),
        (lambda: predict_yield(BUN).to_scale(74, wish=100), "'wish' must be above 50 and below 100 %"),
        (lambda: predict_yield(BUN).to_scale(74, wish=99.9, dough=45), "'scatter' must be small enough"),
    ],
)
def test_what_cannot_be_is_said_in_words(call, words):
    with pytest.raises(AmountError, match=words):
        call()


def test_one_formula_at_a_time_is_scaled():
    with pytest.raises(FormulaError, match="choose one"):
        predict_yield(BUN.vary(butter=[10, 20])).to_scale(74)
