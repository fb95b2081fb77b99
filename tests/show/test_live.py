"""Parts that stay in the page: only what changed is sent, and what is dragged comes back."""

import ipywidgets as widgets
import pytest
from matplotlib.figure import Figure

from kit.show import live
from kit.show.live import Live, handle, part, parts_of, picture
from kit.show.overlay import Overlay, moving


@pytest.fixture
def sent(monkeypatch):
    messages = []
    monkeypatch.setattr(Live, "send", lambda self, message: messages.append(message))
    return messages


def test_only_what_changed_is_sent_and_all_of_it_is_kept(sent):
    page = Live()
    page.lay(part("words", "p") + part("other"))
    page.show({"words": "one", "other": "same"})
    page.show({"words": "two", "other": "same"})
    page.show({"words": "two"})
    assert sent == [{"parts": {"words": "two"}}]
    assert page.get_state()["parts"] == {"words": "two", "other": "same"}  # what a page opened later begins with
    assert page.value == '<p data-part="words">two</p><div data-part="other">same</div>'


def test_what_changes_in_widgets_beside_it_goes_in_the_same_message(sent, monkeypatch):
    page, box = Live(), widgets.Text()
    alone = []
    monkeypatch.setattr(widgets.Text, "send_state", lambda self, key=None: alone.append(key))
    page.carry(widgets.VBox([widgets.Box([box])]))
    page.lay(part("words"))
    page.show({"words": "18 %"})
    with page.one_message():
        box.value = "19"
        page.show({"words": "19 %"})
        box.value = "20"
        page.show({"words": "20 %"})
    assert sent == [{"states": {box.model_id: {"value": "20"}}, "parts": {"words": "20 %"}}]
    assert alone == []
    box.value = "21"
    assert alone == ["value"]


def test_what_changes_in_a_widget_is_told_in_its_order(sent):
    """A browser holds a value within the reach that it knows: the reach comes first."""
    page, slider = Live(), widgets.FloatSlider(4, min=0, max=10)
    page.carry(slider)
    told = {"max": 30, "value": 30, "step": 0.5, "description": "days", "min": 1}
    with page.one_message():
        for name, value in told.items():
            setattr(slider, name, value)
    assert list(sent[-1]["states"][slider.model_id]) == list(told)
    assert len(sent) == 1


def test_an_attribute_is_a_part_too(sent):
    page = Live()
    page.lay('<svg data-part="map"></svg>')
    page.show({"map@aria-label": 'at 18 "percent"'})
    assert page.value == '<svg data-part="map" aria-label="at 18 &quot;percent&quot;"></svg>'


def test_places_and_steps_come_back():
    moved, stepped = [], []
    page = Live(lambda *place: moved.append(place), lambda *steps: stepped.append(steps))
    page.place = ["dot", 1.0, 2.0]
    page.steps = {"dot": [1, 0]}
    page.steps = {"dot": [1, 0], "disc": [0, 3]}
    assert moved == [("dot", 1.0, 2.0)]
    assert stepped == [("dot", 1, 0), ("disc", 0, 3)]


def test_an_overlay_is_its_still_picture_and_a_part_for_each_mark(sent):
    figure = Figure(figsize=(2, 1), dpi=96)
    ax = figure.add_axes([0.1, 0.1, 0.8, 0.8])
    ax.set(xlim=(0, 1), ylim=(0, 1))
    (dot,) = moving(ax.plot([0.5], [0.5], "o"))
    word = moving(ax.text(0.2, 0.2, "proofed"))
    overlay, page = Overlay(figure), Live()
    page.lay(picture(overlay, handles=True))
    page.show(parts_of(overlay, "a dot"))
    assert page.sheet.count("data-part") == 1 + len(overlay.parts()) + 1
    assert "data:image/png;base64," not in page.sheet  # it goes once, as a part
    assert "background:url(data:image/png;base64," in page.value
    assert 'aria-label="a dot"' in page.value
    assert "proofed" in page.value
    dot.set_data([0.25], [0.5])
    page.show(parts_of(overlay, "a dot"))
    (message,) = sent
    assert len(message["parts"]) == 1
    assert 'x="57.6"' in next(iter(message["parts"].values()))  # 0.1 + 0.25 x 0.8 of 192 px
    word.set_visible(False)
    page.show(parts_of(overlay, "a dot"))
    assert list(sent[1]["parts"].values()) == [""]
    assert "proofed" not in page.value


def test_a_handle_says_its_name_and_value_as_text_alone():
    mark = handle("dot", 1, 2, "<b>", 'butter "18" %', 18, 0, 52)
    assert 'aria-label="&lt;b&gt;" aria-valuetext="butter &quot;18&quot; %" aria-valuenow="18"' in mark


def test_the_script_loads_nothing_from_anywhere():
    script = live.__file__.replace(".py", ".js")
    with open(script, encoding="utf-8") as file:
        text = file.read()
    assert "import " not in text
    assert "fetch" not in text
    assert "http" not in text


def test_a_part_within_a_part_is_left_alone_and_read_whole(sent):
    page = Live()
    page.lay(part("outer"))
    page.show({"outer": f"<p>one</p>{part('inner')}", "inner": "<b>in</b>"})
    assert page.value == '<div data-part="outer"><p>one</p><div data-part="inner"><b>in</b></div></div>'
    page.show({"outer": f"<p>two</p>{part('inner')}", "inner": "<b>in</b>"})
    assert list(sent[0]["parts"]) == ["outer"]
    assert page.value == '<div data-part="outer"><p>two</p><div data-part="inner"><b>in</b></div></div>'
