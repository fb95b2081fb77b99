"""Each control of the formula panel, moved in JupyterLab by keyboard and by mouse, on a laptop and a tablet."""

import re

import lab
import pytest

pytestmark = pytest.mark.browser

NAME = "start_here.ipynb"
PICTURE = ".widget-html-content:has(svg)"


@pytest.fixture
def panel(page):
    lab.open_notebook(page, NAME)
    lab.run_all(page)
    panel = page.locator(f"{lab.NOTEBOOK} .kit-panel").first
    panel.scroll_into_view_if_needed()
    yield panel
    assert lab.errors_in_outputs(page) == []
    assert lab.console_errors(page) == []


def box(panel, name):
    return panel.get_by_role("textbox", name=f"{name}:", exact=True)


def says(panel):
    """The words beside the first figure."""
    return panel.locator("svg[role=img]").first.get_attribute("aria-label")


def enter(page, panel, name, text):
    box(panel, name).fill(text)
    box(panel, name).press("Enter")
    lab.wait_idle(page)


def unfold(page, panel, title):
    panel.get_by_text(title).click()
    lab.wait_idle(page)


def test_keyboard_moves_each_main_slider_and_undo_and_reset_bring_it_back(page, panel):
    for name, start in (("butter", 18), ("egg", 16), ("sugar", 16)):
        lab.press(page, panel.get_by_role("slider", name=f"{name}, %", exact=True), times=10)
        assert float(box(panel, name).input_value()) == start + 2.5
    assert "butter 20.5 and sugar 18.5" in says(panel)
    panel.get_by_role("button", name="undo").press("Enter")
    lab.wait_idle(page)
    assert "butter 20.5 and sugar 16.0" in says(panel)
    panel.get_by_role("button", name="reset").press("Enter")
    lab.wait_idle(page)
    assert "butter 18.0 and sugar 16.0" in says(panel)
    assert panel.get_by_role("status").filter(has_text="Nothing has moved").count() == 1
    panel.get_by_role("button", name="undo").click()
    lab.wait_idle(page)
    assert "butter 20.5 and sugar 16.0" in says(panel)


def test_mouse_drags_a_slider(page, panel):
    handle = panel.get_by_role("slider", name="butter, %", exact=True)
    handle.scroll_into_view_if_needed()
    at = handle.bounding_box()
    x, y = at["x"] + at["width"] / 2, at["y"] + at["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 21):
        page.mouse.move(x + 2 * step, y)
    page.mouse.up()
    lab.wait_idle(page)
    moved = float(box(panel, "butter").input_value())
    assert moved > 22
    assert f"butter {moved:.1f}" in says(panel) or f"butter {moved - 0.05:.1f}" in says(panel)


def test_what_is_folded_away_moves_too(page, panel):
    unfold(page, panel, "More to move")
    percentages = (("yolk", 0, 0.25), ("milk", 32, 0.25), ("water", 14, 0.25), ("salt", 1.6, 0.05))
    for name, start, step in (*percentages, ("topping to dough", 22 / 60, 0.005)):
        handle = panel.get_by_role("slider", name=re.compile(f"^{name}, (%|g per g)$"))
        lab.press(page, handle, times=2)
        assert float(box(panel, name).input_value()) == pytest.approx(start + 2 * step, abs=step / 2)
    assert "g per g" in panel.locator(PICTURE).inner_text()


def test_a_box_takes_what_bakers_write_and_refuses_nonsense_in_words(page, panel):
    enter(page, panel, "butter", "22 1/2")
    assert "butter 22.5" in says(panel)
    picture = panel.locator(PICTURE).inner_html()
    for nonsense, words in (("plenty", "must be a number"), ("0.15", "did you mean 15 %?"), ("-3", "0 % or more")):
        enter(page, panel, "butter", nonsense)
        assert words in panel.get_by_role("alert").inner_text()
        assert panel.locator(PICTURE).inner_html() == picture
    enter(page, panel, "butter", "23")
    assert panel.get_by_role("alert").count() == 0
    assert "butter 23.0" in says(panel)


def test_water_follows_or_says_why_it_cannot(page, panel):
    panel.get_by_role("checkbox", name="keep total hydration: water follows").check()
    lab.wait_idle(page)
    enter(page, panel, "egg", "25")
    assert "total hydration 60.4" in says(panel)
    enter(page, panel, "egg", "60")
    assert "the most egg that water can make up for" in panel.get_by_role("alert").inner_text()
    assert "total hydration 60.4" in says(panel)
    panel.get_by_role("checkbox").first.press("Space")
    lab.wait_idle(page)
    assert panel.get_by_role("alert").count() == 0


def test_keep_puts_a_file_into_the_folder(page, panel, server):
    enter(page, panel, "sugar", "18")
    panel.get_by_role("textbox", name="keep as").fill("Sweeter bun of a test")
    panel.get_by_role("button", name="keep variant").click()
    lab.wait_idle(page)
    (path,) = (server.folder / "formulas").glob("sweeter_bun_of_a_test.toml")
    assert "sugar = 18" in path.read_text(encoding="utf-8")
    shown = panel.get_by_role("status").filter(has_text="Kept as").inner_text()
    assert "sweeter_bun_of_a_test.toml" in shown
    assert "crackle_bun.toml" in shown


def test_the_table_behind_unfolds(page, panel):
    enter(page, panel, "butter", "25")
    assert panel.get_by_role("table").count() == 0
    unfold(page, panel, "The table behind it")
    table = panel.get_by_role("table")
    assert (
        table.get_by_role("row")
        .filter(has_text="total hydration, % of flour")
        .inner_text()
        .split("\t")[-1]
        .startswith("unsalted butter +1.26")
    )
    unfold(page, panel, "The table behind it")
    assert table.count() == 0 or not table.is_visible()


def test_every_control_has_a_name_of_its_own(page, panel):
    unfold(page, panel, "More to move")
    for role, count in (("slider", 8), ("textbox", 9), ("checkbox", 1)):
        controls = panel.get_by_role(role)
        assert controls.count() == count
        names = re.findall(rf'\b{role} "([^"]+)"', panel.aria_snapshot())
        assert len(set(names)) == count, names
    for name in ("undo", "reset", "keep variant"):
        assert panel.get_by_role("button", name=name, exact=True).count() == 1


@pytest.mark.parametrize("size", [lab.LAPTOP, lab.TABLET_UPRIGHT], ids=["laptop", "tablet upright"])
def test_it_fits_and_its_words_are_large_enough(page, panel, size):
    page.set_viewport_size(size)
    if size == lab.TABLET_UPRIGHT:
        page.keyboard.press("Control+b")  # folds the list of files away
    unfold(page, panel, "More to move")
    unfold(page, panel, "The table behind it")
    wide, sizes = page.evaluate(
        """() => {
            const panel = document.querySelector('.kit-panel'), wide = [];
            for (const e of panel.querySelectorAll('*'))
                if (e.getBoundingClientRect().width && e.getBoundingClientRect().right >
                    panel.getBoundingClientRect().right + 1 && !e.closest('svg')) wide.push(e.className);
            const sizes = [...panel.querySelectorAll('svg text')].map(text => {
                const svg = text.ownerSVGElement;
                return parseFloat(getComputedStyle(text).fontSize) * svg.getBoundingClientRect().width
                    / svg.viewBox.baseVal.width; });
            return [wide, sizes];
        }"""
    )
    assert wide == []
    assert len(sizes) > 50
    assert min(sizes) >= 11
