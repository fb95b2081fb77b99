"""Parts of a page that are written anew where they stand come to what a page opened later begins with."""

import json

import pytest

from kit.show import live
from kit.show.live import part
from kit.show.strips import tiles

pytestmark = pytest.mark.browser

# Shows each state after the one before it, and alone; returns the HTML of both ways.
SHOWN = """async ([script, sheet, states]) => {
    const address = URL.createObjectURL(new Blob([script], {type: "text/javascript"}));
    const view = (await import(address)).default;
    const open = parts => {
        const told = [], el = document.createElement("div"), {initialize, render} = view();
        const model = {get: name => ({sheet, parts})[name], off: () => {},
            on: (name, heard) => name === "msg:custom" && told.push(heard)};
        initialize({model});
        render({model, el});
        return {el, tell: parts => told.forEach(heard => heard({parts}))};
    };
    const page = open(states[0]);
    return states.map(state => {
        page.tell(state);
        return [page.el.innerHTML, open(state).el.innerHTML];
    });
}"""
WORDS = [
    "plain", "", "butter & <b>egg</b>", "18 &amp; 20 &quot;%&quot;", "<b>egg</b>", "<p>one</p><p></p>",
    "<p></p><p>one</p>", '<p class="a">one</p>', '<p class="">one</p>', '<p title="a &gt; b">one</p>', "<p>one</p>",
    "<input checked>", "<input>", "<table><tr><td>1</td></tr></table>", "<table><tr><td>2</td></tr></table>",
    *(tiles([("batch", number, change, "baked")]) for number, change in (("48", ""), ("47", "-1"), ("48", ""))),
]  # fmt: skip
MARKS = [
    '<g><path d="M1,2"/></g>', '<g><path d="M1,3"/></g>', "", '<g><path d="M1,3"/><text x="1">3 &lt; 4</text></g>',
    '<g><path d="M1,3"/><text x="1"></text></g>', '<g><circle r="1"/></g>', '<g><path d="M1,3" fill="red"/></g>',
]  # fmt: skip


@pytest.mark.parametrize(("tag", "written"), [("p", WORDS), ("svg", MARKS)])
def test_a_part_written_where_it_stands_is_as_written_anew(browser, tag, written):
    with open(live.__file__.replace(".py", ".js"), encoding="utf-8") as file:
        script = file.read()
    sheet = part("words", "div") if tag == "p" else f"<svg>{part('words', 'g')}</svg>"
    states = [{"words": markup} for markup in (*written, *reversed(written), *written[::2])]
    page = browser.new_page()
    try:
        shown = page.evaluate(SHOWN, [script, sheet, states])
    finally:
        page.close()
    assert len(shown) == len(states)
    for state, (moved, anew) in zip(states, shown, strict=True):
        assert moved == anew, json.dumps(state)
