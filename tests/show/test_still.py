"""What a panel's own output holds beside its view: a picture with words, for wherever no kernel runs."""

import base64
import io
import re

import ipywidgets as widgets
import matplotlib.image
import pytest

import kit
from kit import places
from kit.show.panel import Controls, button, dropdown, folded, radio, tick
from kit.show.still import OPENS

FOLDER = places.notebooks() / "formulas"
BUN = kit.Formula.read(FOLDER / "crackle_bun.toml")
VIEW = "application/vnd.jupyter.widget-view+json"


def shown(box):
    return box._repr_mimebundle_()["text/html"]


@pytest.fixture(scope="module")
def panel():
    return kit.show.TastingPanel()


def test_a_panel_reads_as_one_sentence_and_shows_a_picture(panel):
    bundle = panel._repr_mimebundle_()
    assert (bundle["text/plain"], set(bundle)) == (OPENS, {"text/plain", "text/html", VIEW})


def test_the_picture_needs_no_trust(panel):
    """A page that was not run here keeps images and inline styles, and drops these (tried in JupyterLab)."""
    assert re.findall(r"<(?:svg|style|script|input|button)\b", shown(panel)) == []


def test_each_chart_is_a_png_with_its_words(panel):
    found = re.findall(r'<img alt="([^"]*)"[^>]*base64,([^"]*)"', shown(panel))
    assert [alt for alt, _ in found] == list(panel.alt)
    for _, data in found:
        pixels = matplotlib.image.imread(io.BytesIO(base64.b64decode(data)))
        assert len({tuple(row) for row in pixels.reshape(-1, pixels.shape[-1])[::7]}) > 8  # no empty sheet


def test_the_picture_is_of_now(panel):
    try:
        panel.dials["tasters"].slider.value = 31.0
        html = shown(panel)
    finally:
        panel.reset()
    assert "of 31" in html
    assert "of 31" not in shown(panel)


def test_every_kind_of_control_is_drawn_as_it_stands():
    box = Controls([
        widgets.HBox([tick("hold water", True), tick("hold fat"), button("undo", "back", print)]),
        radio("market", ("EU", "US"), "US"), dropdown("trial", ["T-001", "T-002"], "T-002"),
        widgets.Text("62,5", description="egg"), widgets.HTML("<b>bun</b>"),
        folded("opened on asking", widgets.HTML("behind it")), widgets.HTML("gone", layout={"display": "none"}),
    ])  # fmt: skip
    html = shown(box)
    said = " ".join(re.sub("<[^>]*>", " ", html).split())
    assert said == f"{OPENS} ☑ hold water ☐ hold fat undo market ○ EU ● US trial T-002 egg 62,5 bun ▸ opened on asking"
    box.children[5].selected_index = 0
    assert "behind it" in shown(box)


def test_what_is_typed_is_text():
    assert "<script" not in shown(Controls([widgets.Text("<script>"), widgets.Text(description="<script>")]))


def test_a_dial_stands_where_its_slider_does():
    slider = widgets.FloatSlider(value=3, min=1, max=5, description="butter")
    assert "width:50%" in shown(Controls([slider]))
