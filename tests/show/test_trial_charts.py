"""The chart of bakes side by side: what is drawn, measured against numbers worked by hand, tables of t, and scipy."""

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
from kit.show.trial_charts import ResponseDots
from kit.trials import Trial, side_by_side

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


@pytest.mark.parametrize("name", ["costs 5$ or 6$", "$x^2$", r"half a $\frac{1}{2"])
def test_names_are_drawn_letter_by_letter(name):
    """As text and never as an equation, in every chart, on one's own axis and in a picture."""
    odd, other = bake(name, 1, height=40, diameter=100), bake("$a$ and $b$", 2, oven=200, height=44, diameter=103)
    side = side_by_side([odd, other], kitchen=[odd, bake(name, 5, height=41, diameter=102), other])
    pictures = [figure for figure, _ in drawn(side)]
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


def test_a_chart_draws_another_value_in_place_of_the_last(side):
    ax = axes()
    chart = ResponseDots(side, ax, response="height")
    count = len(ax.lines)
    chart.update(side, response="diameter")
    assert len(ax.lines) == count


def test_stills_carry_words_and_other_values_are_refused(side):
    html = picture_of(side)._repr_html_()
    assert html.count("<img") == html.count('alt="') == len(picture_of(side).pictures)
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
