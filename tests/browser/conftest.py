"""JupyterLab on a copy of the notebooks, a Chromium and a page in it."""

import sys

import lab
import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_notebook

# The least a moving picture can cost: a slider whose callback hands over a picture that is ready.
FLOOR = """\
import ipywidgets as widgets
pictures = [
    f'<svg width="800" height="350" role="img" aria-label="at {x}">'
    f'<rect width="800" height="350" fill="#eee"/>'
    f'<circle cx="{20 + 1.9 * x}" cy="175" r="20" fill="#444"/><text x="20" y="40">{x}</text></svg>'
    for x in range(401)
]
slider = widgets.IntSlider(description="place", min=0, max=400, value=0)
picture = widgets.HTML(pictures[0])
slider.observe(lambda change: setattr(picture, "value", pictures[change["new"]]), "value")
widgets.VBox([slider, picture])
"""


def write_notebook(path, *cells):
    """Write a notebook of these code cells, not run."""
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    notebook = new_notebook(cells=[new_code_cell(cell) for cell in cells], metadata={"kernelspec": kernel})
    nbformat.write(notebook, path)


@pytest.fixture(scope="session")
def server(tmp_path_factory):
    """JupyterLab as `python -m kit` starts it, on a copy of the notebooks and a few generated ones."""
    base = tmp_path_factory.mktemp("lab")
    folder = base / "notebooks"
    (folder / "generated").mkdir(parents=True)
    write_notebook(folder / "generated" / "floor.ipynb", FLOOR)
    write_notebook(folder / "generated" / "error.ipynb", "1 / 0", "'never run'")
    with lab.serve(sys.executable, folder, base / "surroundings") as running:
        yield running


@pytest.fixture(scope="session")
def browser():
    """Debian's Chromium, driven by Playwright."""
    from playwright.sync_api import sync_playwright

    if lab.CHROMIUM is None:
        pytest.fail("no Chromium found: apt-get install chromium, or name one in $CHROMIUM")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=lab.CHROMIUM, args=lab.CHROMIUM_FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture
def page(server, browser):
    """A page of a laptop's size, signed in; its kernels end with the test."""
    with lab.signed_in(server, browser) as page:
        yield page


@pytest.fixture(scope="module")
def module_page(server, browser):
    """The same for all tests of a file, which takes it as its `page`."""
    with lab.signed_in(server, browser) as page:
        yield page


@pytest.fixture(scope="module")
def shown(page, request):
    """The one panel of the notebook that a file names, opened and run once for all its tests."""
    with lab.panel_of(page, request.module.NAME) as panel:
        yield panel


@pytest.fixture
def panel(page, shown):
    """That panel as it is at first."""
    shown.get_by_role("button", name="reset").click()
    lab.wait_idle(page)
    return shown
