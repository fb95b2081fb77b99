"""Each part of each band of yield, water, topping, scaling and day against a seeded simulation, alone and together."""

import csv
import itertools
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from kit.formula import Formula
from kit.process import (
    Calibration,
    Estimate,
    predict_yield,
    topping_fit,
    water_temperature,
)
from kit.process.day import day
from kit.process.dome import PATTERNS
from kit.process.rise_band import _cause
from tests.formula.doughs import DOUGH, LOSSES, TOPPING, WORKED
from tests.process import scorings
from tests.simulation import Z, assert_ends, drawn, on_two_sides

ROOT = Path(__file__).parents[2]
N = 40_000
EGG_WATER = 0.7615  # g per g, SR28 NDB 01123


def rows(name):
    with (ROOT / f"reference_tables/{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# ---- yield: one oven takes of dough, topping and filling alike ----------------------------------------------

FILLED = Formula.from_weights(
    "bun", DOUGH, topping=TOPPING | {"egg": 40}, filling={"egg": 1}, wash={"egg": 1}, losses=LOSSES,
    makes={"pieces": 48, "piece": 70, "topping": 28, "filling": 12, "wash": 2},
)  # fmt: skip


def fixed(**losses):
    """A kitchen that knows these losses to the digit."""
    known = {f"bake_loss_{part}": Estimate(value, 0.0, "%", bakes=6) for part, value in losses.items()}
    return Calibration().with_(**known)


@pytest.mark.parametrize("causes", [("dough",), ("topping",), ("filling",), ("dough", "topping", "filling")])
def test_baked_mass_by_each_loss(causes):
    """Dough 10 % (8 to 13), topping 6.5 % (4 to 10), filling 0.1 of its water (0 to 0.2); all of the wash's dries."""
    still = {part: value for part, value in (("dough", 10.0), ("topping", 6.5)) if part not in causes}
    z = drawn(1, N)
    filling = 12.0 if "filling" in causes else 0.0
    made = predict_yield(FILLED.vary(filling=filling), calibration=fixed(**still))
    dough = on_two_sides(10, 8, 13, z) if "dough" in causes else 10.0
    topping = on_two_sides(6.5, 4, 10, z) if "topping" in causes else 6.5
    wet = EGG_WATER * on_two_sides(0.1, 0.0, 0.2, z)
    baked = 70 * (1 - dough / 100) + 28 * (1 - topping / 100) + 2 * (1 - EGG_WATER) + filling * (1 - wet)
    assert made.baked_piece == pytest.approx(np.median(baked), abs=1e-3)
    assert_ends((made.baked_piece_low, made.baked_piece_high), baked, bias=1e-3)
    frame = made.to_frame()
    assert frame.loc["all pieces baked"].tolist() == pytest.approx(
        [48 * made.baked_piece, 48 * made.baked_piece_low, 48 * made.baked_piece_high]
    )


@pytest.mark.parametrize("spirit", ["whole milk", "rum"])
def test_no_end_of_the_band_loses_more_than_can_leave(spirit):
    """100 flour, 30 of the other, their water and alcohol by the table: there the draws stop, and so does the band."""
    table = {row["name"]: row for row in rows("ingredients")}
    columns = ("water_g_per_100g", "alcohol_g_per_100g")
    leaves = sum(mass * float(table[name][column] or 0) for name, mass in (("bread flour", 100), (spirit, 30))
                 for column in columns) / 130  # fmt: skip
    dough = Formula.from_weights(
        "bun", {"flour": 100, spirit: 30}, losses={"baking": 0.9 * leaves}, makes={"piece": 80}
    )
    made = predict_yield(dough)
    loss = on_two_sides(0.9 * leaves, 0.72 * leaves, 1.17 * leaves, drawn(2, N))
    assert_ends((made.baked_piece_low, made.baked_piece_high), 80 * (1 - np.minimum(loss, leaves) / 100), bias=1e-3)
    assert made.baked_piece_low == pytest.approx(80 * (1 - leaves / 100))


# ---- water: mixing, heat of hydration, melting ---------------------------------------------------------------

RICH = Formula.from_weights(
    "rich", {"flour": 100, "water": 14, "milk": 20, "egg": 30, "butter": 35, "sugar": 18, "salt": 1.6, "fresh yeast": 4}
)
# kJ per K on 1 kg of flour, by hand
SHARES = zip((100, 14, 20, 30, 35, 18, 1.6, 4), (1.998, 4.18, 3.897, 3.653, 2.400, 1.586, 1.13, 3.45), strict=True)
WHOLE = sum(mass / 100 * heat for mass, heat in SHARES)
LEVER = WHOLE / (0.14 * 4.18)  # of the water on the dough
BUTTER_AT = 12.0
HALF = 2 * Z  # 80 % ends lie so many standard deviations apart


def wetting(seed):
    """Heat of hydration [kJ per kg of flour]: 6.45 to 6.55 Btu per lb, all alike likely."""
    return drawn(seed, N, stats.uniform(15.0, 0.24))


def melting(seed, latent=True, solid=True):
    """Heat that melting takes [kJ on 1 kg of flour]: 80 to 120 kJ per kg of solid fat, and its share at the start."""
    table = {column: [float(row[column]) for row in rows("milk_fat_solid")]
             for column in ("temperature_degC", "solid_percent", "low_percent", "high_percent")}  # fmt: skip
    start, low, high = (np.interp(BUTTER_AT, table["temperature_degC"], table[f"{end}_percent"]) / 100
                        for end in ("solid", "low", "high"))  # fmt: skip
    end = np.interp(26, table["temperature_degC"], table["solid_percent"]) / 100
    share = start - end + (drawn(seed + 1, N) * (high - low) / HALF if solid else 0.0)
    return 0.35 * 0.8111 * share * (drawn(seed, N, stats.uniform(80, 40)) if latent else 100.0)  # 81.11 g fat, SR28


def asked(**given):
    return water_temperature(RICH, 26, 26, ingredients={"butter": BUTTER_AT}, **({"hydration": 15.12} | given))


def halves(made):
    """How far the dough may come out cooler and warmer, and how much of each the water's own band says [degC]."""
    of_water = (made.high - made.balance) / LEVER, (made.balance - made.low) / LEVER
    of_dough = 26 - made.dough_low, made.dough_high - 26
    assert of_water == pytest.approx(of_dough, rel=2e-3)
    return of_dough


def test_heat_of_hydration_alone():
    """Spread of what it warms by, a uniform one taken as a normal of the same standard deviation."""
    cooler, warmer = halves(asked(mixing_rise=0, butter_melts=False))
    assert (cooler, warmer) == pytest.approx([Z * wetting(3).std() / WHOLE] * 2, rel=0.01)


def test_melting_by_latent_heat_and_by_share():
    """Both together; neither alone is as wide by far."""
    found = halves(asked(mixing_rise=0))
    both = np.hypot(melting(5).std(), wetting(3).std())
    assert found == pytest.approx([Z * both / WHOLE] * 2, rel=0.015)
    alone = [np.hypot(melting(5, **{cause: False}).std(), wetting(3).std()) for cause in ("latent", "solid")]
    assert max(alone) < 0.9 * both


@pytest.mark.parametrize("given", [{"mixing_rise": 5.0}, {"friction": 15.0}])
def test_a_rise_that_is_given_is_known_within_a_tenth(given):
    """80 % within a tenth: 5 degC of dough, or a factor of three times that."""
    rise = drawn(7, N) * 0.5 / Z
    assert_ends(np.multiply((-1, 1), halves(asked(**given, butter_melts=False))), rise, bias=0.01)


def test_mixing_by_the_minute_and_all_together():
    """0.37 degC a minute, 80 % from 0.2 to 0.6 in proportion, about its middle; what is left of the sum's bend: 2 %."""
    rise = 3.7 * np.exp(drawn(8, N) * math.log(0.6 / 0.2) / HALF) - 3.7
    assert_ends(np.multiply((-1, 1), halves(asked(minutes=10, butter_melts=False))), rise, bias=0.005)
    whole = rise + ((wetting(3) - 15.12) - (melting(5) - melting(5).mean())) / WHOLE
    assert_ends(np.multiply((-1, 1), halves(asked(minutes=10))), whole, bias=0.02)


def test_the_other_reading_of_hydration_warms_and_never_cools():
    """15 kJ of each kg of flour and water: the difference lies at the warm end, beside what else warms."""
    with_it, without = (halves(asked(minutes=10, hydration=h)) for h in (None, 15.12))
    assert with_it[0] == pytest.approx(without[0])
    # total hydration by hand: water 14, of milk 0.8813, egg 0.7615, butter 0.1794, fresh yeast 0.69: SR28
    wet = 14 * 0.999 + 20 * 0.8813 + 30 * EGG_WATER + 35 * 0.1794 + 4 * 0.69
    more = (15 * (1 + wet / 100) - 15.12) / WHOLE
    assert math.sqrt(with_it[1] ** 2 - without[1] ** 2) == pytest.approx(more, rel=0.02)


# ---- topping: each figure's own spread -----------------------------------------------------------------------

STAGES = ("shaped", "proofed", "baked")
FIGURES = {f"density_{stage}": d for stage, d in zip(STAGES, (0.85, 0.4, 0.28), strict=True)}
FIGURES |= {f"height_over_diameter_{stage}": k for stage, k in zip(STAGES, (0.36, 0.4, 0.42), strict=True)}
FIGURES |= {"topping_density": 1.22, "crust_creep": 20.0, "bake_loss_dough": 10.0}
MEASURES = ("base_diameter", "height", "area", "volume", "cover", "gap", "thickness", "stretch")


def measured(figures, fit, stage):
    """The geometry anew: a cap of volume V and height k times its diameter, the disc's area, strips and plates."""

    def dome(at):
        grams = 70 * (1 - figures["bake_loss_dough"] / 100) if at == "baked" else 70
        volume, k = grams / figures[f"density_{at}"], figures[f"height_over_diameter_{at}"]
        diameter = (volume * 6 / math.pi / (0.75 * k + k**3)) ** (1 / 3)
        return {"volume": volume, "base_diameter": diameter, "height": k * diameter,
                "area": math.pi / 4 * diameter**2 * (1 + 4 * k**2)}  # fmt: skip

    found, creep, sheet = dome(stage), figures["crust_creep"] / 100, math.pi / 4 * fit.disc**2
    found["stretch"] = np.sqrt(found["area"] / dome("shaped")["area"])
    found["gap"] = np.maximum(scorings.gap(fit, found["stretch"], creep), 0)
    found["cover"] = np.minimum(100 * sheet * (1 + creep) / found["area"], 100)
    found["thickness"] = 28 / figures["topping_density"] / sheet
    return found


def uncertain(*causes, bakes=5):
    """A kitchen of so many bakes, exact but for the causes, and how the next bake lies (Student, one degree less)."""
    kitchen, figures = {}, {}
    for n, (name, value) in enumerate(FIGURES.items()):
        spread = 0.0 if name not in causes else 0.4 if value > 2 else 0.01 * value
        kitchen[name] = Estimate(value, spread, bakes=bakes)
        next_bake = spread * math.sqrt(1 + 1 / bakes)
        figures[name] = value + next_bake * drawn(20 + n, N, stats.t(bakes - 1)) if spread else value
    return Calibration().with_(**kitchen), figures


@pytest.mark.parametrize("cause", FIGURES)
def test_topping_by_each_figure(cause):
    kitchen, figures = uncertain(cause)
    bend = 0.05 if cause.startswith("height") else 0.02  # area hardly moves with height
    for pattern, disc in itertools.product(PATTERNS, (None, 12.5)):
        fit = topping_fit(WORKED, pattern=pattern, disc=disc, calibration=kitchen)
        for stage in STAGES:
            found = measured(figures, fit, stage)
            for what in MEASURES if fit.scored else ("gap",):
                expected = np.broadcast_to(found[what], N)
                assert_ends(np.broadcast_to(fit.band(what, stage), 2), expected, bias=bend)


def test_a_figure_given_now_keeps_its_spread_in_proportion():
    """A loss of 20 % for the usual 10 (8 to 13): a spread of 10 points for 5, of what 80 % are kept."""
    still, _ = uncertain()
    kitchen = still.with_(bake_loss_dough=Calibration().bake_loss_dough)
    band = topping_fit(WORKED, calibration=kitchen, bake_loss_dough=20.0).band("volume", "baked")
    assert_ends(band, 70 * (1 - (20 + drawn(30, N) * 10 / HALF) / 100) / 0.28, bias=0.03)
    band = topping_fit(WORKED, calibration=kitchen).band("volume", "baked")
    assert_ends(band, 70 * (1 - (10 + drawn(30, N) * 5 / HALF) / 100) / 0.28, bias=0.03)


@pytest.mark.parametrize("stage", STAGES)
def test_topping_by_all_figures_together(stage):
    kitchen, figures = uncertain(*FIGURES, bakes=10_000)
    for pattern in scorings.SCORED:
        fit = topping_fit(WORKED, pattern=pattern, calibration=kitchen)
        found = measured(figures, fit, stage)
        for what in MEASURES:
            assert_ends(fit.band(what, stage), np.broadcast_to(found[what], N), bias=0.03)


# ---- calibration ---------------------------------------------------------------------------------------------


def test_defaults_hold_80_percent_as_their_rows_say():
    """Width of every default's band, of logarithms where it is one: that of its row."""
    found = {row["what"]: row for row in rows("calibration")}
    for name, row in found.items():
        low, high = getattr(Calibration(), name).band()
        if row["kind_of_spread"] == "log-normal":
            assert math.log(high / low) == pytest.approx(math.log(float(row["high"]) / float(row["low"])))
        else:
            assert high - low == pytest.approx(float(row["high"]) - float(row["low"]))
    for row in rows("rise_reference_points"):
        names = {"sponge": "sponge_factor", "bulk": "rise_factor", "final proof": "proof_factor"}
        if row["stage"] in names:
            low, high = getattr(Calibration(), names[row["stage"]]).band()
            assert high / low == pytest.approx(float(row["high_minutes"]) / float(row["low_minutes"]))
    for part in ("dough", "topping"):
        row = next(r for r in rows("losses") if (r["use"], r["stage"], r["part"]) == ("default", "baking", part))
        low, high = getattr(Calibration(), f"bake_loss_{part}").band()
        assert high - low == pytest.approx(float(row["high_percent"]) - float(row["low_percent"]))


@pytest.mark.parametrize("log", [False, True])
@pytest.mark.parametrize("n", [3, 6])
def test_the_next_bake_lies_in_its_band_as_often_as_it_says(n, log):
    """4,000 kitchens of n bakes and one more, drawn."""
    random, inside = np.random.default_rng(n), {50: 0, 80: 0, 95: 0}
    bakes = random.normal(1.0, 0.1, (4000, n + 1))
    for some in bakes:
        mean, spread = some[:n].mean(), some[:n].std(ddof=1)
        found = Estimate(math.exp(mean) if log else mean, spread, bakes=n, log=log)
        for coverage in inside:
            low, high = found.band(coverage)
            inside[coverage] += low <= (math.exp(some[n]) if log else some[n]) <= high
    for coverage, held in inside.items():
        share = coverage / 100
        assert held / 4000 == pytest.approx(share, abs=4 * math.sqrt(share * (1 - share) / 4000))


# ---- what to scale: dividing and the oven -------------------------------------------------------------------

HANDS = {"dough": 3.0, "topping": 5.0}


@pytest.mark.parametrize("causes", [("dough",), ("topping",), ("dough loss",), ("topping loss",),
                                    ("dough", "topping", "dough loss", "topping loss")])  # fmt: skip
@pytest.mark.parametrize("bakes", [0, 6])
@pytest.mark.parametrize("wish", [80, 95])
def test_so_many_pieces_weigh_what_is_wished(causes, bakes, wish):
    """Pieces drawn at the mass that is scaled; losses 8 to 13 and 4 to 10 %, or six bakes of the kitchen."""
    own = {"dough": Estimate(10.0, 0.8, bakes=6), "topping": Estimate(6.5, 1.5, bakes=6)}
    exact = {part: Estimate(e.value, 0.0, bakes=6) for part, e in own.items()}
    kitchen = {part: own[part] if f"{part} loss" in causes else exact[part] for part in own}
    if not bakes:
        kitchen = {part: e for part, e in exact.items() if f"{part} loss" not in causes}
    calibration = Calibration().with_(**{f"bake_loss_{part}": e for part, e in kitchen.items()})
    hands = {part: percent if part in causes else 0.0 for part, percent in HANDS.items()}
    scaled = predict_yield(WORKED, calibration=calibration).to_scale(90, wish=wish, **hands)
    pieces = {"dough": scaled.scale, "topping": 28.0}
    oven, z = drawn(40, N, stats.t(5)), drawn(40, N)
    baked = np.zeros(N)
    for seed, (part, low, high) in enumerate([("dough", 8, 13), ("topping", 4, 10)]):
        loss = own[part].value
        if f"{part} loss" in causes:
            loss = loss + own[part].spread * math.sqrt(7 / 6) * oven if bakes else on_two_sides(loss, low, high, z)
        baked += pieces[part] * (1 + hands[part] / 100 * drawn(41 + seed, N)) * (1 - loss / 100)
    # one cause alone is exact; a sum of several is no normal any more
    assert 100 * np.mean(baked >= 90) == pytest.approx(wish, abs=0.15 if len(causes) == 1 else 0.6)


def test_scatter_of_pieces_by_its_causes():
    scatter = predict_yield(WORKED).scatter(dough=3, topping=5)
    assert scatter.dough == pytest.approx(np.std(70 * 0.03 * drawn(41, N)) * 0.9, rel=0.005)
    assert scatter.topping == pytest.approx(np.std(28 * 0.05 * drawn(42, N)) * 0.935, rel=0.005)
    z = drawn(40, N)
    assert scatter.loss == pytest.approx(np.std((70 * 5 + 28 * 6) / 100 * z / HALF), rel=0.005)
    above = (70 * (on_two_sides(10, 8, 13, z) - 10) + 28 * (on_two_sides(6.5, 4, 10, z) - 6.5)) / 100
    assert scatter.lighter == pytest.approx(math.sqrt(np.mean(above[above > 0] ** 2)), rel=0.005)


# ---- the day: each stage's own range -------------------------------------------------------------------------

BUN = Formula.read(ROOT / "notebooks/formulas/crackle_bun.toml")
SPREADS = {"sponge": (60, 50, 75), "mix": (14, 11, 20), "bulk": (75, 60, 95), "divide": (10, 8, 13),
           "shape": (12, 9, 16), "top": (8, 6, 12), "proof": (40, 30, 55), "bake": (16, 14, 19),
           "cool": (45, 30, 50)}  # fmt: skip


@pytest.mark.parametrize("causes", [*((name,) for name in SPREADS), tuple(SPREADS)])
@pytest.mark.parametrize("oven", [1, None])
def test_starts_by_each_stage_that_follows(causes, oven):
    """Backwards from the sale; an oven that takes one tray bakes its loads in turn, each as long as the others."""
    minutes = {n: each if n in causes else each[0] for n, each in SPREADS.items()}
    minutes = {n: each if n in causes else (each,) * 3 for n, each in minutes.items()}
    plan = day(BUN, oven=oven, minutes=minutes)
    took = {n: on_two_sides(*SPREADS[n], drawn(50 + seed, N)) if n in causes else np.full(N, SPREADS[n][0])
            for seed, n in enumerate(SPREADS)}  # fmt: skip
    names = [stage.name for stage in plan.stages]
    assert names == list(SPREADS)
    for slot in plan.slots:
        if slot.stage == "proof" and slot.load > 1:  # goes in with the first load, on which it depends
            continue
        still = plan.trays.loads - max(slot.load - 1, 0)  # loads in the oven one after the other
        after = names[names.index(slot.stage) :]
        late = sum((took[n] - SPREADS[n][0]) * (still if n == "bake" else 1) for n in after)
        ends = slot.start_low, np.quantile(slot.start - late, 0.9)  # nobody asks how late it may start
        assert_ends(ends, slot.start - late, bias=0.06 if len(causes) > 1 else 1e-3)


# ---- rise: a cause by its two ends ---------------------------------------------------------------------------


@pytest.mark.parametrize("ends", [(-0.2, math.inf), (-math.inf, 0.2), (-0.2, 0.2)])
def test_where_a_dough_never_rises_at_one_end_the_other_is_mirrored(ends):
    """By hand: ends alike on both sides shift nothing and spread by as much."""
    cause = _cause("any", ends, "by hand")
    assert (cause.mean, cause.spread) == (0, pytest.approx(0.2))


def test_ends_that_differ_shift_the_middle_and_spread_by_what_is_left():
    """A draw on two sides, half of the chance on each, has this mean and this standard deviation."""
    draws = Z * on_two_sides(0.0, -0.1, 0.4, drawn(11, N))
    cause = _cause("any", (-0.1, 0.4), "simulated")
    assert cause.mean == pytest.approx(draws.mean(), rel=0.01)
    assert cause.spread == pytest.approx(draws.std(), rel=0.01)
