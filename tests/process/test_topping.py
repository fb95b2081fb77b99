"""Domes against mensuration; discs, cover and gaps against numbers worked by hand, laws and a seeded simulation."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from kit.errors import AmountError, FormulaError, UnknownName
from kit.formula import Formula
from kit.process import Calibration, Dome, Estimate, dome, piece_domes, topping_fit
from tests.laws import drawn
from tests.process import scorings
from tests.process.estimates import of_bakes

ROOT = Path(__file__).parents[2]
BUN = Formula.read(ROOT / "notebooks/formulas/crackle_bun.toml")
CAPS = [
    {name: float(text) for name, text in row.items()}
    for row in csv.DictReader((ROOT / "tests/worked/spherical_caps.csv").open(encoding="utf-8"))
]
# Worked by hand for 70 g dough and 28 g paste; baked dough 63 g at 3.6 mL per g. Common practice, no source.
FIT = topping_fit(BUN, piece=70, topping=28, disc="89 mm", density_baked=1 / 3.6, bake_loss_dough=10)
SOME = st.floats(0.5, 20)


# ---- the spherical cap -------------------------------------------------------------------------------------


@pytest.mark.parametrize("cap", CAPS, ids=lambda c: f"{c['base_radius_a']:g} by {c['height_h']:g}")
def test_caps_as_computed_in_print(cap):
    """Mensuration of the spherical cap, both of its formulas; six digits as printed."""
    dome = Dome(cap["base_radius_a"], cap["height_h"])
    assert dome.sphere_radius == pytest.approx(cap["R"], abs=5e-7)
    assert dome.volume == pytest.approx(cap["V_from_a"], abs=5e-7)
    assert dome.volume == pytest.approx(cap["V_from_R"], abs=5e-7)
    assert dome.area == pytest.approx(cap["A_from_a"], abs=5e-7)
    assert dome.area == pytest.approx(cap["A_from_R"], abs=5e-7)


@given(SOME)
def test_limits_are_the_hemisphere_and_the_sphere(radius):
    """Archimedes: hemisphere 2/3 pi r^3 and 2 pi r^2; a cap of height 2 R is the sphere."""
    half, whole = Dome(radius, radius), Dome(radius * 1e-6, 2 * radius)
    assert half.volume == pytest.approx(2 / 3 * math.pi * radius**3)
    assert half.area == pytest.approx(2 * math.pi * radius**2)
    assert whole.volume == pytest.approx(4 / 3 * math.pi * radius**3)
    assert whole.area == pytest.approx(4 * math.pi * radius**2)
    assert whole.width == pytest.approx(2 * radius)
    assert half.width == pytest.approx(half.base_diameter)


@given(SOME, st.floats(0.1, 0.9))
def test_outline_turned_about_its_axis_gives_area_and_volume(diameter, k):
    """Pappus: area = 2 pi x length, volume = 2 pi x area of the half section, each at its centroid."""
    dome = Dome(diameter / 2, k * diameter)
    x, z = (side[2000:] for side in dome.profile(4001))
    length = np.hypot(np.diff(x), np.diff(z))
    middle = (x[1:] + x[:-1]) / 2
    assert 2 * math.pi * np.sum(middle * length) == pytest.approx(dome.area, rel=1e-5)
    assert np.sum(math.pi * middle**2 * -np.diff(z)) == pytest.approx(dome.volume, rel=1e-4)
    assert (x[0], z[0]) == pytest.approx((0, dome.height), abs=1e-9)
    assert (x[-1], z[-1]) == pytest.approx((dome.radius, 0), abs=1e-6)


@given(SOME, st.floats(0.05, 1.5))
def test_volume_and_shape_give_back_the_dome(diameter, k):
    dome = Dome(diameter / 2, k * diameter)
    again = Dome.of_volume(dome.volume, k)
    assert again.base_diameter == pytest.approx(diameter)
    assert again.height == pytest.approx(dome.height)


@given(SOME, st.floats(0.15, 0.6), st.floats(0, 0.2))
def test_disc_leaves_a_zone_bare_of_hat_box_area(diameter, k, share):
    """Archimedes' hat-box theorem: the bare zone is 2 pi R times its height."""
    dome = Dome(diameter / 2, k * diameter)
    rim = share * diameter
    sphere = dome.sphere_radius
    to_rim = math.acos(max(-1.0, 1 - dome.height / sphere))
    if rim >= sphere * to_rim:
        return
    tall = dome.height - sphere * (1 - math.cos(to_rim - rim / sphere))
    bare = dome.area - math.pi / 4 * dome.disc_leaving(rim) ** 2
    assert bare == pytest.approx(2 * math.pi * sphere * tall, rel=1e-6, abs=1e-6 * dome.area)
    assert dome.disc_leaving(0) == pytest.approx(dome.whole_disc)


# ---- worked by hand: common practice, no source -------------------------------------------------------------


@pytest.mark.parametrize(
    ("stage", "volume", "diameter", "height", "area"),
    [
        ("shaped", 82.4, 79.2, 28.5, 74.8),
        ("proofed", 175, 97.2, 38.9, 121.7),
        ("baked", 227, 103.6, 43.5, 143.9),
    ],
)
def test_domes_worked_by_hand(stage, volume, diameter, height, area):
    dome = FIT.dome(stage)
    assert dome.volume == pytest.approx(volume, abs=0.5 if volume > 100 else 0.05)
    assert 10 * dome.base_diameter == pytest.approx(diameter, abs=0.05)
    assert 10 * dome.height == pytest.approx(height, abs=0.05)
    assert dome.area == pytest.approx(area, abs=0.05)


@pytest.mark.parametrize(("density", "area"), [(0.35, 133.0), (0.45, 112.5), (0.50, 104.9)])
def test_proofed_area_at_other_densities(density, area):
    domes = piece_domes(BUN, piece=70, density_proofed=density)
    assert domes["proofed"].area == pytest.approx(area, abs=0.05)


def test_disc_worked_by_hand():
    assert 10 * FIT.shaped.whole_disc == pytest.approx(97.6, abs=0.05)
    own = topping_fit(BUN, piece=70, topping=28)  # 5 mm bare
    assert math.pi / 4 * own.disc**2 == pytest.approx(62.6, abs=0.05)
    assert 10 * own.disc == pytest.approx(89, abs=0.5)
    assert own.disc / own.shaped.base_diameter == pytest.approx(1.13, abs=0.005)
    as_wide_as_the_bun = math.pi / 4 * own.shaped.base_diameter**2 / own.shaped.area
    assert as_wide_as_the_bun == pytest.approx(0.66, abs=0.005)


@pytest.mark.parametrize(("grams", "thickness"), [(28, 3.7), (22, 2.9), (25, 3.3), (31, 4.1), (35, 4.6)])
def test_thickness_worked_by_hand(grams, thickness):
    fit = topping_fit(BUN, piece=70, topping=grams, disc=8.9)
    assert 10 * fit.thickness == pytest.approx(thickness, abs=0.05)


@pytest.mark.parametrize(("stage", "cover"), [("shaped", 0.87), ("proofed", 0.54), ("baked", 0.45)])
def test_cover_worked_by_hand(stage, cover):
    assert FIT.cover(stage) == pytest.approx(100 * cover, abs=0.5)


@pytest.mark.parametrize(
    ("ratio", "cover"), [(1.0, 0.87), (1.25, 0.75), (1.5, 0.67), (1.75, 0.60), (2.0, 0.55), (2.43, 0.48)]
)
def test_cover_at_constant_shape_worked_by_hand(ratio, cover):
    fit = topping_fit(
        BUN, piece=70, topping=28, disc=8.9, density_proofed=0.85 / ratio, height_over_diameter_proofed=0.36
    )
    assert fit.proofed.volume / fit.shaped.volume == pytest.approx(ratio)
    assert fit.cover("proofed") == pytest.approx(100 * cover, abs=0.5)


@pytest.mark.parametrize(
    ("pitch", "proofed", "baked"), [(10, 2.3, 3.4), (12, 2.7, 4.0), (15, 3.4, 5.1), (20, 4.5, 6.7), (25, 5.6, 8.4)]
)
@pytest.mark.parametrize("pattern", ["parallel", "arcs"])
def test_gaps_worked_by_hand(pattern, pitch, proofed, baked):
    fit = topping_fit(
        BUN, piece=70, topping=28, pitch=f"{pitch} mm", pattern=pattern, density_baked=1 / 3.6, bake_loss_dough=10
    )
    assert 10 * fit.gap("proofed") == pytest.approx(proofed, abs=0.051)
    assert 10 * fit.gap("baked") == pytest.approx(baked, abs=0.051)
    assert fit.gap("shaped") == 0


def test_gaps_without_creep_worked_by_hand():
    fit = topping_fit(BUN, piece=70, topping=28, crust_creep=0, density_baked=1 / 3.6, bake_loss_dough=10)
    assert 10 * fit.gap("proofed") == pytest.approx(4.1, abs=0.05)
    assert 10 * fit.gap("baked") == pytest.approx(5.8, abs=0.05)
    assert FIT.stretch("proofed") == pytest.approx(1.275, abs=0.0005)
    assert FIT.stretch("baked") == pytest.approx(1.387, abs=0.0005)


def test_creep_that_a_wider_cover_betrays_worked_by_hand():
    """Seeing 60 % covered instead of 45 % means a creep of about 39 % of the area."""
    given_creep = brentq(
        lambda c: (
            topping_fit(
                BUN, piece=70, topping=28, disc=8.9, crust_creep=c, density_baked=1 / 3.6, bake_loss_dough=10
            ).cover("baked")
            - 60
        ),
        0,
        90,
    )
    assert given_creep == pytest.approx(39, abs=0.5)


# ---- laws --------------------------------------------------------------------------------------------------


@drawn()
@given(st.floats(0.2, 0.8), st.floats(0.2, 0.8))
def test_cover_falls_and_gap_grows_with_the_dome(one, other):
    light, dense = sorted((one, other))
    grown, less = (
        topping_fit(BUN, density_proofed=d, height_over_diameter_proofed=0.36, crust_creep=4) for d in (light, dense)
    )
    assert grown.proofed.area >= less.proofed.area
    assert grown.cover("proofed") <= less.cover("proofed") + 1e-9
    assert grown.gap("proofed") >= less.gap("proofed") - 1e-12
    if dense > light * 1.01:
        assert grown.cover("proofed") < less.cover("proofed")


@drawn()
@given(st.floats(10, 400), st.floats(5, 60))
def test_disc_is_wider_than_the_flattened_piece_and_thickness_is_constant_along_sizes(piece, topping):
    fit = topping_fit(BUN, piece=piece, topping=topping)
    assert fit.shaped.base_diameter < fit.disc < fit.shaped.whole_disc
    assert fit.disc == pytest.approx(fit.shaped.disc_leaving(0.5))
    # what the disc weighs: area x thickness x density
    assert fit.thickness * math.pi / 4 * fit.disc**2 * 1.22 == pytest.approx(topping)


@drawn()
@given(st.floats(1.05, 6), st.sampled_from(scorings.SCORED), st.floats(0, 12))
def test_gap_read_backwards_is_the_rise_of_a_piece_that_keeps_its_shape(ratio, pattern, creep):
    fit = topping_fit(
        BUN, density_proofed=0.85 / ratio, height_over_diameter_proofed=0.36, crust_creep=creep, pattern=pattern
    )
    if ratio >= fit.shows_at:
        assert fit.risen(fit.gap("proofed")) == pytest.approx(ratio)
    else:
        assert fit.gap("proofed") == 0
    assert fit.risen(0) == pytest.approx(fit.shows_at)


def test_plates_and_area_agree():
    """Plates that part both ways leave bare what the areas say: (1 + creep) / stretch^2."""
    fit = topping_fit(BUN, pattern="crossed", crust_creep=6)
    plate, cell = fit.pitch * (1 + fit.segment_creep), fit.pitch * fit.stretch("baked")
    assert plate + fit.gap("baked") == pytest.approx(cell)
    pressed = 100 * math.pi / 4 * fit.disc**2 / fit.shaped.area
    assert (plate / cell) ** 2 == pytest.approx(fit.cover("baked") / pressed)


def test_filling_makes_the_dome_larger_and_loss_the_baked_one_smaller():
    filled = topping_fit(BUN.vary(filling=22))
    assert filled.proofed.volume - topping_fit(BUN).proofed.volume == pytest.approx(20)  # 1.1 g per mL
    assert topping_fit(BUN, bake_loss_dough=20).baked.volume == pytest.approx(60 * 0.8 / 0.28)
    assert topping_fit(BUN).baked.volume == pytest.approx(60 * 0.895 / 0.28)  # the formula's own 10.5 %


# ---- bands against a seeded simulation ---------------------------------------------------------------------

RESULTS = ("base_diameter", "height", "area", "volume", "cover", "gap", "thickness", "stretch")


@pytest.fixture(scope="module")
def drawn():
    """120,000 draws of each figure's own spread, by the names of the calibration."""
    draw, kitchen = np.random.default_rng(7), Calibration()
    names = [
        f"{what}_{stage}" for what in ("density", "height_over_diameter") for stage in ("shaped", "proofed", "baked")
    ]
    names += ["topping_density", "crust_creep"]
    figures = {name: draw.normal(e.value, e.spread, 120_000) for name in names for e in [getattr(kitchen, name)]}
    return figures | {"bake_loss": draw.normal(10.5, 10.5 * (13 - 8) / 10 / (2 * 1.2815516), 120_000)}


@pytest.mark.parametrize("pattern", scorings.SCORED)
@pytest.mark.parametrize("stage", ["proofed", "baked"])
@pytest.mark.parametrize("what", RESULTS)
def test_bands_in_closed_form_against_simulation(what, stage, pattern, drawn):
    """Both ends of the 80 % band within 8 % of its width (first order: area bends with k); geometry anew."""
    fit = topping_fit(BUN, pattern=pattern)

    def measures(at):
        grams = 60 * (1 - drawn["bake_loss"] / 100) if at == "baked" else 60
        volume, k = grams / drawn[f"density_{at}"], drawn[f"height_over_diameter_{at}"]
        diameter = (volume * 6 / math.pi / (0.75 * k + k**3)) ** (1 / 3)
        area = math.pi / 4 * diameter**2 * (1 + 4 * k**2)
        return {"volume": volume, "base_diameter": diameter, "height": k * diameter, "area": area}

    found, creep, sheet = measures(stage), drawn["crust_creep"] / 100, math.pi / 4 * fit.disc**2
    found["stretch"] = np.sqrt(found["area"] / measures("shaped")["area"])
    found["gap"] = np.maximum(scorings.gap(fit, found["stretch"], creep), 0)
    found["cover"] = 100 * sheet * (1 + creep) / found["area"]
    found["thickness"] = 22 / drawn["topping_density"] / sheet
    low, high = np.quantile(found[what], [0.1, 0.9])
    band = fit.band(what, stage)
    assert band[0] == pytest.approx(low, abs=0.08 * (high - low))
    assert band[1] == pytest.approx(high, abs=0.08 * (high - low))


def test_a_wider_spread_gives_a_wider_band():
    narrow = Calibration().with_(density_proofed=Estimate(0.40, 0.01, bakes=8))
    wide, slim = (topping_fit(BUN, calibration=c).band("area", "proofed") for c in (None, narrow))
    assert slim[1] - slim[0] < wide[1] - wide[0]
    assert topping_fit(BUN, calibration=narrow).sources()["density_proofed"] == "given here"


def test_the_kitchens_own_figures_replace_the_defaults():
    own = Calibration().with_(density_proofed=of_bakes([0.45, 0.46, 0.44]), bake_loss_dough=of_bakes([8.0, 8.2, 8.1]))
    fit = topping_fit(BUN, calibration=own)
    assert fit.proofed.volume == pytest.approx(60 / 0.45)
    assert fit.baked.volume == pytest.approx(60 * 0.919 / 0.28)
    assert fit.sources()["density_proofed"] == "3 bakes of this kitchen"


# ---- many at once ------------------------------------------------------------------------------------------


def test_many_pieces_are_as_one_by_one():
    sizes = np.array([40.0, 60.0, 90.0])
    many = topping_fit(BUN.vary(piece=sizes))
    for n, size in enumerate(sizes):
        one = topping_fit(BUN, piece=size)
        for stage in ("shaped", "proofed", "baked"):
            assert many.cover(stage)[n] == pytest.approx(one.cover(stage))
            assert many.gap(stage)[n] == pytest.approx(one.gap(stage))
            assert many.band("area", stage)[1][n] == pytest.approx(one.band("area", stage)[1])
        assert (many.disc[n], many.thickness[n]) == pytest.approx((one.disc, one.thickness))


def test_many_formulas_give_arrays_of_their_shape():
    many = BUN.vary(butter=[10, 20, 30], sugar=[10, 14])
    fit = topping_fit(many)
    assert fit.cover("baked").shape == fit.gap("proofed").shape == (3, 2)
    assert "many pieces" in fit._repr_html_()
    with pytest.raises(FormulaError, match="choose one"):
        fit.segments()


# ---- segments for a drawing --------------------------------------------------------------------------------


def area(outline):
    x, y = outline[:, 0], outline[:, 1]
    return abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2


@pytest.mark.parametrize("pattern", dome.PATTERNS)
def test_segments_are_the_whole_disc_when_shaped_and_keep_their_area(pattern):
    fit = topping_fit(BUN, piece=70, topping=28, pattern=pattern)
    flat = dome.PATTERNS[pattern].cut(fit.disc, fit.pitch, 1.0, 0.0)
    assert sum(map(area, flat)) == pytest.approx(math.pi / 4 * fit.disc**2, rel=0.004)
    grown = dome.PATTERNS[pattern].cut(fit.disc, fit.pitch, 1.4, 0.05)
    assert sum(map(area, grown)) == pytest.approx(1.05 * math.pi / 4 * fit.disc**2, rel=0.004)
    for stage in ("shaped", "proofed", "baked"):
        on_dome = fit.segments(stage)
        assert len(on_dome) == len(flat)
        points = np.vstack(on_dome)
        cap = fit.dome(stage)
        rim = cap.sphere_radius - cap.height
        assert np.linalg.norm(points + [0, 0, rim], axis=1) == pytest.approx(cap.sphere_radius)  # all on the sphere
        assert points[:, 2].max() <= cap.height + 1e-9


@pytest.mark.parametrize("pattern", scorings.SCORED)
def test_section_shows_the_gaps(pattern):
    """The narrowest between whole pieces is the one told; all of one width where scores run one way or crosswise."""
    fit = topping_fit(BUN, piece=70, topping=28, pattern=pattern)
    shares = []
    for stage in ("proofed", "baked"):
        gaps = np.array(scorings.drawn(fit, stage))
        shares.append(gaps[1:-1] / scorings.gap(fit, fit.stretch(stage), fit.creep / 100))  # but those at the rim
        assert min(shares[-1]) == pytest.approx(1)
        assert fit.gap(stage) == pytest.approx(min(gaps[1:-1]), abs=1e-9)
        assert (gaps > 0).all()
    assert shares[0] == pytest.approx(shares[1])
    if pattern in scorings.MEANT:
        assert shares[0] == pytest.approx(1)


@pytest.mark.parametrize("pattern", scorings.SCORED)
@pytest.mark.parametrize("pitch", [1.5, 2.5, 2.9, 3, 3.7, 4, 6, 8, 8.3])
def test_the_gap_told_is_the_one_drawn_however_far_apart_the_scores(pattern, pitch):
    """Beside the middle piece, whole or not; read backwards it is the piece that was drawn."""
    fit = topping_fit(BUN, pattern=pattern, pitch=pitch)
    for stage in ("proofed", "baked"):
        gaps, middle = scorings.drawn(fit, stage), np.abs(fit.section(stage)[..., 0].sum(1)).argmin()
        beside, meant = min(gaps[max(middle - 1, 0) : middle + 1]), pattern in scorings.MEANT
        assert fit.gap(stage) == pytest.approx(beside, rel=1e-9 if meant else 0.01)
        assert fit.risen(beside) == pytest.approx(fit.stretch(stage) ** 3, rel=1e-9 if meant else 0.01)
    assert not meant or ("beside pieces at the rim" in " ".join(fit.notes)) == (3 * pitch > fit.disc)
    many = topping_fit(BUN, pattern=pattern, pitch=pitch, disc=[fit.disc, 8.7])
    assert np.ravel(many.gap("baked"))[0] == pytest.approx(fit.gap("baked"))


@pytest.mark.parametrize(("pitch", "gap"), [(3, 9.46), (4, 10.29), (8, 13.59)])
@pytest.mark.parametrize("pattern", ["parallel", "arcs"])
def test_gaps_beside_pieces_at_the_rim_worked_by_hand(pattern, pitch, gap):
    """Middles lie half of half a pitch and half a disc from the middle one's; times stretch less 1.05. No source."""
    fit = topping_fit(BUN, pattern=pattern, pitch=pitch)
    assert 10 * fit.gap("baked") == pytest.approx(gap, abs=0.005)
    assert fit.gap("baked") == pytest.approx((pitch / 2 + fit.disc / 2) / 2 * (fit.stretch("baked") - 1.05))


@pytest.mark.parametrize("pattern", ["parallel", "arcs", "crossed"])
def test_scores_wider_apart_than_the_disc_leave_it_in_one_piece(pattern):
    fit = topping_fit(BUN, pattern=pattern, pitch=8.5)
    assert (fit.scored, len(fit.section("baked")), fit.gap("baked"), fit.band("gap", "baked")) == (False, 1, 0, (0, 0))
    assert not any("dough shows" in note for note in fit.notes)
    with pytest.raises(FormulaError, match="nearer than it is wide"):
        fit.risen(0.3)


@pytest.mark.parametrize("pattern", dome.PATTERNS)
@pytest.mark.parametrize("disc", [8.4, 9.2])
def test_no_piece_leaves_the_rim_that_stretched_nor_the_dome(pattern, disc):
    """A disc no larger than the dome lies on it at every stage; its edge goes no farther than the dough under it."""
    for pitch in (1, 1.5, 2.5, 4, 8):
        fit = topping_fit(BUN, pattern=pattern, disc=disc, pitch=pitch)
        assert disc < fit.shaped.whole_disc
        for stage in ("shaped", "proofed", "baked"):
            assert min(outline[:, 2].min() for outline in fit.segments(stage)) >= -1e-9
        flat = np.vstack(dome.PATTERNS[pattern].cut(disc, pitch, 1.4, 0.05))
        assert np.hypot(*flat.T).max() <= 1.4 * disc / 2 + 1e-9


def test_a_new_scoring_is_one_line(monkeypatch):
    """Triangles between three sets of lines a pitch apart: as high as a pitch, two thirds of it from middle to middle.

    Mensuration: the middle of an equilateral triangle lies at a third of its height; areas of plates as they creep.
    """
    line = dome.Pattern(dome.straight((0, 0.5), (60, 0.5), (120, 0)), strips=False)
    monkeypatch.setitem(dome.PATTERNS, "triangles", line)
    fit, squares = (topping_fit(BUN, pattern=pattern, crust_creep=4) for pattern in ("triangles", "crossed"))
    for stage in ("proofed", "baked"):
        wide = 2 / 3 * fit.pitch * (fit.stretch(stage) - math.sqrt(1.04))
        assert fit.gap(stage) == pytest.approx(wide)
        assert fit.band("gap", stage) == pytest.approx([2 / 3 * end for end in squares.band("gap", stage)])
        assert fit.risen(wide) == pytest.approx(fit.stretch(stage) ** 3)
        cap, ends = fit.dome(stage), fit.section(stage)
        slant = np.sign(ends[..., 0]) * np.hypot(ends[..., 0], cap.height - ends[..., 1])
        gaps = (slant[1:, 0] - slant[:-1, 1])[1:-1]  # but those at the rim, whose pieces are cut short
        # across the upright set, and at 30 degrees to the cut across either of the others
        assert gaps == pytest.approx(np.resize([2 * wide, wide], len(gaps)))
    flat = line.cut(fit.disc, fit.pitch, 1.0, 0.0)
    assert sum(map(area, flat)) == pytest.approx(math.pi / 4 * fit.disc**2, rel=0.004)
    assert max(map(area, flat)) == pytest.approx(fit.pitch**2 / math.sqrt(3))  # of a triangle that high


def test_drawing_of_plain_numbers():
    x, z = FIT.baked.profile(5)
    assert z == pytest.approx([0, z[1], FIT.baked.height, z[1], 0], abs=1e-9)
    assert list(x) == sorted(x)
    frame = FIT.to_frame()
    assert list(frame.index) == ["shaped", "proofed", "baked"]
    assert frame.loc["proofed", "cover, %"] == FIT.cover("proofed")


# ---- what cannot be ----------------------------------------------------------------------------------------


def test_no_topping_is_one_clear_outcome():
    bare = Formula.from_weights("bun", {"flour": 100, "water": 55})
    with pytest.raises(FormulaError, match="'topping' must be a part of the formula"):
        topping_fit(bare)
    with pytest.raises(FormulaError, match="'topping' must be a mass above 0 g"):
        topping_fit(BUN.vary(topping=0))


def test_a_disc_smaller_than_the_piece_is_one_clear_outcome():
    with pytest.raises(FormulaError, match=r"'disc' must be wider than the flattened piece, 7\.9 cm \(got 7\.0 cm\)"):
        topping_fit(BUN, piece=70, topping=28, disc="70 mm")
    with pytest.raises(FormulaError, match=r"'disc' must be wider.*leave a smaller rim bare"):
        topping_fit(BUN, piece=70, topping=28, bare_rim=2)
    with pytest.raises(FormulaError, match="'disc'"):
        topping_fit(BUN, piece=[30, 70, 200], topping=28, disc=8.9)  # the largest of them
    assert "lie on the tray" in topping_fit(BUN, piece=70, topping=28, disc=10).notes[1]
    assert topping_fit(BUN, piece=70, topping=28, disc=12).cover("shaped") == 100


@pytest.mark.parametrize(
    ("given", "error", "words"),
    [
        ({"piece": -60}, FormulaError, "'piece' must be a mass above 0 g"),
        ({"topping": "0 g"}, FormulaError, "'topping'"),
        ({"pitch": 0}, AmountError, "'pitch'"),
        ({"disc": math.nan}, AmountError, "'disc'"),
        ({"bare_rim": -1}, AmountError, "'bare_rim'"),
        ({"pattern": "arc"}, UnknownName, "did you mean arcs"),
        ({"density_proofd": 0.4}, UnknownName, "did you mean density"),
        ({"density_proofed": 0}, AmountError, "'density_proofed' must be above 0"),
        ({"density_proofed": math.nan}, AmountError, "'density_proofed'"),
        ({"crust_creep": -2}, AmountError, "'crust_creep'"),
    ],
)
def test_what_cannot_be_is_said_in_words(given, error, words):
    with pytest.raises(error, match=words):
        topping_fit(BUN, **given)


def test_wrong_questions_to_a_fit():
    with pytest.raises(UnknownName, match="did you mean proofed"):
        FIT.cover("proofd")
    with pytest.raises(UnknownName, match="band"):
        FIT.band("crackle score")
    with pytest.raises(FormulaError, match="score the disc"):
        topping_fit(BUN, pattern="unscored").risen(0.3)
    assert topping_fit(BUN, pattern="unscored").gap("baked") == 0


def test_figures_beside_what_others_print():
    """The proofed density of one published loaf differs from the kit's: both are shown."""
    said = " ".join(FIT.notes)
    assert "density proofed is taken as 0.40" in said
    assert "0.33" in said
    assert "Review of breadmaking" in said
    assert "(derived)" in said
    html = FIT._repr_html_()
    assert "80 % band" in html
    assert "score" not in html.replace("scored", "")
