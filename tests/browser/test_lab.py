"""The ways of driving JupyterLab and of measuring, against notebooks whose behaviour is known."""

import lab
import pytest

pytestmark = pytest.mark.browser

PICTURE = f"{lab.NOTEBOOK} .widget-html-content"


def shown(page):
    return page.locator(f"{PICTURE} svg").get_attribute("aria-label")


def test_keys_move_a_slider_and_its_picture_and_what_is_waited_for_is_measured(page, tmp_path, record_property):
    lab.open_notebook(page, "generated/floor.ipynb")
    lab.run_all(page)
    lab.press(page, lab.slider(page, "place"), times=3)
    assert shown(page) == "at 3"
    assert lab.outputs(page, 0).count() == 1
    path = lab.screenshot(page, lab.outputs(page, 0), tmp_path / "floor.png")
    assert path.read_bytes().startswith(b"\x89PNG")
    assert lab.errors_in_outputs(page) == []
    assert lab.console_errors(page) == []
    # Nothing lies over the notebook.
    assert page.locator(".Toastify__toast").count() == 0
    # What is too wide is seen.
    assert lab.too_wide(page) == []
    (narrow,) = [lab.too_wide(page) for _ in lab.at_sizes(page, {"width": 700, "height": 800})]
    assert narrow
    # What is waited for is measured.
    handle = lab.slider(page, "place")
    painted = lab.painted_after_key(page, handle, PICTURE, times=5)
    assert shown(page) == "at 8"
    held = lab.hold_key(page, handle, PICTURE)
    # Nothing is lost for good: the picture at rest belongs to the last key.
    assert shown(page) == f"at {8 + 90}"
    assert held.keys == 90
    assert 1 < held.pictures <= held.keys
    assert held.console_errors == []
    record_property("floor", lab.in_words(painted, held))
    print("floor:", lab.in_words(painted, held))


def test_an_error_is_seen(page):
    lab.open_notebook(page, "generated/error.ipynb")
    lab.run_all(page)
    (error,) = lab.errors_in_outputs(page)
    assert "ZeroDivisionError" in error


def test_nothing_but_the_picture_follows_a_slider(page):
    """No icon fetched again and no toolbar measured anew at each move."""
    lab.open_notebook(page, "generated/floor.ipynb")
    lab.run_all(page)
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    lab.press(page, lab.slider(page, "place"), times=10)
    assert shown(page) == "at 10"
    assert [url for url in asked if "/static/" in url] == []
    ring = ".jp-Notebook-ExecutionIndicator"
    assert (page.locator(f"{lab.NOTEBOOK} {ring}").count(), page.locator(f"#jp-main-statusbar {ring}").count()) == (
        0,
        1,
    )
