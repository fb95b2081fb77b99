"""Figures by their data: bars, lines, dots and words stand where the balance says."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text

import kit
from kit import Formula, places
from kit.balance import measures
from kit.show import look
from kit.show.chart import Chart
from kit.show.charts import (
    MAP_BUTTER,
    MAP_SUGAR,
    ClassMap,
    WaterSources,
    class_corners,
    map_lines,
    water_sources,
)

BUN = Formula.read(places.notebooks() / "formulas" / "crackle_bun.toml")
VARIANT = BUN.vary(butter=25, egg=20, sugar=18)


def drawn(chart):
    return chart(VARIANT, before=BUN)


def line(artist):
    return np.column_stack([np.asarray(side, float) for side in artist.get_data()])


def at(*points):
    return pytest.approx(np.array(points, float))


def words(artists):
    return [text.get_text() for text in artists if text.get_visible() and text.get_text()]


# stacked bars


PARTS = list(water_sources(BUN))


def widths(handle, row):
    return [handle.bars[row, name].get_width() for name in PARTS]


def test_bars_are_as_wide_as_the_figures():
    """USDA SR28, NDB 01077, whole milk: 88.13 g of water in 100 g."""
    handle = drawn(WaterSources)
    for row, formula in (("before", BUN), ("now", VARIANT)):
        for name, figure in {"milk": 0.8813 * formula.of_kind("milk"), "water": formula.of_kind("water")}.items():
            assert handle.bars[row, name].get_width() == pytest.approx(figure, abs=0.02), (row, name)
        lefts = [handle.bars[row, name].get_x() for name in PARTS]
        assert lefts == pytest.approx(np.cumsum([0, *widths(handle, row)[:-1]]))  # each begins where one ends
    assert handle.bars["before", "milk"].get_y() < handle.bars["now", "milk"].get_y()  # of an axis that runs down


def test_baseline_is_hollow_and_variant_filled():
    handle = drawn(WaterSources)
    for name in PARTS:
        filled = look.COLOURS["fat" if name == "butter" else name]
        assert to_rgb(handle.bars["before", name].get_facecolor()) == (1, 1, 1)
        assert to_rgb(handle.bars["now", name].get_facecolor()) == to_rgb(filled)
    assert not handle.bars["before", "butter"].get_hatch()
    assert handle.bars["now", "butter"].get_hatch()


def test_everything_in_the_variant_is_named_once():
    handle = WaterSources(BUN.vary(butter=50, sugar=2), before=BUN)
    for name, width in zip(PARTS, widths(handle, "now"), strict=True):
        inside = handle.words["now", name].get_text().startswith(f"{name}\n")
        beneath = handle.beneath["now"].get_text().count(f"{name} ")
        assert inside + beneath == (width > 0), name


def test_bars_beyond_the_axis_shrink_alike():
    huge = BUN.vary(butter=52, egg=60, sugar=32, milk=70, water=70)
    handle = drawn(WaterSources)
    handle.update(huge, before=BUN)
    for row, formula in (("before", BUN), ("now", huge)):
        whole = sum(widths(handle, row))
        assert whole < handle.highest + 1e-6
        assert whole / kit.total_hydration(formula) == pytest.approx(handle.highest / kit.total_hydration(huge))
    assert handle.highest < 0.9 * kit.total_hydration(huge)
    assert handle.ends["now"].get_text() == f"{kit.total_hydration(huge):.1f} %"


# the class map


@pytest.fixture
def map_():
    return ClassMap(VARIANT, before=BUN)


def test_fields_end_where_the_class_changes(map_):
    corners = [(patch.get_x() + patch.get_width(), patch.get_y() + patch.get_height()) for patch in map_.fields]
    expected = [(max(x, -0.5), max(y, -0.5)) for x, y in class_corners(VARIANT)]
    assert corners == [pytest.approx(corner) for corner in reversed(expected)]
    # the smallest field on top, each in the fill of its own class
    assert [to_rgb(patch.get_facecolor()) for patch in map_.fields] == [to_rgb(c) for c in look.CLASS_FILLS[3::-1]]
    sizes = [patch.get_width() for patch in map_.fields]
    assert sizes == sorted(sizes, reverse=True)


def test_the_field_under_a_point_is_its_class(map_):
    names = kit.dough_class(BUN).names
    for butter in (1, 7, 17, 23, 35, 49):
        for sugar in (1, 7, 16, 28):
            here = VARIANT.vary(butter=butter, sugar=sugar)
            inside = [
                p for p in map_.fields if butter < p.get_x() + p.get_width() and sugar < p.get_y() + p.get_height()
            ]
            fill = to_rgb(inside[-1].get_facecolor()) if inside else to_rgb(map_.ax.get_facecolor())
            assert to_rgb(look.CLASS_FILLS[names.index(kit.dough_class(here).name)]) == fill


def test_method_lines_are_at_the_printed_figures(map_):
    """A baking school's glossary: sugar above 12 %; fat 5-15 % at half development, above 15 % at four fifths."""
    lies = {word.get_text(): line(artist) for artist, word in zip(map_.method, map_.method_words, strict=True)}
    assert lies["sugar in once developed"][:, 1] == pytest.approx([12, 12])
    assert lies["fat in half developed"][:, 0] == pytest.approx([5, 5])
    assert lies["fat in at four fifths"][:, 0] == pytest.approx([15, 15])


def test_published_lines_are_at_the_printed_figures_and_name_their_source(map_):
    """A textbook, 2001: rich over 20. German code: stollen 30, butter stollen 40; fine ware over 10 on 90 of cereal.

    No living author stands on the chart; the table of sources cites him.
    """
    lines = {w.get_text(): line(artist) for artist, w in zip(map_.published, map_.published_words, strict=True)}
    for printed, who in ((20, "rich 20: a textbook"), (30, "stollen 30: German code"),
                         (40, "butter stollen 40: German code")):  # fmt: skip
        assert lines[who][:, 0] == pytest.approx([printed, printed])
    assert not any("einhart" in who for who in lines)
    (slanted,) = (points for who, points in lines.items() if who.startswith("fat + sugar 11.1"))
    assert slanted.sum(axis=1) == pytest.approx([100 / 9, 100 / 9], abs=0.005)


def test_lines_shift_by_other_fat_and_sugar():
    mixed = Formula.from_weights("mixed", {"flour": 100, "butter": 10, "lard": 4, "sugar": 10, "honey": 3})
    map_ = ClassMap(mixed)
    lies = {word.get_text(): line(artist) for artist, word in zip(map_.method, map_.method_words, strict=True)}
    assert lies["sugar in once developed"][:, 1] == pytest.approx([9, 9])
    assert lies["fat in at four fifths"][:, 0] == pytest.approx([11, 11])
    assert line(map_.published[0])[:, 0] == pytest.approx([16, 16])


def test_the_map_follows_a_houses_own_figures_in_lines_that_stay():
    """The same lines, once with a butter that is all fat: the dot moves on, whatever the lines say."""
    own = {"butter_unsalted": {"name": "unsalted butter", "fat_g_per_100g": "99.9", "water_g_per_100g": "0.1"}}
    rich = replace(BUN, ingredients=BUN.ingredients.with_rows(own, "own"))
    chart = ClassMap(BUN)
    chart.update(rich)
    assert chart.alt == ClassMap(rich).alt != ClassMap(BUN).alt


def test_marks_and_what_joins_them(map_):
    assert line(map_.base) == at((18, 16))
    assert line(map_.now) == at((25, 18))
    assert line(map_.joint) == at((18, 16), (25, 18))
    assert map_.say_now.get_text() == kit.dough_class(VARIANT).name == "rich"
    assert (map_.base.get_markerfacecolor(), map_.now.get_markerfacecolor()) == ("white", look.ACCENT)
    map_.update(BUN, before=BUN)
    assert line(map_.joint) == at((18, 16), (18, 16))
    assert not map_.say_base.get_visible()


def test_published_lines_are_hidden_until_asked_for(map_):
    assert not any(artist.get_visible() for artist in (*map_.published, *map_.published_words))
    map_.update(BUN, before=BUN, published=True)
    assert all(artist.get_visible() for artist in map_.published)


@pytest.mark.parametrize("published", [False, True])
@pytest.mark.parametrize("egg", [0.0, 16.0, 60.0])
def test_no_words_of_the_map_collide_anywhere(map_, egg, published):
    """Every 4 % of butter and of sugar: no two words overlap, none leaves the axis, the class is always told."""
    renderer = map_.ax.figure.canvas.get_renderer()
    words = [map_.say_now, map_.say_base, *map_.words, *map_.method_words, *map_.published_words]
    for butter in (*range(0, 56, 4), 55, 80):
        for sugar in (*range(0, 33, 4), 50):
            map_.update(BUN.vary(butter=butter, sugar=sugar, egg=egg), before=BUN, published=published)
            shown = [(word.get_text(), word.get_window_extent(renderer)) for word in words if word.get_visible()]
            assert map_.say_now.get_visible()
            for n, (text, box) in enumerate(shown):
                assert not [other for other, at in shown[:n] if box.overlaps(at)], (butter, sugar, text)
                assert map_.ax.bbox.x0 <= box.x0, text
                assert box.x1 <= map_.ax.figure.bbox.x1, text


def test_beyond_the_map_the_mark_waits_whole_at_its_edge(map_):
    map_.update(BUN.vary(butter=80, sugar=50), before=BUN)
    ((x, y),) = line(map_.now)
    assert 0 < MAP_BUTTER - x < 1
    assert 0 < MAP_SUGAR - y < 1
    assert map_.say_now.get_ha() == "right"
    assert map_.say_now.get_position()[1] < MAP_SUGAR - 2
    assert not map_.now.get_clip_on()
    map_.update(BUN.vary(butter=0, sugar=0), before=BUN)
    assert line(map_.now) == at((0, 0))


# what all of them keep to


def test_words_are_large_enough_and_axes_have_units():
    for chart in (ClassMap, WaterSources):
        figure = drawn(chart).ax.figure
        for text in figure.findobj(Text):
            if text.get_text():
                assert text.get_fontsize() * look.PIXELS / 72 >= 11, text.get_text()
        (ax,) = figure.axes
        said = " ".join([ax.get_xlabel(), ax.get_ylabel(), ax.get_title(loc="left")])
        assert "% of flour" in said


def luminance(colour):
    """Relative luminance, WCAG 2.1."""
    parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour)]
    return np.dot(parts, (0.2126, 0.7152, 0.0722))


def contrast(one, other):
    """Contrast ratio, WCAG 2.1, section 1.4.3."""
    dark, light = sorted([luminance(one), luminance(other)])
    return (light + 0.05) / (dark + 0.05)


def test_words_stand_out_from_what_they_lie_on():
    """WCAG 2.1, section 1.4.3: 4.5 to 1 for text."""
    for name, fill in look.COLOURS.items():
        assert contrast("white" if name in look.ON_DARK else look.INK, fill) >= 4.5, name
    for colour in (look.INK, look.QUIET, look.ACCENT):
        assert contrast(colour, "white") >= 4.5


def test_neighbours_differ_in_a_grey_print():
    order = [thing.replace("butter", "fat") for thing in PARTS]
    for one, other in zip(order, order[1:], strict=False):
        differ = contrast(look.COLOURS[one], look.COLOURS[other])
        assert look.HATCHES[one] != look.HATCHES[other] or differ > 1.5, (one, other)


def test_a_chart_draws_on_an_axis_of_ones_own_and_shows_itself_with_its_words():
    figure = Figure()
    handle = WaterSources(VARIANT, figure.subplots(), before=BUN)
    assert handle.ax.figure is figure
    handle.update(BUN)
    assert handle.ends["now"].get_text() == f"{kit.total_hydration(BUN):.1f} %"
    shown = handle._repr_html_()
    assert shown.count("data:image/png") == 1
    assert f'alt="{handle.alt}"' in shown
    assert f"in all {kit.total_hydration(BUN):.1f} %" in handle.alt


# what they show, against kit's own answers at the places shown


# Other fat, other sugar, two butters, none of either: what a map over butter and sugar must allow for.
MIXED = Formula.from_weights(
    "mixed",
    {"bread flour": 1000, "milk": 300, "egg": 200, "butter": 100, "salted butter": 60, "lard": 40, "honey": 50,
     "sugar": 80, "fresh yeast": 30, "salt": 12},
)  # fmt: skip
LEAN = Formula.from_weights("lean", {"bread flour": 1000, "water": 600, "salt": 20, "fresh yeast": 20})
FORMULAS = pytest.mark.parametrize("formula", [BUN, MIXED, LEAN], ids=lambda formula: formula.name)
NEAR = 0.01


@FORMULAS
def test_the_class_changes_at_each_corner_and_nowhere_else(formula):
    corners = class_corners(formula)
    assert len(corners) == 4
    seen = 0
    for step, (butter, sugar) in enumerate(corners, 1):
        for kind, at, other in (("butter", butter, sugar), ("sugar", sugar, butter)):
            still = {"butter": 0, "sugar": 0, kind: max(at - NEAR, 0)}
            if at - NEAR < 0:  # something else than butter and sugar already brings as much
                assert int(kit.dough_class(formula.vary(still)).code) >= step
            elif other > 0:
                seen += 1
                assert int(kit.dough_class(formula.vary(still)).code) == step - 1
                assert int(kit.dough_class(formula.vary(still | {kind: at + NEAR})).code) == step
    assert seen >= 4


@FORMULAS
def test_the_method_changes_at_each_line(formula):
    """A baking school's glossary: sugar above 12 % once developed; fat 5-15 % at half, above 15 % at four fifths."""
    lines, other_fat, other_sugar = map_lines(formula)
    as_weighed = measures(formula, ["fat_as_weighed", "sugar_as_weighed"])
    assert other_fat == pytest.approx(as_weighed["fat_as_weighed"] - formula.of_kind("butter"))
    begun = {"developed": ("sugar", 12), "half": ("butter", 5), "four_fifths": ("butter", 15)}
    assert sorted(when for when, _ in lines) == sorted(begun)
    for when, ((xa, ya), (xb, yb)) in lines:
        kind, printed = begun[when]
        at = xa if kind == "butter" else ya
        assert at == (xb if kind == "butter" else yb)
        assert at == pytest.approx(printed - (other_fat if kind == "butter" else other_sugar))
        read = "fat_when" if kind == "butter" else "sugar_when"
        sides = [getattr(kit.dough_class(formula.vary({kind: at + step})).mixing, read) for step in (-NEAR, NEAR)]
        assert (sides[0] == when, sides[1] == when) == (False, True)


@FORMULAS
def test_sources_of_water_add_up(formula):
    values = measures(formula)
    water = water_sources(formula)
    assert sum(water.values()) == pytest.approx(kit.total_hydration(formula))
    for thing, kind in (("egg", "egg"), ("butter", "butter"), ("milk", "milk")):
        without = kit.total_hydration(formula.vary({kind: variant_held(formula, kind)}))
        least = values["total_hydration"] - without
        assert water[thing] >= least - 1e-9


def variant_held(formula, kind):
    """What the preferment holds, the least that can be [% of flour]."""
    final = formula.part("dough")
    lines = zip(final.keys, final.percentages, strict=True)
    return formula.of_kind(kind) - sum(v for key, v in lines if formula.ingredients[key]["kind"] == kind)


class Dots(Chart):
    """Says one mark, at its value."""

    def _move(self, value):
        self.dot = self._dot(value, 0, True)
        return f"a dot at {value}"


def test_a_mark_moved_there_and_back_stands_where_it_is_said():
    chart = Dots(1.0)
    for value in (2.0, 1.0, 2.0):
        chart.update(value)
        assert chart.dot.get_xdata()[0] == value


def test_each_area_of_a_mark_begins_anew():
    outline = Dots(1.0)._area([np.zeros((3, 2)), np.zeros((4, 2))], "red").get_path()
    assert np.flatnonzero(outline.codes == outline.MOVETO).tolist() == [0, 4]  # closed: a point more than it has
