"""The four panels of what a formula will do, moved in JupyterLab by keyboard, box and choice, on laptop and tablet."""

import re

import conftest
import lab
import pytest
from conftest import write_notebook

pytestmark = pytest.mark.browser
page = conftest.module_page

# those that are shown: what does nothing as the choices stand, and what is folded, is not
CONTROLS = [
    {"dough aimed at, °C", "room, °C", "water as it comes, °C", "flour, °C", "egg, °C", "unsalted butter, °C",
     "whole milk, °C", "sponge, °C", "mixing warms it by, °C"},
    {"dough, °C", "yeast, as fresh, %", "sugar, %", "salt, %"},
    {"piece of dough, g", "topping, g", "bare rim, mm", "from score to score, mm"},
    {"batch, pieces", "oven takes, trays", "mixer takes dough, kg", "sponge, min", "bulk, min", "proof, min",
     "cool, min"},
]  # fmt: skip
WATER, RISE, TOPPING, DAY = range(4)


@pytest.fixture(scope="module")
def panels(page, server):
    """The panels in their order, all run; no error before and after."""
    names = ("WaterPanel", "RisePanel", "ToppingPanel", "DayPanel")
    cells = [f"import kit\nkit.show.{name}(kit.at_hand())" for name in names]
    write_notebook(server.folder / "generated" / "foreseen.ipynb", *cells)
    lab.open_notebook(page, "generated/foreseen.ipynb")
    lab.run_all(page)
    panels = page.locator(f"{lab.NOTEBOOK} .kit-panel")
    assert lab.errors_in_outputs(page) == []
    yield panels
    assert lab.errors_in_outputs(page) == []
    assert lab.console_errors(page) == []


def says(panel, figure=0):
    """The words beside a figure."""
    return panel.locator("svg[role=img]").nth(figure).get_attribute("aria-label")


def test_every_control_has_a_name_and_every_picture_words(page, panels):
    for number, names in enumerate(CONTROLS):
        panel = panels.nth(number)
        panel.scroll_into_view_if_needed()
        shown = [handle for handle in panel.get_by_role("slider").all() if handle.is_visible()]
        assert {handle.get_attribute("aria-label") for handle in shown} == names
        assert all(len(svg.get_attribute("aria-label")) > 40 for svg in panel.locator("svg[role=img]").all())
        for name in ("undo", "reset"):
            assert panel.get_by_role("button", name=name).count() == 1
    for name in ("shaped", "proofed", "baked", "arcs", "parallel", "crossed", "unscored", "my cutter", "rolled to"):
        assert panels.nth(TOPPING).get_by_label(name, exact=True).count() == 1


def test_sliders_choices_and_boxes_move_each_picture(page, panels):
    topping = panels.nth(TOPPING)
    lab.press(page, topping.get_by_role("slider", name="piece of dough, g"), times=10)
    topping.get_by_label("baked", exact=True).check()
    topping.get_by_label("crossed", exact=True).check()
    lab.wait_idle(page)
    # 98.0 mm at 60 g; lengths go with the cube root of the mass.
    assert re.search(rf"baked: {98.0 * (70 / 60) ** (1 / 3):.0f} mm wide, .* scores crossed", says(topping))
    topping.get_by_role("button", name="undo").click()
    lab.wait_idle(page)
    assert "scores arcs" in says(topping)
    assert topping.get_by_label("arcs", exact=True).is_checked()

    rise = panels.nth(RISE)
    before = says(rise)
    rise.get_by_label("final proof", exact=True).check()
    rise.get_by_label("sugar-tolerant strain").check()
    lab.wait_idle(page)
    assert before.startswith("Bulk")
    assert says(rise).startswith("Final proof")
    assert "strain of yeast" in says(rise, 1)

    water = panels.nth(WATER)
    box = water.get_by_role("textbox", name="flour:", exact=True)
    box.fill("50 °F")
    box.press("Enter")
    lab.wait_idle(page)
    assert box.input_value() == "10"
    assert "factor rule of the trade: 29 °C" in water.inner_text()
    water.get_by_text("Why?").click()
    lab.wait_idle(page)
    assert water.get_by_role("img", name=re.compile("^From factor rule, 29.3 °C")).is_visible()

    day = panels.nth(DAY)
    sale = day.get_by_role("textbox", name="on sale at")
    sale.fill("03:30")
    sale.press("Enter")
    lab.wait_idle(page)
    assert "sponge 22:00 the day before" in says(day)
    sale.fill("quarter past")
    sale.press("Enter")
    lab.wait_idle(page)
    assert "write it like 07:00" in day.get_by_role("alert").inner_text()
    assert "sponge 22:00 the day before" in says(day)
    day.get_by_role("button", name="reset").click()
    lab.wait_idle(page)
    assert day.get_by_role("alert").count() == 0


def test_they_fit_and_their_words_are_large_enough(page, panels):
    for size in lab.at_sizes(page):
        wide, sizes = lab.panels_laid_out(page)
        assert wide == []
        assert len(sizes) > 30  # the words that move; those of the axes stand in the still picture beneath them
        assert min(sizes) >= 11
        assert size != lab.LAPTOP or lab.too_wide(page) == []


def test_what_is_folded_opens_by_keyboard(page, panels):
    topping = panels.nth(TOPPING)
    header = topping.get_by_role("button", name="What it rests on")
    assert header.get_attribute("aria-expanded") == "false"
    header.press("Enter")
    lab.wait_idle(page)
    assert header.get_attribute("aria-expanded") == "true"
    assert topping.get_by_role("table").first.is_visible()
    header.press("Space")
    lab.wait_idle(page)
    assert header.get_attribute("aria-expanded") == "false"
