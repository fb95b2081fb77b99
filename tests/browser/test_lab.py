"""The ways of driving JupyterLab and of measuring, against notebooks whose behaviour is known."""

import lab
import pytest

pytestmark = pytest.mark.browser

PICTURE = f"{lab.NOTEBOOK} .widget-html-content"


def shown(page):
    return page.locator(f"{PICTURE} svg").get_attribute("aria-label")


def test_keys_move_a_slider_and_its_picture(page, tmp_path):
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


def test_measures_the_floor(page, record_property):
    lab.open_notebook(page, "generated/floor.ipynb")
    lab.run_all(page)
    handle = lab.slider(page, "place")
    painted = lab.painted_after_key(page, handle, PICTURE)
    assert shown(page) == "at 15"
    held = lab.hold_key(page, handle, PICTURE)
    # Nothing is lost for good: the picture at rest belongs to the last key.
    assert shown(page) == f"at {15 + 90}"
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


def test_what_is_too_wide_is_seen(page):
    lab.open_notebook(page, "generated/floor.ipynb")
    lab.run_all(page)
    wide_window = lab.too_wide(page)
    page.set_viewport_size({"width": 700, "height": 800})
    lab.wait_idle(page)
    assert (wide_window, bool(lab.too_wide(page))) == ([], True)
