"""Charts of the trial book: what is drawn, measured against numbers worked by hand, tables of t, and scipy."""

import itertools

import numpy as np
import pytest
from matplotlib import font_manager
from matplotlib.colors import to_hex
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from kit.errors import AmountError
from kit.show import look, picture_of
from kit.show.overlay import Overlay
from kit.show.pictures import charts_of
from kit.show.trial_charts import CheckedChart, LineageTree, ResponseDots
from kit.trials import Trial, lineage, side_by_side
from kit.trials.calibrating import Checked

LIMIT = 4.3027 * 2**0.5  # Student's t, 97.5 %, two degrees of freedom: any published table


def bake(name, day, **readings):
    return Trial.of(name, f"2025-03-{day:02d}", planned_oven_set=readings.pop("oven", 180), **readings)


@pytest.fixture
def repeats():
    """One plan baked three times: heights scatter by 1, so that two single bakes differ by up to LIMIT."""
    some = ("first", 3, 40), ("again", 10, 42), ("once more", 17, 41)
    return [bake(name, day, height=height, diameter=60 + height) for name, day, height in some]


@pytest.fixture
def side(repeats):
    other = bake("hotter", 11, oven=200, height=44, diameter=200)
    return side_by_side([repeats[0], other], kitchen=repeats)


def axes():
    return look.figure(430, 400).add_axes([0.3, 0.2, 0.5, 0.7])


def drawn(value):
    """Return [(figure, its words)] of what is shown of a value."""
    return [(chart.ax.figure, chart.alt) for chart in charts_of(value)]


def lines(ax, marker):
    return [line for line in ax.lines if line.get_marker() == marker]


def test_dots_stand_at_the_bakes_and_the_band_at_what_repeats_differ_by(side):
    ax = axes()
    chart = ResponseDots(side, ax, response="height")
    assert [tuple(dot.get_xdata()) for dot in lines(ax, "o")] == [(40,), (44,)]
    (band,) = [patch for patch in ax.patches if isinstance(patch, Rectangle)]
    assert band.get_x() == pytest.approx(40 - LIMIT, abs=0.001)
    assert band.get_width() == pytest.approx(2 * LIMIT, abs=0.002)
    assert chart.alt == "Height of first 40.0 mm and hotter 44.0 mm."
    assert [to_hex(dot.get_markerfacecolor()) for dot in lines(ax, "o")] == ["#ffffff", look.ACCENT]


def test_several_bakes_show_their_range_and_mean(repeats):
    """By hand: 44, 47 and 50 have the mean 47."""
    three = [bake("hotter", 11 + n, oven=200, height=height) for n, height in enumerate((44, 47, 50))]
    ax = axes()
    ResponseDots(side_by_side([repeats[:2], three], kitchen=repeats), ax, response="height")
    drawn = [(tuple(line.get_xdata()), tuple(line.get_ydata())) for line in ax.lines]
    assert [tuple(dot.get_xdata()) for dot in lines(ax, "o")] == [(40, 42), (44, 47, 50)]
    assert ((44, 50), (1, 1)) in drawn
    assert any(x == (47, 47) and np.ptp(y) > 0 for x, y in drawn)
    assert any("3 bakes, 3 readings" in text.get_text() for text in ax.texts)


def test_what_was_not_measured_is_said(repeats):
    ax = axes()
    ResponseDots(side_by_side([repeats[0], bake("hotter", 11, oven=200)], kitchen=repeats), ax, response="height")
    assert any(text.get_text() == "hotter: not measured" for text in ax.texts)


def test_nothing_measured_says_what_to_do():
    ax = axes()
    chart = ResponseDots(side_by_side([bake("a", 1), bake("b", 2, oven=200)]), ax)
    assert "enter heights" in chart.alt
    assert not ax.lines


def test_the_tree_joins_each_variant_to_its_parent():
    plain = bake("plain", 1, verdict="keep")
    rich = bake("rich", 2, verdict="drop").with_entry("parent", plain)
    sweet = bake("sweet", 3).with_entry("parent", plain)
    tree, ax = lineage([plain, rich, sweet]), axes()
    chart = LineageTree(tree, ax)
    edges = [line for line in ax.lines if len(line.get_xdata()) == 4]
    ends = {(line.get_ydata()[0], line.get_ydata()[-1]) for line in edges}
    at = {text.get_text().partition(" · ")[0]: text.get_position()[1] for text in ax.texts}
    assert ends == {(at["plain"], at["rich"]), (at["plain"], at["sweet"])}
    marks = [(line.get_marker(), to_hex(line.get_markerfacecolor())) for line in ax.lines if len(line.get_xdata()) == 1]
    assert sorted(marks) == sorted([("o", look.ACCENT), ("X", "#ffffff"), ("o", "#ffffff")])
    assert {"plain · keep", "rich · drop", "sweet"} <= {text.get_text() for text in ax.texts}
    assert chart.alt.startswith("Tree of 3 variants in 2 generations from 1 root; 1 with")


def generations(deep, name="crackle bun, more butter"):
    chain = [bake(f"{name} {n}", n + 1) for n in range(deep)]
    return [chain[0], *(after.with_entry("parent", before) for before, after in itertools.pairwise(chain))]


@pytest.mark.parametrize("deep", [4, 14])
def test_many_generations_are_an_outline_that_keeps_their_names(deep):
    """A row a trial, each beneath its parent's earlier variants; deeper to the right; no name is cut."""
    chain = generations(deep)
    aside = bake("aside", 20).with_entry("parent", chain[1])
    ((figure, _),) = drawn(lineage([*chain[:2], aside, *chain[2:]]))
    (ax,) = figure.axes
    figure.draw_without_rendering()
    words = {text.get_text(): text for text in ax.texts}
    order = [chain[0].name, chain[1].name, "aside", *(trial.name for trial in chain[2:])]
    assert [words[name].get_position()[1] for name in order] == list(range(deep + 1))
    lefts = [words[trial.name].get_position()[0] for trial in chain]
    assert lefts == sorted(set(lefts))
    assert words["aside"].get_position()[0] == lefts[2]
    assert all(text.get_window_extent().x1 < figure.bbox.width for text in ax.texts)


def test_a_decision_stands_beside_its_bake():
    kept = bake("plain", 1).with_entry("verdict", "keep").with_entry("reason", "softer on day 2")
    ((figure, _),) = drawn(lineage([kept]))
    assert any(text.get_text() == "plain · keep: softer on day 2" for text in figure.axes[0].texts)


@pytest.mark.parametrize("deep", [1, 3, 6, 27])
def test_the_longest_and_widest_name_ends_inside_the_picture(deep):
    ((figure, _),) = drawn(lineage(generations(deep, "W" * 190)))
    figure.draw_without_rendering()
    names = [text for text in figure.axes[0].texts if text.get_text().startswith("W")]
    assert len(names) == deep
    assert all(text.get_text().endswith("…") for text in names)
    assert all(text.get_window_extent().x1 < figure.bbox.width for text in names)


@pytest.fixture
def checked():
    rows = [("T-001", 50, 45, 55, 52), ("T-002", 52, 47, 57, 58), ("T-003", 48, 43, 53, 50)]
    return Checked(tuple((code, "bulk time", "min", *figures) for code, *figures in rows))


def test_bands_stand_off_what_was_measured_and_those_outside_are_named(checked):
    """By hand: off by -2, -6 and -2 min, root mean square 3.8; only 58 is outside 47 to 57, 11 to 1 min above."""
    ax = axes()
    chart = CheckedChart(checked, ax, quantity="bulk time")
    wide = [line for line in ax.lines if len(line.get_xdata()) == 2 and line.get_linewidth() > 2]
    assert [tuple(line.get_xdata()) for line in wide] == [(0, 0), (1, 1), (2, 2)]
    assert [tuple(line.get_ydata()) for line in wide] == [(-7, 3), (-11, -1), (-7, 3)]
    assert [tuple(line.get_ydata()) for line in lines(ax, "o")] == [(-2,), (-6,), (-2,)]
    assert ax.get_xlabel() == "3 bakes, T-001 to T-003\noutside: T-002"
    assert chart.alt.startswith("Bulk time: 2 of 3 bakes within their 80 % band; outside: T-002; error 3.8 min")
    assert ax.get_ylim()[0] < -11 < 3 < ax.get_ylim()[1]
    assert any(set(line.get_ydata()) == {0} for line in ax.lines)


def test_the_default_stands_hollow_beside_the_kitchens_own(checked):
    before = Checked(tuple((code, *rest[:2], value + 10, low + 10, high + 10, measured)
                           for code, *rest, value, low, high, measured in checked.rows))  # fmt: skip
    ax = axes()
    CheckedChart(Checked(checked.rows, before), ax, quantity="bulk time")
    fills = [to_hex(line.get_markerfacecolor()) for line in lines(ax, "o")]
    assert (fills.count("#ffffff"), fills.count(look.ACCENT)) == (3, 3)
    assert any("by default" in text.get_text() for text in ax.texts)
    left, right = ([dot.get_xdata()[0] for dot in lines(ax, "o") if to_hex(dot.get_markerfacecolor()) == fill]
                   for fill in ("#ffffff", look.ACCENT))  # fmt: skip
    assert all(a < n < b for n, (a, b) in enumerate(zip(left, right, strict=True)))  # bands on each other hide


def test_a_bake_of_another_size_leaves_room_for_the_others():
    """Three of 70 g and one of 110 g: dots stand apart by a bake's width, and bands of 2 g are a third of the chart."""
    rows = [("T-001", 70, 71), ("T-002", 71, 70), ("T-003", 72, 72), ("T-004", 110, 112)]
    ax = axes()
    CheckedChart(Checked(tuple((code, "baked mass", "g", f, f - 1, f + 1, m) for code, f, m in rows)), ax)
    assert [line.get_xdata()[0] for line in lines(ax, "o")] == [0, 1, 2, 3]
    assert 2 / np.ptp(ax.get_ylim()) > 0.3


@pytest.mark.parametrize("name", ["costs 5$ or 6$", "$x^2$", r"half a $\frac{1}{2"])
def test_names_are_drawn_letter_by_letter(name, checked):
    """As text and never as an equation, in every chart, on one's own axis and in a picture."""
    odd, other = bake(name, 1, height=40, diameter=100), bake("$a$ and $b$", 2, oven=200, height=44, diameter=103)
    side = side_by_side([odd, other], kitchen=[odd, bake(name, 5, height=41, diameter=102), other])
    own = Checked(tuple((name, *rest) for _, *rest in checked.rows))
    pictures = [figure for value in (side, lineage([odd, other]), own) for figure, _ in drawn(value)]
    shown = [text for figure in pictures for text in figure.findobj(Text) if "$" in text.get_text()]
    assert len(shown) >= 2
    assert not any(text.get_parse_math() for text in shown)
    for figure in pictures:
        Overlay(figure).picture()
    figure = look.figure(200, 100)
    ax = figure.add_axes([0, 0, 1, 1])
    ax.set_yticks([0], [name])
    titled = ax.set_title(name)
    Overlay(figure).picture()
    assert not any(text.get_parse_math() for text in (titled, *ax.get_yticklabels()))


def test_a_letter_that_the_type_lacks_is_looked_for_in_an_installed_font(monkeypatch):
    word = axes().text(0, 0, "bun \N{CROISSANT}")
    monkeypatch.setattr(font_manager, "get_font_names", lambda: ["DejaVu Sans"])
    look.as_written(word)
    assert word.get_fontfamily() == ["sans-serif"]
    monkeypatch.setattr(font_manager, "get_font_names", lambda: ["DejaVu Sans", "Symbola"])
    look.as_written(word)
    look.as_written(word)
    assert word.get_fontfamily() == ["sans-serif", "Symbola"]


def test_a_chart_draws_another_value_in_place_of_the_last(checked, side):
    ax = axes()
    chart = CheckedChart(checked, ax, quantity="bulk time")
    count = len(ax.lines)
    chart.update(checked, quantity="bulk time")
    assert len(ax.lines) == count


def test_stills_carry_words_and_other_values_are_refused(side, checked):
    for value in (side, lineage([bake("plain", 1)]), checked):
        html = picture_of(value)._repr_html_()
        assert html.count("<img") == html.count('alt="') == len(picture_of(value).pictures)
        assert 'alt=""' not in html
    with pytest.raises(AmountError, match="'value' must be what kit computes"):
        picture_of(42)


@pytest.mark.parametrize("count", [2, 8])
def test_words_are_large_enough_and_inside_their_figure(repeats, count):
    others = [bake(f"oven {n}", 11 + n, oven=190 + n, height=41 + n, diameter=100 + n) for n in range(count - 1)]
    for figure, _ in drawn(side_by_side([repeats[0], *others], kitchen=repeats)):
        figure.draw_without_rendering()
        for text in [t for ax in figure.axes for t in (*ax.texts, *ax.get_yticklabels(), ax.title, ax.xaxis.label)]:
            if text.get_text() and text.get_visible():
                assert text.get_size() >= 8.2
                box = text.get_window_extent()
                assert box.x0 >= 0, text
                assert box.x1 <= figure.bbox.width, text
                assert box.y0 >= 0, text
