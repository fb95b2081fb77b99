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


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_a_notebook_runs_from_top_to_bottom(page, name):
    lab.open_notebook(page, name)
    lab.run_all(page)
    assert lab.errors_in_outputs(page) == []
    assert lab.console_errors(page) == []
    assert lab.too_wide(page) == []
