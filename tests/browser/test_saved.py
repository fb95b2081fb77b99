"""A panel on a page that was run and saved: it goes on in its notebook, and shows its picture the next day."""

import sys

import lab
import nbformat
import pytest
from conftest import write_notebook

pytestmark = pytest.mark.browser

CELL = 'import kit\n\nkit.show.RisePanel(kit.Formula.read("formulas/crackle_bun.toml"))'
PANEL = f"{lab.NOTEBOOK} .kit-panel"
PICTURES = f"{lab.NOTEBOOK} .jp-RenderedHTML img[alt]"
RUN = f'{lab.NOTEBOOK} [data-jp-item-name="restart-and-run"] jp-button'


def test_run_saved_stopped_and_opened_again(browser, tmp_path):
    folder, surroundings = tmp_path / "notebooks", tmp_path / "surroundings"
    folder.mkdir()
    path = folder / "page.ipynb"
    write_notebook(path, CELL)
    with lab.serve(sys.executable, folder, surroundings) as server, lab.signed_in(server, browser) as page:
        lab.open_notebook(page, "page.ipynb")
        # One press, and no question first: the setting that `python -m kit` gives.
        page.locator(RUN).click()
        page.locator(PANEL).wait_for(timeout=60_000)
        lab.wait_idle(page)
        page.keyboard.press("Control+s")
        assert lab.comes_true(lambda: nbformat.read(path, as_version=4).cells[0].outputs, 60)
        slider = lab.slider(page)
        before = slider.get_attribute("aria-valuenow")
        lab.press(page, slider)
        assert slider.get_attribute("aria-valuenow") != before  # it goes on after it was saved
        assert slider.get_attribute("aria-label")
        assert page.locator(".jp-Dialog").count() == 0
    (output,) = nbformat.read(path, as_version=4).cells[0].outputs
    assert set(output.data) == {"text/plain", "text/html"}
    with lab.serve(sys.executable, folder, surroundings) as server, lab.signed_in(server, browser) as page:
        lab.open_notebook(page, "page.ipynb")
        page.locator(PICTURES).first.wait_for()
        assert page.locator(PICTURES).count() == 2
        assert page.locator(f"{lab.NOTEBOOK} .jp-RenderedHTML").inner_text().startswith("Press ▶▶")
        assert "model not found" not in page.locator(lab.NOTEBOOK).inner_text()
        assert lab.console_errors(page) == []
