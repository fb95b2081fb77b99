"""Pieces on trays: worked by hand, and laws of packing that hold for any size."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from kit.errors import AmountError, FormulaError, UnknownName
from kit.formula import Formula
from kit.process import trays
from tests.laws import drawn

BUN = Formula.read(Path(__file__).parents[2] / "notebooks/formulas/crackle_bun.toml")
HAND = BUN.vary(piece=70, topping=28)


def test_tray_worked_by_hand():
    """48 pieces of 70 g dough: 4 x 3 on 600 x 400 mm, 4 trays. Common practice, no source."""
    laid = trays(HAND)
    assert (laid.per_tray, laid.trays, laid.packing, laid.on_last) == (12, 4, "square", 12)
    assert laid.diameter == pytest.approx(9.72, abs=0.005)


def test_oven_loads():
    laid = trays(HAND, oven=3, pieces=47)
    assert (laid.packing, laid.trays, laid.on_last, laid.loads) == ("square", 4, 11, 2)


def test_staggered_only_where_it_saves_a_tray():
    assert trays(None, diameter=9.72, pieces=48).packing == "square"
    assert trays(None, diameter=9.72, pieces=52).packing == "staggered"  # 13 to a tray: 4 trays, not 5


@pytest.mark.parametrize(("side", "holds"), [("10 cm", 1), ("20 cm", 4), ("30 cm", 9), ("29.9 cm", 4)])
def test_square_packing_by_hand(side, holds):
    assert trays(None, f"{side} x {side}", gap=0, diameter=10, pieces=1).per_tray == holds


def test_staggered_rows_by_hand():
    """Rows sqrt(3)/2 apart: 100 x 100 cm holds 10 and 9 by turns in 11 rows of 10 cm, the densest lattice."""
    assert trays(None, "100 x 100 cm", gap=0, diameter=10, pieces=105).per_tray == 6 * 10 + 5 * 9


def laid_by_hand(length, width, pitch, staggered):
    """Middles of round pieces laid row by row from a corner until no more fit, rows touching or astride."""
    middles, y, row = [], pitch / 2, 0
    while y + pitch / 2 <= width * (1 + 1e-9):
        x = pitch / 2 + (pitch / 2 if staggered and row % 2 else 0.0)
        while x + pitch / 2 <= length * (1 + 1e-9):
            middles.append((x, y))
            x += pitch
        y, row = y + (pitch * math.sqrt(0.75) if staggered else pitch), row + 1
    return np.array(middles)


@drawn()
@given(st.floats(3, 25), st.floats(0, 5), st.floats(20, 90), st.floats(20, 70), st.integers(1, 500))
def test_a_tray_holds_what_can_be_laid_on_it_by_hand(diameter, gap, length, width, pieces):
    assume(min(length, width) > diameter + gap)
    laid, pitch = trays(None, f"{length} x {width} cm", gap=gap, diameter=diameter, pieces=pieces), diameter + gap
    square = laid_by_hand(length, width, pitch, staggered=False)
    rows = max(*(laid_by_hand(*sides, pitch, staggered=True) for sides in ((length, width), (width, length))), key=len)
    saves = math.ceil(pieces / len(rows)) < math.ceil(pieces / len(square))
    assert laid.packing == ("staggered" if saves else "square")
    middles = rows if saves else square
    assert laid.per_tray == len(middles)
    between = np.linalg.norm(middles[:, None] - middles[None], axis=-1) + 1e9 * np.eye(len(middles))
    assert between.min() >= pitch * (1 - 1e-6)
    # no packing of circles is denser than pi / sqrt 12 (Thue)
    most = math.pi / math.sqrt(12) * (length + pitch) * (width + pitch)
    assert laid.per_tray * math.pi / 4 * pitch**2 <= most


@drawn()
@given(st.integers(1, 3000), st.integers(1, 12))
def test_trays_and_loads_hold_all_pieces_and_none_is_empty(pieces, oven):
    laid = trays(HAND, pieces=pieces, oven=oven)
    assert (laid.trays - 1) * laid.per_tray < pieces <= laid.trays * laid.per_tray
    assert (laid.loads - 1) * oven < laid.trays <= laid.loads * oven
    assert laid.on_last == pieces - (laid.trays - 1) * laid.per_tray


def test_a_formula_without_topping_lies_on_trays_too():
    assert trays(Formula.from_weights("bun", {"flour": 100, "water": 55}, makes={"piece": 70, "pieces": 48})).trays == 4


@pytest.mark.parametrize(
    ("given", "error", "words"),
    [
        ({"oven": 0}, AmountError, "'oven' must be a whole number of trays"),
        ({"oven": 2.5}, AmountError, "'oven'"),
        ({"tray": "80 x 60 mm"}, FormulaError, "'tray' must be large enough for one piece"),
        ({"tray": "large"}, UnknownName, "600 x 400 mm"),
        ({"tray": "0 x 40 cm"}, AmountError, "'tray' must be a length above 0 cm"),
        ({"gap": -1}, AmountError, "'gap'"),
        ({"pieces": 0}, AmountError, "'pieces'"),
        ({"diameter": 0}, AmountError, "'diameter'"),
    ],
)
def test_what_cannot_be_is_said_in_words(given, error, words):
    with pytest.raises(error, match=words):
        trays(HAND, **given)


def test_one_formula_at_a_time():
    with pytest.raises(FormulaError, match="choose one"):
        trays(BUN.vary(butter=[10, 20]))
