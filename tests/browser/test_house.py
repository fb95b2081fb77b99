"""Every notebook of the kit in JupyterLab, as a user meets it."""

import lab
import pytest

from kit import places

pytestmark = pytest.mark.browser

NOTEBOOKS = sorted(path.relative_to(places.notebooks()).as_posix() for path in places.notebooks().rglob("*.ipynb"))
NOTEBOOKS = [name for name in NOTEBOOKS if ".ipynb_checkpoints" not in name]


def test_the_kit_opens_on_the_first_notebook(page):
    page.goto("/")
    page.locator(f"{lab.NOTEBOOK} .jp-Cell").first.wait_for()
    assert page.locator(".lm-DockPanel .lm-TabBar-tab.lm-mod-current").inner_text() == "start_here.ipynb"


def screens(page):
    """How many screens of a laptop, beside the list of files, the open page is long."""
    shown = page.locator(f"{lab.NOTEBOOK} .jp-WindowedPanel-outer").bounding_box()["height"]
    for _ in lab.at_sizes(page, lab.LAPTOP | {"height": 9000}):  # else JupyterLab draws what is in sight alone
        boxes = [cell.bounding_box() for cell in page.locator(f"{lab.NOTEBOOK} .jp-Cell").all()]
    return (max(b["y"] + b["height"] for b in boxes) - min(b["y"] for b in boxes)) / shown


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_a_page_shows_before_it_runs_runs_from_top_to_bottom_and_is_six_screens_long_at_most(page, name):
    lab.open_notebook(page, name)
    assert page.locator(f"{lab.NOTEBOOK} .jp-RenderedHTML").first.inner_text().startswith("Press ▶▶")
    assert lab.too_wide(page) == []
    assert screens(page) <= 6
    lab.run_all(page)
    assert lab.errors_in_outputs(page) == []
    assert lab.console_errors(page) == []
    assert lab.too_wide(page) == []
    assert screens(page) <= 6
