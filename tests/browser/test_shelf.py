"""What is kept or put at hand lasts: through a restart of the kernel, and into a notebook that stands open beside."""

import sys

import lab
import pytest

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """JupyterLab where what is chosen in the folder is at hand, whatever the tests' own surroundings say."""
    base = tmp_path_factory.mktemp("lab")
    (base / "notebooks").mkdir()
    with lab.serve(sys.executable, base / "notebooks", base / "surroundings", {"KIT_AT_HAND": ""}) as running:
        yield running


@pytest.fixture
def formulas(server):
    """The folder of formulas, afterwards as it was: the next test's notebooks begin with the bun again."""
    folder = server.folder / "formulas"
    before = {path.name for path in folder.iterdir()}
    yield folder
    for path in folder.iterdir():
        if path.name not in before:
            path.unlink()


def chosen(panel):
    return panel.get_by_label("formula", exact=True).evaluate("list => list.selectedOptions[0].text")


def options(panel):
    return panel.get_by_label("formula", exact=True).evaluate("list => [...list.options].map(o => o.text)")


def test_a_variant_kept_and_chosen_by_keyboard_is_there_and_at_hand_after_a_restart(page, formulas):
    with lab.panel_of(page, "start_here.ipynb") as panel:
        box = panel.get_by_label("butter:", exact=True)
        box.fill("22")
        box.press("Enter")
        lab.wait_idle(page)
        panel.get_by_label("keep as").focus()
        page.keyboard.type("More butter\n")  # no pause: each letter counts
        lab.wait_idle(page)
        assert "More butter is kept, in the list above, beneath" in panel.inner_text()
        assert '"unsalted butter" = 22' in (formulas / "more_butter.toml").read_text(encoding="utf-8")
        shelf = panel.get_by_role("combobox", name="formula")
        shelf.focus()
        page.keyboard.press("ArrowDown")
        lab.wait_idle(page)
        assert shelf.evaluate("list => list === document.activeElement")
        assert (formulas / ".at_hand").read_text(encoding="utf-8") == "more_butter.toml\n"
        page.evaluate("window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.restart()")
        lab.wait_idle(page)
        lab.run_all(page)
        panel = page.locator(f"{lab.NOTEBOOK} .kit-panel")
        assert chosen(panel).replace("\u00a0", " ").startswith("– More butter, 60 g, ")
        assert len(options(panel)) == 4  # three of the house and the one kept
        assert panel.get_by_label("butter:", exact=True).input_value() == "22"


def test_a_notebook_beside_says_that_another_formula_is_at_hand(page, formulas):
    with lab.panel_of(page, "day.ipynb") as panel:
        before = chosen(panel)
        (formulas / ".at_hand").write_text("crackle_bun_cocoa.toml\n", encoding="utf-8")
        page.locator(".jp-DirListing-item", has_text="start_here.ipynb").dblclick()
        page.get_by_role("heading", name="Start here").wait_for()
        page.get_by_role("main").get_by_role("tab", name="day.ipynb").click()
        page.get_by_text("cocoa crust is at hand now, chosen in another notebook").first.wait_for()
        assert chosen(panel) == before
