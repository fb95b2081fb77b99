"""Marks lie where matplotlib's own transforms put them, and look as matplotlib's own pictures do."""

import io
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from matplotlib import hatch
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.patches import PathPatch, Polygon
from matplotlib.path import Path
from matplotlib.patheffects import withStroke

from kit.show.overlay import Overlay, moving

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def figure():
    figure = Figure(figsize=(6, 4), dpi=100)
    figure.subplots().set(xlim=(0, 10), ylim=(0, 5))
    return figure


def svg(overlay):
    """Return the marks as one picture, as a page puts their parts together."""
    shared, *marks = overlay.parts().values()
    return f'<svg xmlns="{SVG[1:-1]}"><defs>{shared}</defs>{"".join(marks)}</svg>'


def drawn(overlay, tag):
    """Return the elements of one kind among the marks, definitions left out."""
    root = ET.fromstring(svg(overlay))
    return [element for group in root.findall(f"{SVG}g") for element in group.iter(SVG + tag)]


def numbers(outline):
    return np.array(re.findall(r"-?\d+\.\d+", outline), dtype=float).reshape(-1, 2)


def pixels(ax, x, y):
    """Where matplotlib puts points of the data, counted from the top left corner as in SVG 2, section 8.1."""
    points = ax.transData.transform(np.column_stack([x, y]))
    return np.column_stack([points[:, 0], ax.figure.bbox.height - points[:, 1]])


def ink(png):
    return imread(io.BytesIO(png))[..., :3].min(axis=2) < 0.5


@pytest.mark.parametrize("scale", ["linear", "log"])
def test_line_lies_on_the_data(figure, scale):
    (ax,) = figure.axes
    x, y = [1, 2, 4, 9], [1, 3, 2, 4]
    ax.set(yscale=scale, ylim=(0.5, 5))
    moving(ax.plot(x, y))
    (path,) = drawn(Overlay(figure), "path")
    assert numbers(path.get("d")) == pytest.approx(pixels(ax, x, y), abs=0.051)


def test_line_follows_its_data(figure):
    (ax,) = figure.axes
    (line,) = moving(ax.plot([1, 2], [1, 2]))
    overlay = Overlay(figure)
    svg(overlay)
    line.set_data([3, 5], [4, 1])
    (path,) = drawn(overlay, "path")
    assert numbers(path.get("d")) == pytest.approx(pixels(ax, [3, 5], [4, 1]), abs=0.051)


def test_bar_and_filled_band_lie_on_the_data(figure):
    (ax,) = figure.axes
    moving(ax.bar([2], [3], width=1))
    moving(ax.add_patch(Polygon([(5, 1), (7, 2), (7, 4), (5, 3)])))
    bar, band = (path.get("d") for path in drawn(Overlay(figure), "path"))
    corners = pixels(ax, [1.5, 2.5, 2.5, 1.5], [0, 0, 3, 3])
    assert numbers(bar)[:4] == pytest.approx(corners, abs=0.051)
    edges = {(round(x), round(y)) for x, y in pixels(ax, [5, 7, 5, 7], [1, 2, 3, 4])}
    assert edges == {(round(x), round(y)) for x, y in numbers(band)}


def test_curved_patch_keeps_its_curves(figure):
    (ax,) = figure.axes
    moving(ax.add_patch(PathPatch(Path([(2, 1), (5, 4), (8, 1)], [Path.MOVETO, Path.CURVE3, Path.CURVE3]))))
    (path,) = drawn(Overlay(figure), "path")
    assert re.fullmatch(r"M[\d., ]+ Q[\d., ]+", path.get("d"))


def test_markers_stand_on_the_data(figure):
    (ax,) = figure.axes
    moving(ax.plot([1, 2, 3], [3, 1, 2], "D", linestyle=""))
    uses = drawn(Overlay(figure), "use")
    places = np.array([[float(use.get("x")), float(use.get("y"))] for use in uses])
    assert places == pytest.approx(pixels(ax, [1, 2, 3], [3, 1, 2]), abs=0.051)


def test_unknown_points_break_a_line(figure):
    (ax,) = figure.axes
    moving(ax.plot([1, 2, 3, 4, 5], [1, 2, np.nan, 2, 1], "-o"))
    overlay = Overlay(figure)
    (path,) = drawn(overlay, "path")
    assert path.get("d").count("M") == 2
    assert len(drawn(overlay, "use")) == 4
    assert "nan" not in svg(overlay)


def test_dashes_and_width_are_in_pixels(figure):
    # 1 point is 1/72 inch (CSS Values 3, section 6.2)
    (ax,) = figure.axes
    moving(ax.plot([1, 2], [1, 2], linewidth=3.6, linestyle=(0, (2, 1))))
    (path,) = drawn(Overlay(figure), "path")
    assert float(path.get("stroke-width")) == pytest.approx(3.6 * 100 / 72)
    dashes = [float(length) for length in path.get("stroke-dasharray").split()]
    assert dashes == pytest.approx([2 * 3.6 * 100 / 72, 3.6 * 100 / 72], abs=0.051)  # matplotlib counts in widths


def test_colours_keep_their_opacity(figure):
    (ax,) = figure.axes
    moving(ax.axhspan(1, 2, facecolor="#336699", alpha=0.4))
    (path,) = drawn(Overlay(figure), "path")
    assert path.get("fill") == "#33669966"  # CSS Color 4, section 5.2: 0x66 is 40 % of 255


def test_hatch_is_defined_once_for_bars_alike(figure):
    (ax,) = figure.axes
    moving(ax.bar([1, 2, 3], [1, 2, 3], hatch="//", edgecolor="black", facecolor="white"))
    root = ET.fromstring(svg(Overlay(figure)))
    (pattern,) = root.iter(SVG + "pattern")
    users = [path for path in root.iter(SVG + "path") if path.get("fill") == f"url(#{pattern.get('id')})"]
    assert len(users) == 3


def test_hatch_is_as_dense_as_in_matplotlib(figure):
    moving(figure.axes[0].axhspan(1, 2, hatch="--"))
    (pattern,) = ET.fromstring(svg(Overlay(figure))).iter(SVG + "pattern")
    lines = pattern[0].get("d").count("M")
    whole_inch = hatch.get_path("--")  # what matplotlib's own writers repeat every 72 points
    assert 100 / float(pattern.get("height")) * lines == pytest.approx(
        (whole_inch.codes == whole_inch.MOVETO).sum(), 1e-4
    )


def test_marks_are_clipped_to_their_axes(figure):
    (ax,) = figure.axes
    moving(ax.plot([-5, 20], [1, 2]))
    moving(ax.plot([-5, 20], [2, 3], clip_on=False))
    overlay = Overlay(figure)
    root = ET.fromstring(svg(overlay))
    (clip,) = root.iter(SVG + "clipPath")
    groups = [group.get("clip-path") for group in root.iterfind(f"{SVG}g")]
    assert groups == [f"url(#{clip.get('id')})", None]
    left, top, *sides = (float(number) for number in re.findall(r"-?\d+\.\d", clip[0].get("d")))
    assert (left, top) == pytest.approx((ax.bbox.x0, 400 - ax.bbox.y1), abs=0.051)
    assert sides == pytest.approx([ax.bbox.width, ax.bbox.height, -ax.bbox.width], abs=0.051)


def test_one_mark_for_each_visible_moving_artist(figure):
    (ax,) = figure.axes
    ax.plot([1, 2], [1, 2])
    bars = moving(ax.bar([1, 2, 3], [1, 2, 3]))
    moving([ax.text(1, 1, "a"), figure.text(0.1, 0.9, "b"), ax.plot([1, 2], [3, 4], "o-")])
    overlay = Overlay(figure)
    assert len(ET.fromstring(svg(overlay)).findall(f"{SVG}g")) == 6
    bars[1].set_visible(False)
    assert len(ET.fromstring(svg(overlay)).findall(f"{SVG}g")) == 5


def test_marks_lie_in_the_order_of_their_heights(figure):
    (ax,) = figure.axes
    moving(ax.text(1, 1, "top", zorder=9))
    moving(ax.text(1, 1, "bottom", zorder=1))
    moving(ax.text(1, 1, "between", zorder=4))
    moving(figure.text(0, 0, "above all axes", zorder=1))
    assert [text.text for text in drawn(Overlay(figure), "text")] == ["bottom", "between", "top", "above all axes"]


def test_axes_keep_their_places_once_laid_over():
    figure = Figure(layout="constrained")
    ax = figure.subplots()
    moving(ax.plot([0, 1], [0, 1]))
    given = ax.get_position().bounds
    overlay = Overlay(figure)
    laid_out, before = ax.get_position().bounds, svg(overlay)
    assert laid_out != given
    ax.set_ylabel("two\nlines", size=30)
    overlay.picture()
    assert ax.get_position().bounds == laid_out
    assert svg(overlay) == before


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "a & b", "2 $ or 3 $", '"><img src=x onerror=alert(1)>'])
def test_names_stay_text(figure, name):
    moving(figure.axes[0].text(1, 1, name))
    overlay = Overlay(figure)
    (text,) = drawn(overlay, "text")
    assert text.text == name
    overlay.picture(50)  # a name that reads like an equation is not set as one


@pytest.mark.parametrize("va", ["top", "center", "baseline", "bottom", "center_baseline"])
@pytest.mark.parametrize("ha", ["left", "center", "right"])
def test_words_stand_where_matplotlib_measures_them(figure, ha, va):
    (ax,) = figure.axes
    label = moving(ax.text(5, 2.5, "hill", ha=ha, va=va, size=20))
    (text,) = drawn(Overlay(figure), "text")
    box = label.get_window_extent()
    expected = {"left": (box.x0, "start"), "center": ((box.x0 + box.x1) / 2, "middle"), "right": (box.x1, "end")}[ha]
    assert float(text.get("x")) == pytest.approx(expected[0], abs=1)
    assert text.get("text-anchor", "start") == expected[1]
    *_, descent = (
        FigureCanvasAgg(figure).get_renderer().get_text_width_height_descent("p", label.get_fontproperties(), False)
    )
    assert float(text.get("y")) == pytest.approx(400 - box.y0 - descent, abs=1)
    assert float(text.get("font-size")) == pytest.approx(20 * 100 / 72, abs=0.01)


def test_lines_of_words_lie_as_far_apart_as_matplotlib_has_them(figure):
    one, two, three = (
        moving(figure.axes[0].text(5, 2, "\n".join(["hill"] * n), va="center", size=20, linespacing=1.05))
        for n in (1, 2, 3)
    )
    at = [float(text.get("y")) for text in drawn(Overlay(figure), "text")]
    apart = three.get_window_extent().height - two.get_window_extent().height
    assert np.diff(at[3:]) == pytest.approx([apart, apart], abs=0.11)
    assert at[1] + at[2] == pytest.approx(2 * at[0], abs=0.21)
    assert at[4] == pytest.approx(at[0], abs=0.11)


def test_turned_words_turn_against_the_clock(figure):
    moving(figure.axes[0].text(5, 2, "upward", rotation=90))
    (text,) = drawn(Overlay(figure), "text")
    assert text.get("transform").startswith("rotate(-90.0 ")  # SVG turns with the clock (SVG 2, section 8.5)


def test_halo_lies_under_the_words_and_they_stay_words(figure):
    label = figure.axes[0].text(5, 2, "label", path_effects=[withStroke(linewidth=3.6, foreground="white")])
    moving(label)
    (words,) = drawn(Overlay(figure), "text")
    assert (words.get("stroke"), words.get("stroke-width")) == ("#ffffff", "5.00")
    assert words.get("paint-order") == "stroke"  # first the outline, then the words (SVG 2, section 13.8)
    assert (words.get("fill"), words.text) == ("#000000", "label")
    assert len(label.get_path_effects()) == 1


def test_still_picture_leaves_out_only_what_moves(figure):
    (ax,) = figure.axes
    ax.plot([1, 2], [1, 2], color="#123456", linewidth=9)
    (line,) = moving(ax.plot([1, 2], [2, 1], color="#abcdef", linewidth=9))
    overlay = Overlay(figure)

    def colours(moving):
        pixels = imread(io.BytesIO(overlay.picture(100, moving)))[..., :3].reshape(-1, 3)
        return {to_hex(pixel) for pixel in np.unique(pixels, axis=0)}

    assert "#123456" in colours(False)
    assert "#abcdef" not in colours(False)
    assert {"#123456", "#abcdef"} <= colours(True)
    assert line.get_visible()
    assert "#abcdef" in svg(overlay)


def test_picture_holds_what_moves(figure):
    (ax,) = figure.axes
    bar = moving(ax.bar([5], [5], width=4, color="black"))
    overlay = Overlay(figure)
    before = svg(overlay)
    full = ink(overlay.picture(200))
    assert full.shape == (800, 1200)
    bar[0].set_visible(False)
    (left, top), (right, bottom) = pixels(ax, [3, 7], [5, 0])
    added = full & ~ink(overlay.picture(200))
    assert added.sum() == pytest.approx(2 * (right - left) * 2 * (bottom - top), rel=0.02)
    bar[0].set_visible(True)
    assert svg(overlay) == before  # the resolution of the picture leaves no trace


def test_two_charts_on_one_page_share_no_name(figure):
    moving(figure.axes[0].plot([1, 2], [1, 2]))
    pages = [svg(Overlay(figure)) for _ in range(2)]
    names = [set(re.findall(r'id="([^"]+)"', page)) for page in pages]
    assert names[0]
    assert not names[0] & names[1]
