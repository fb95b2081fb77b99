"""The README's picture is what JupyterLab shows today.

KIT_WRITE_PICTURE=1 writes it anew: .venv/bin/python -m pytest -m browser tests/browser/test_readme.py
"""

import os

import lab
import numpy as np
import pytest
from PIL import Image

from kit import places

pytestmark = pytest.mark.browser

PICTURE = places.notebooks() / "pictures" / "formula_panel.png"
SIZE = (96, 72)  # px, at which letters are grey and pictures are told apart


def small(path):
    """The picture as grey values from 0 to 1, few enough that another version's letters do not matter."""
    return np.asarray(Image.open(path).convert("L").resize(SIZE, Image.Resampling.BOX)) / 255


def test_the_picture_is_of_today_s_panel(page, tmp_path):
    lab.open_notebook(page, "start_here.ipynb")
    lab.run_all(page)
    panel = page.locator(f"{lab.NOTEBOOK} .kit-panel").first
    today = lab.screenshot(page, panel, tmp_path / "panel.png")
    if os.environ.get("KIT_WRITE_PICTURE") == "1":
        Image.open(today).convert("RGB").quantize(128, dither=Image.Dither.NONE).save(PICTURE, optimize=True)
    (wide, high), (width, height) = Image.open(today).size, Image.open(PICTURE).size
    assert abs(width / wide - 1) < 0.03
    assert abs(height / high - 1) < 0.03
    assert np.abs(small(today) - small(PICTURE)).mean() < 0.02
