"""The panels of what must hold and of swaps, moved in JupyterLab by keyboard and by mouse, on a laptop and a tablet."""

import re

import conftest
import lab
import pytest

pytestmark = pytest.mark.browser
page = conftest.module_page


@pytest.fixture(scope="module")
def panels(page):
    """The two panels, the first with all that can hold unfolded; opened and run once for all tests of this file."""
    lab.open_notebook(page, "reformulate.ipynb")
    lab.run_all(page)
    panels = page.locator(f"{lab.NOTEBOOK} .kit-panel")
    panels.nth(0).scroll_into_view_if_needed()
    panels.nth(0).get_by_text("More that can hold").click()
    yield panels
    assert lab.errors_in_outputs(page) == []
    assert lab.console_errors(page) == []


@pytest.fixture
def solving(page, panels):
    """The first panel as it is at first, but for its butter, typed to be 25."""
    panels.nth(0).get_by_role("button", name="reset").click()
    lab.wait_idle(page)
    box = panels.nth(0).get_by_role("textbox", name="butter:", exact=True)
    box.fill("25")
    box.press("Enter")
    lab.wait_idle(page)
    return panels.nth(0)


@pytest.fixture
def swapping(page, panels):
    """The second panel as it is at first."""
    panels.nth(1).get_by_role("button", name="reset").click()
    lab.wait_idle(page)
    return panels.nth(1)


def says(panel, figure=0):
    return panel.locator("svg[role=img]").nth(figure).get_attribute("aria-label")


def test_dials_ticks_and_undo(page, solving):
    box = solving.get_by_role("textbox", name="butter:", exact=True)
    box.fill("25")
    box.press("Enter")
    lab.wait_idle(page)
    assert "water 14 → 12.74 % and unsalted butter, asked 18 → 25 %" in says(solving)
    lab.press(page, solving.get_by_role("slider", name="sugar, %", exact=True), times=4)
    assert "sugar, asked 16 → 17 %" in says(solving)
    solving.get_by_role("checkbox", name="hold sugars per piece").check()
    solving.get_by_role("checkbox", name="topping follows").check()
    lab.wait_idle(page)
    assert "total hydration, held" in says(solving, 1)
    assert "sugars per piece, held" in says(solving, 1)
    solving.get_by_role("button", name="undo").press("Enter")
    lab.wait_idle(page)
    solving.get_by_role("button", name="reset").click()
    lab.wait_idle(page)
    assert "Nothing needs to move" in solving.inner_text()


def test_the_nearest_is_offered_and_taken(page, solving):
    box = solving.get_by_role("textbox", name="egg:", exact=True)
    box.fill("45")
    box.press("Enter")
    lab.wait_idle(page)
    assert "egg can be at most" in solving.get_by_role("alert").inner_text()
    solving.get_by_role("button", name="take the nearest").click()
    lab.wait_idle(page)
    assert solving.get_by_role("alert").count() == 0
    assert "Given up: total hydration" in solving.get_by_role("status").first.inner_text()
    assert not solving.get_by_role("button", name="take the nearest").is_visible()


def test_a_swap_is_chosen_by_keyboard_and_kept(page, swapping, server):
    swapping.get_by_role("combobox", name="swap").select_option("egg in the dough")
    lab.wait_idle(page)
    swapping.get_by_role("combobox", name="for", exact=True).select_option("dried egg")
    lab.wait_idle(page)
    assert "Dried egg 3.93 % brings as much solids." in swapping.inner_text()
    assert "off by" in swapping.inner_text()
    swapping.get_by_role("textbox", name="keep as").fill("Dried egg of a test")
    swapping.get_by_role("button", name="keep", exact=True).click()
    lab.wait_idle(page)
    (path,) = (server.folder / "formulas").glob("dried_egg_of_a_test.toml")
    assert '"dried egg" = 3.9' in path.read_text(encoding="utf-8")
    swapping.get_by_role("button", name="reset").press("Enter")
    lab.wait_idle(page)
    assert "rapeseed oil" in says(swapping).casefold()


def test_every_control_has_a_name_of_its_own(solving, swapping):
    for panel, counts in (
        (solving, {"slider": 5, "textbox": 6, "checkbox": 18}),
        (swapping, {"slider": 1, "textbox": 2, "combobox": 4}),
    ):
        for role, count in counts.items():
            names = re.findall(rf'\b{role} "([^"]+)"', panel.aria_snapshot())
            assert len(set(names)) == count == panel.get_by_role(role).count(), names


def test_both_fit_and_their_words_are_large_enough(page, solving, swapping):
    for _ in lab.at_sizes(page):
        wide, sizes = lab.panels_laid_out(page)
        assert wide == []
        assert len(sizes) > 10
        assert min(sizes) >= 11
