"""What moves in a panel: words and marks that stay in the page, told in one message a move what changed."""

import contextlib
import functools
import re
from pathlib import Path

import anywidget
import traitlets

from .. import page
from .colours import ACCENT, INK

_PART = re.compile(r'(data-part="([^"]+)"[^>]*)>')


class Live(anywidget.AnyWidget):
    """HTML with named parts, of which only those are sent that changed; what is dragged in it comes back as a place.

    sheet: the HTML, an element with data-part="name" for each part; moved(name, x, y): called with the place [px of the
    picture] that a handle was dragged to; stepped(name, right, up): with the steps that its keys asked for.
    """

    _esm = Path(__file__).with_name("live.js")
    _css = f"""
    .kit-live [data-handle] {{ cursor: grab; outline: none }}
    .kit-live [data-handle]:focus-visible circle {{ stroke: {INK}; stroke-width: 3 }}
    .kit-live [data-handle]:hover circle {{ stroke: {INK} }}
    """
    sheet = traitlets.Unicode().tag(sync=True)
    parts = traitlets.Dict().tag(sync=True)
    place: traitlets.List = traitlets.List().tag(sync=True, echo_update=False)
    steps = traitlets.Dict().tag(sync=True, echo_update=False)

    def __init__(self, moved=None, stepped=None):
        super().__init__(layout={"width": "100%", "margin": "0"})
        self.add_class("kit-live")
        self._counted, self._gathered = {}, None
        if moved:
            self.observe(lambda change: moved(*change["new"]), "place")
        if stepped:
            self.observe(lambda change: self._step(change["new"], stepped), "steps")

    def _step(self, steps, stepped):
        """Tell the steps that are new: a page counts them, so that none is lost when several come as one."""
        for name, (right, up) in steps.items():
            before = self._counted.get(name, (0, 0))
            self._counted[name] = right, up
            if (right, up) != before:
                stepped(name, right - before[0], up - before[1])

    def carry(self, widget):
        """Take along what changes in a widget, and in all that it holds, while one message is gathered."""
        widget.send_state = functools.partial(self._gather, widget)
        for each in getattr(widget, "children", ()):
            self.carry(each)

    def _gather(self, widget, key=None):
        if self._gathered is None:
            type(widget).send_state(widget, key)
        else:
            keys = widget.keys if key is None else [key] if isinstance(key, str) else key
            # in their order: a slider told its value before its reach sends back what lies within the old one
            self._gathered.setdefault(widget, {}).update(dict.fromkeys(keys))

    @contextlib.contextmanager
    def one_message(self):
        """Send all that changes meanwhile, here and in what is carried, as one message: a page then draws once."""
        if self._gathered is not None:
            yield
            return
        self._gathered, self._changed = {}, {}
        try:
            yield
        finally:
            gathered, self._gathered = self._gathered, None
            states = {widget.model_id: widget.get_state(keys) for widget, keys in gathered.items() if keys}
            if message := {name: what for name, what in (("states", states), ("parts", self._changed)) if what}:
                self.send(message)

    def lay(self, sheet):
        """Begin with this HTML, its parts empty, in the place of what stood."""
        with self.hold_sync():
            self.sheet, self.parts = sheet, {}

    def show(self, parts):
        """Bring parts {name: HTML, or SVG inside a picture; "name@attribute": text} up to date in the page."""
        changed = {name: markup for name, markup in parts.items() if self.parts.get(name) != markup}
        if not self.parts:
            self.parts = changed
        elif changed:
            self.parts.update(changed)  # in place: what a page opened later begins with
            with self.one_message():
                self._changed |= changed

    @property
    def value(self):
        """All of it as HTML, as it stands."""
        given = {}
        for name, text in self.parts.items():
            part, _, attribute = name.partition("@")
            if attribute:
                given[part] = given.get(part, "") + f' {attribute}="{page.escape(text)}"'

        def filled(markup):
            return _PART.sub(
                lambda found: f"{found[1]}{given.get(found[2], '')}>{filled(self.parts.get(found[2], ''))}", markup
            )

        return filled(self.sheet)


def part(name, tag="div", **attributes):
    """Return an element whose inside is a part of a `Live`."""
    given = "".join(f' {key.replace("_", "-")}="{page.escape(value)}"' for key, value in attributes.items())
    return f'<{tag} data-part="{name}"{given}></{tag}>'


def picture(overlay, handles=False):
    """Return an Overlay as HTML of a `Live`; what stands in it are the `parts_of` it."""
    width, height = overlay.figure.bbox.size
    marks = "".join(part(name, "defs" if name.endswith("shared") else "g") for name in overlay.names)
    marks += part(f"{overlay.name}-handles", "g") * handles
    role = "group" if handles else "img"
    box = f'class="{overlay.name}" viewBox="0 0 {width:g} {height:g}"'
    return f'<svg {box} role="{role}" data-part="{overlay.name}">{marks}</svg>'


def parts_of(overlay, words):
    """Return the parts of a `picture`: its words, its still background, which goes once, and the marks over it."""
    look = (
        f"display:block;width:100%;max-width:{overlay.figure.bbox.width:g}px;height:auto;white-space:pre;"
        f"background:url({overlay.ground}) 0 0/100% 100%;stroke-miterlimit:10;"
        "font-family:DejaVu Sans,Verdana,sans-serif"
    )
    return {f"{overlay.name}@aria-label": words, f"{overlay.name}@style": look} | overlay.parts()


def handle(name, x, y, label, text, now, low, high, arrow=False):
    """Return what can be dragged at a place [px of the picture]; label, text: its name and value as they are read.

    arrow: whether one pointing both ways shows that it can be, where no mark of the picture does.
    """
    label, text = page.escape(label), page.escape(text)
    value = f'aria-valuetext="{text}" aria-valuenow="{now:g}" aria-valuemin="{low:g}" aria-valuemax="{high:g}"'
    circle = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="16" fill="#fff0" stroke="#0000"/>'
    if arrow:
        points = f"M{x - 9:.1f},{y:.1f}h18m-4,-4l4,4l-4,4m-10,0l-4,-4l4,-4"
        circle += f'<path d="{points}" fill="none" stroke="{ACCENT}" stroke-width="2"/>'
    return (
        f'<g data-handle="{name}" data-at="{x:.1f} {y:.1f}" data-lm-suppress-shortcuts="true" role="slider" '
        f'tabindex="0" aria-label="{label}" {value}>{circle}</g>'
    )
