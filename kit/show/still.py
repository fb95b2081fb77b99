"""A box of controls as it looks where no kernel runs: a file viewer, paper, a page that was not run here."""

import io
import re

import ipywidgets as widgets
from PIL import Image

from .. import page
from . import colours as look
from .live import Live

OPENS = "Press ▶▶ above to open this panel."
WORDS = f"font-size:13px;color:{look.INK}"
BOX = f"{WORDS};border:1px solid #bbb;padding:1px 6px;background:#fff;display:inline-block;min-width:48px"


def still(box, overlays=()):
    """Return a box of widgets as HTML that a page shows untrusted: no script, style element or SVG, charts as PNG."""
    html = re.sub("<style>.*?</style>", "", _drawn(box), flags=re.DOTALL)
    for overlay in overlays:
        html = re.sub(
            f'<svg [^>]*class="{overlay.name}"[^>]*aria-label="([^"]*)".*?</svg>',
            lambda marks, overlay=overlay: picture(overlay.picture(), overlay.figure.bbox.width, marks[1]),
            html,
            flags=re.DOTALL,
        )
    return f'<div style="max-width:940px"><p style="margin:0;font-size:12px;color:{look.QUIET}">{OPENS}</p>{html}</div>'


def picture(data, width, words):
    """Return a PNG of flat colours, which takes a third of the room, `width` wide [px]; words: escaped."""
    out = io.BytesIO()
    Image.open(io.BytesIO(data)).convert("RGB").quantize(96, dither=Image.Dither.NONE).save(out, "png", optimize=True)
    return f'<img alt="{words}" style="width:100%;max-width:{width:.0f}px" src="{page.address(out.getvalue())}">'


def _drawn(widget):
    """Return a widget and all that it holds as HTML, as it stands."""
    if widget.layout.display == "none":
        return ""
    if isinstance(widget, widgets.HTML | Live):
        return _FIELDS.sub(_field, widget.value)
    if isinstance(widget, widgets.Accordion):
        return "".join(_folded(widget, number) for number in range(len(widget.children)))
    if isinstance(widget, widgets.Box):
        inside = "".join(_placed(child) for child in widget.children)
        flow = widget.layout.flex_flow or ("column" if isinstance(widget, widgets.VBox) else "row")
        if "row" in flow:  # of what a page lets through, only these set things beside each other
            inside = (
                inside and f'<div style="display:flex;flex-wrap:wrap;align-items:center;gap:2px 8px">{inside}</div>'
            )
        return inside
    return _control(widget) if hasattr(widget, "description") else ""


# what is typed into, chosen from or pressed in HTML: none of it passes where no kernel runs
_FIELDS = re.compile(r"<input([^>]*)>|<(textarea|select|button)([^>]*)>(.*?)</\2>", re.DOTALL)


def _field(found):
    given, tag, more, inside = found.groups()
    if tag == "button":
        return f'<span style="{BOX};min-width:0;border-radius:3px">{inside}</span>'
    if tag is None and 'type="checkbox"' in given:
        return "☑" if " checked" in given else "☐"
    if tag is None and 'type="file"' in given:
        return ""
    text = re.search(r' value="([^"]*)"', given)[1] if tag is None else inside
    if tag == "select":
        text = (re.search(r"<option[^>]* selected>([^<]*)", inside) or re.search(r"<option[^>]*>([^<]*)", inside))[1]
    hint = re.search(r'placeholder="([^"]*)"', given or more)
    hint = f'<span style="color:{look.QUIET}">{hint[1]}</span>' if hint else "&nbsp;"
    return f'<span style="{BOX}">{text or hint}</span>'


def _folded(accordion, number):
    opened = accordion.selected_index == number
    title = f'<p style="{WORDS};margin:4px 0">{"▾" if opened else "▸"} {page.escape(accordion.titles[number])}</p>'
    return title + (_drawn(accordion.children[number]) if opened else "")


def _placed(widget):
    """Return what is drawn of a widget at its place in a row or column."""
    html, layout = _drawn(widget), widget.layout
    place = f"flex:{layout.flex};" if layout.flex else ""
    place += f"width:{layout.width};" if layout.width not in (None, "auto") else ""
    return html and f'<div style="{place}max-width:100%">{html}</div>'


def _control(widget):
    """Return what somebody would type into, move or press."""
    name = f'<span style="{WORDS}">{page.escape(widget.description)}</span>'
    if isinstance(widget, widgets.Button | widgets.ToggleButton):
        return f'<span style="{BOX};min-width:0;border-radius:3px">{page.escape(widget.description)}</span>'
    if isinstance(widget, widgets.Checkbox):
        return f'<span style="{WORDS}">{"☑" if widget.value else "☐"} {page.escape(widget.description)}</span>'
    if isinstance(widget, widgets.FloatSlider):
        share = 100 * (widget.value - widget.min) / (widget.max - widget.min)
        track = f'<div style="width:{share:.0f}%;height:4px;border-right:12px solid #777;background:#bbb"></div>'
        track = f'<div style="flex:1 1 60px;background:#e4e4e4">{track}</div>'
        return f'<div style="display:flex;align-items:center;gap:8px;margin:3px 0">{name}{track}</div>'
    if isinstance(widget, widgets.RadioButtons):
        options = [(label, label == widget.label) for label in widget._options_labels]
        words = " ".join(f"{'●' if chosen else '○'} {page.escape(label)}" for label, chosen in options)
        return f'{name} <span style="{WORDS}">{words}</span>'
    label = getattr(widget, "still", None) or getattr(widget, "label", None)
    value = label if isinstance(label, str) else getattr(widget, "value", "")
    shown = page.escape(value if isinstance(value, str) else "") or "&nbsp;"
    # A box whose name is not shown says it to a reader only.
    name = "" if widget.style.description_width == "0" else name
    return f'{name} <span style="{BOX}">{shown}</span>'
