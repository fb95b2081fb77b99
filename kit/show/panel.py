"""Panels: controls beside a picture that follows them.

A panel reads its controls, calls kit, keeps the result, and moves the marks; it draws nothing anew while a slider
moves. What cannot be is said in words, and the last good picture stays.
"""

import contextlib
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets as widgets
import traitlets

from .. import page
from ..cautions import cautions_for, together
from ..errors import AmountError, KitError, must
from ..files import write_whole
from ..formula import Formula
from ..formula.parts import only_one
from ..units import amount, number, read
from ..words import listing
from . import look
from .live import Live, part, parts_of, picture
from .overlay import Overlay
from .shelf_row import ShelfRow
from .still import OPENS, still
from .strips import alert, block, side_by_side, small, status, tiles


class SliderNames(anywidget.AnyWidget):
    """Gives each slider beside it a name and what is folded to the keyboard: ipywidgets leaves them without."""

    _esm = Path(__file__).with_name("controls.js")
    _css = Path(__file__).with_name("controls.css")


DIAL = {"min_width": "240px", "margin": "0 8px 0 0"}
ROW = {"display": "flex", "flex_flow": "row wrap", "align_items": "center", "width": "100%"}


class Slider(widgets.FloatSlider):
    """A slider whose moves the kernel does not send back: the page has them already."""

    value = traitlets.CFloat(0.0).tag(sync=True, echo_update=False)


class Dial:
    """One number to move: a slider, and a box that takes what bakers write ("62,5", "18 1/2").

    `value` is exact; the slider only shows it, since a browser rounds a slider to its step and sends that back.
    per: how many of the dial's unit a house unit is, 10 for a dial in mm.
    """

    def __init__(self, label, value, low, high, step, unit="%", kind="percentage", per=1):
        self.label, self.kind, self.step, self.value = label, kind, step, value
        self.low, self.high, self.unit, self.per = low, high, unit, per
        self._shown = value  # what the browser rounds and sends back, once, unless it is a step of its slider
        self._left = None  # what its slider stood at before it was told another value
        self.slider = Slider(
            value=value,
            min=low,
            max=high,
            step=step,
            description=f"{label}, {unit}",
            readout=False,
            style={"description_width": "initial"},
            layout={"width": "auto", "flex": "1 1 auto"},
        )
        self.box = widgets.Text(
            value=self._text(),
            continuous_update=False,
            description=f"{label}:",
            layout={"width": "58px"},
            style={"description_width": "0"},
        )
        self.view = widgets.HBox([self.slider, self.box], layout=DIAL)

    def _text(self):
        return f"{self.value:.4g}"

    def slid(self, value):
        """Take a value that the slider sent; return whether somebody moved it."""
        shown = self._shown
        if shown is not None and value != shown and abs(value - shown) <= self.step / 2 + 1e-9:
            self._shown = None
            if shown != self.value:  # it comes late: the dial has been moved since
                self.slider.value = self.value
            return False
        if self._left is not None and 0 < abs(value - self._left) < 1e-6:  # rounded anew as the new value arrived
            self._left, self.slider.value = None, self.value
            return False
        self.value = round(value, 6)
        return True

    def show(self, value):
        """Set value, slider and box, whatever the slider's step."""
        self.value, self._shown, self._left = value, value, self.slider.value
        self.slider.max = max(self.high, value)  # reaches as far as was typed, and no longer than it is needed
        self.slider.value = value
        self.write()

    def write(self):
        """Write the value into the box, and leave the slider alone: writing one that is being moved sets it back."""
        self.box.value = self._text()

    def typed(self):
        """Return the number in the box. Raises KitError with the reason when there is none or it is below the dial."""
        written = self.box.value
        if self.per != 1:
            with contextlib.suppress(KitError):  # it has a unit of its own
                written = f"{number(written)} {self.unit}"
        value = self.per * read(written, self.kind, self.label)
        if value < self.low:
            raise AmountError(
                must(self.label, f"{self.low:g} {self.unit} or more", f"{value:g} {self.unit}", "type it anew")
            )
        return value


class WholeDial(Dial):
    """A dial of what is counted, in a unit such as pieces; its box takes whole numbers alone."""

    def typed(self):
        """Return the whole number in the box, dozens counted out. Raises KitError with the reason when it is none."""
        given = amount(self.box.value, self.label)
        value = given.value if given.kind == "count" else read(self.box.value, "number", self.label)
        if not (value >= self.low and value == int(value)):
            be = f"a whole number of {self.unit}, {self.low:g} or more"
            raise AmountError(must(self.label, be, f"{value:g}", f"type how many {self.unit}"))
        return value


class Controls(widgets.VBox):
    """A box of controls, which shows as a picture of itself where no kernel runs."""

    _quiet = False
    overlays = ()

    def _silently(self, act):
        """Write into the box's own controls without taking that for somebody's move."""
        self._quiet, before = True, self._quiet
        try:
            act()
        finally:
            self._quiet = before

    def _repr_mimebundle_(self, **kwargs):
        shown = super()._repr_mimebundle_(**kwargs)
        return shown | {"text/plain": OPENS, "text/html": still(self, self.overlays)}


class Panel(Controls):
    """What every panel does: dials and other choices, undo, reset, a live picture, words for what cannot be.

    choices {name: widget with a value}: each change of one is a step back of its own.
    """

    formula: Any = None  # what the row on top shows
    keeps, shelf = False, ""  # whether that row keeps variants; the folder, else the formula's own
    behind = ""  # the title of what opens below the picture
    charts: tuple[type, ...] = ()  # the kinds of chart that show the result
    dial_width = 262  # px from which a dial grows

    def __new__(cls, *args, **given):
        """Remember what it was made with, so that it can be made anew of another formula."""
        formula = next(iter(args), given.get("formula"))
        if isinstance(formula, Formula):
            only_one(formula, "for the panel")
        made = super().__new__(cls, *args, **given)
        given = {name: value for name, value in given.items() if name != "formula"}
        made._given, made.row = (args[1:], given), None
        return made

    def __init__(self, dials, choices=None):
        self.dials, self.choices, self._handles = dials, choices or {}, ()
        self._history, self._last, self._held = [], None, None
        self._live = Live()
        self._problem, self.written, self._cautions = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self._table = widgets.HTML()
        self._behind = folded(self.behind, self._table)
        self._behind.observe(lambda _: self._show_behind(), "selected_index")
        self.undo_button = button("undo", "Take the last move back", self.undo)
        self.reset_button = button("reset", "Back to the formula as it is", self.reset)
        for name, dial in dials.items():
            dial.view.layout.flex = f"1 1 {self.dial_width}px"
            dial.slider.observe(lambda change, name=name: self._moved(name, change["new"]), "value")
            dial.box.observe(lambda _, name=name: self._typed(name), "value")
        for name, choice in self.choices.items():
            choice.observe(lambda _, name=name: self._chosen(name), "value")
        super().__init__(layout={"width": "100%", "max_width": "940px", "overflow": "hidden"})
        self.observe(lambda _: self._live.carry(self), "children")
        self.add_class("kit-panel")

    def _begin(self, *rows, remedies=()):
        """Show the first picture; rows: the controls above what is said, remedies: those beneath what cannot be."""
        self.start = self._now = self._state()
        self.result = self._work_out(None)
        self._handles = self._draw()
        self._hide()
        self._show()
        self._warn()
        if self.row is None and self.formula is not None:
            self.row = ShelfRow(self.formula, self._go_on_with, self._to_keep if self.keeps else None, self.shelf)
        self.children = [
            *[self.row] * (self.row is not None),
            SliderNames(),
            *(widgets.Box(row, layout=ROW) if isinstance(row, list) else row for row in rows),
            self._problem,
            *remedies,
            self.written,
            self._live,
            *[self._behind] * bool(self.behind),
            self._cautions,
        ]

    def _go_on_with(self, formula):
        """Take up another formula; the row on top stays. Raises KitError, and all stays as it was."""
        (args, given), before, old = self._given, self.formula, self.children
        try:
            with self.hold_sync():
                try:
                    self.__init__(formula, *args, **given)
                except KitError:
                    self.__init__(before, *args, **given)
                    raise
        finally:
            _close(widget for widget in old if widget is not self.row)

    def _to_keep(self):
        """Return the variant to keep, and its name when none is written."""
        return self.variant, f"{self.formula.name}, {self._changes() or 'as it is'}"

    # what a panel tells of itself

    @property
    def alt(self):
        """The figures in words, a sentence each."""
        return tuple(handle.alt for handle in self._handles)

    def _work_out(self, moving):
        """Return the result of what the controls say, the one named `moving` having moved. Raises KitError."""

    def _charts(self):
        """Return (kind of chart, its value, what it shows beside) for each figure."""
        return [(kind, self.result, {}) for kind in self.charts]

    def _draw(self):
        """Lay the figures out and return the handles of their charts."""
        handles = [kind(value, **beside) for kind, value, beside in self._charts()]
        self._lay([handle.ax.figure for handle in handles])
        return handles

    def _idle(self):
        """Return the names of the dials that do nothing as the choices stand: they are not shown."""
        return ()

    def _numbers(self):
        """Return the entries of `tiles`."""

    def _top(self):
        """Return what leads, as HTML."""
        return tiles(self._numbers())

    def _words(self):
        """Return what is said beneath the picture, in sentences."""

    def _behind_html(self):
        """Return what opens below the picture, as HTML."""

    # what a control does

    @property
    def values(self):
        """{name: what its dial stands at, in house units}."""
        return {name: dial.value / dial.per for name, dial in self.dials.items()}

    def turned(self, names):
        """Return {name: value} of those of these dials that stand elsewhere than at the start."""
        return {k: self.dials[k].value for k in names if abs(self.dials[k].value - self.start[k]) > 1e-9}

    def _moved(self, name, value):
        if not self._quiet and self.dials[name].slid(value):
            self._remember(name)
            self._recompute(name)

    def _typed(self, name):
        if self._quiet:
            return
        dial = self.dials[name]
        try:
            value = dial.typed()
            self._check_typed(name, value)
        except KitError as error:
            self._say(error)
            return
        if value != dial.value:
            self._remember()
        self._recompute(name, lambda: dial.show(value))

    def _chosen(self, name):
        if not self._quiet:
            self._remember()
            self._recompute(name)

    def _remember(self, by=None):
        """Keep how all stood before a move, to go back to; a run of moves by one dial or mark is one step back."""
        if by is None or by != self._last:
            self._history.append(self._now)
        self._last = by

    def _check_typed(self, name, value):
        """Raise KitError when a typed number is a slip of the pen; panels say what that is."""

    def _state(self):
        return {name: control.value for name, control in (self.dials | self.choices).items()}

    def _restore(self, state):
        def act():
            for name, choice in self.choices.items():
                choice.value = state[name]
            for name, dial in self.dials.items():
                dial.show(state[name])

        self._last = None
        self._recompute(None, act)

    def undo(self):
        """Take the last move back; a run of moves of one dial counts as one."""
        if self._history:
            self._restore(self._history.pop())

    def reset(self):
        """Go back to the baseline; undo brings the variant back."""
        if self._state() != self.start:
            self._remember()
        self._restore(self.start)

    def _update(self, moving):
        self.result = self._work_out(moving)
        self._move()
        self._hide()
        self._show()
        self._warn()

    def _warn(self):
        """Bring the line of cautions up to date: of what the formula holds now."""
        now = getattr(self, "variant", self.formula)
        held = now and {(part.kind, key) for part in now.parts for key, value in part.items if value}
        if held and held != self._held:
            self._held, self._cautions.value = held, caution(now)

    def _hide(self):
        idle = self._idle()
        for name, dial in self.dials.items():
            dial.view.layout.display = "none" if name in idle else None

    def _move(self):
        for handle, (_, value, beside) in zip(self._handles, self._charts(), strict=True):
            handle.update(value, **beside)

    def _show(self):
        self._tell(self._top(), self._marks(), *map(status, self._words()))
        self._show_behind()

    def _tell(self, *pieces):
        """Show pieces of HTML, one beneath the other, and the pictures in them: of both only what changed is sent."""
        parts = {f"piece-{n}": piece for n, piece in enumerate(pieces)}
        sheet = block(*map(part, parts))
        for overlay, words in zip(self.overlays, self.alt, strict=True):
            if any(overlay.name in piece for piece in pieces):
                parts |= parts_of(overlay, words)
        if self._live.sheet != sheet:
            self._live.lay(sheet)
        self._live.show(parts)

    def _show_behind(self):
        if self._behind.selected_index is not None:
            self._table.value = self._behind_html()

    def _recompute(self, moving, act=None):
        """Follow what moved, once act() has set the panel's own controls: one message to the page."""
        with self._live.one_message():
            self._silently(lambda: [each() for each in (act, *(dial.write for dial in self.dials.values())) if each])
            try:
                self._update(moving)
                self._problem.value = ""
                if self.row is not None:
                    self.row.look()
            except KitError as error:
                self._say(error)
            self._now = self._state()

    def _say(self, error):
        last = "" if getattr(self, "result", True) is None else " The picture shows the last that could be."
        said = str(error).replace(", in .nearest", "")  # that is for who types code
        self._problem.value = alert(f"{said}.{last}")

    # keeping

    def _write(self, made):
        """Write the (name, HTML page) that made() gives into the folder; return its path and say it, or why not."""
        try:
            name, html = made()
            path = self.folder / f"{name}.html"
            write_whole(path, html, page.is_sheet)
        except KitError as error:
            self._say(error)
            return None
        self.written.value = status(f"Written: {path.name}")
        return path

    def _changes(self):
        """Return what is changed from the baseline, as its name may tell."""
        return ""

    # the picture

    def _lay(self, figures):
        """Take the figures, side by side where there is room: what keeps still is sent once."""
        self.overlays = [Overlay(figure) for figure in figures]

    def _marks(self):
        """Return where the figures stand, as HTML; what moves in them are parts of their own."""
        return side_by_side((overlay.figure.bbox.width, picture(overlay)) for overlay in self.overlays)

    def picture(self):
        """Return the picture as it stands, for a reader without a kernel: images with words for what they show."""
        return Still(
            [(o.figure.bbox.width, o.picture(), words) for o, words in zip(self.overlays, self.alt, strict=True)]
        )


class Still:
    """PNG pictures with their words, so that a page without a kernel shows and says them."""

    def __init__(self, pictures):
        self.pictures = pictures  # [(width, PNG, words)]

    def _repr_html_(self):
        return side_by_side(
            (width, f'<img alt="{page.escape(words)}" style="width:100%" src="{page.address(data)}">')
            for width, data, words in self.pictures
        )


def _close(old):
    """Close widgets and all that they hold, here and in the page."""
    for widget in old:
        _close(getattr(widget, "children", ()))
        widget.close()


def caution(*formulas):
    """Return the line of cautions under a panel: the allergens, what is first, where the list is."""
    hazards = together(map(cautions_for, formulas))
    contains = f"Contains {listing(hazards.allergens)}." if hazards.allergens else "No allergen known in it."
    contains += f" To check: {listing(hazards.to_check)}." if hazards.to_check else ""
    return small(f"{contains} Local codes and licensed practice come first; the cautions stand at the end.", 12)


def kind_dial(formula, kind, reach, step=0.25):
    """Return the Dial of an ingredient's kind [% of flour], which reaches that far, or half as far again as it is."""
    value = formula.of_kind(kind)
    return Dial(kind, value, 0.0, max(reach, value * 1.5), step)


def of_total_flour():
    """Return the line that says what the dials' percentages are of."""
    return widgets.HTML(
        f'<span style="font-size:12px;color:{look.QUIET}">Percentages are of total flour, with what is in the '
        "preferments.</span>"
    )


def button(name, does, act, width=72):
    """Return a button that says what it does, and does it."""
    made = widgets.Button(description=name, tooltip=does, layout={"width": width and f"{width}px"})
    made.on_click(lambda _: act())
    return made


def tick(words, value=False, width="auto"):
    """Return a box to tick."""
    layout = {"width": width, "margin": "0 16px 0 0"}
    return widgets.Checkbox(value=value, description=words, indent=False, layout=layout)


def dropdown(words, options, value=None, width="auto", label="initial"):
    """Return a list to choose one from; label: how wide its name is."""
    more = {} if value is None else {"value": value}
    style = {"description_width": label}
    return widgets.Dropdown(description=words, options=options, style=style, layout={"width": width}, **more)


def text(words, value="", hint="", width="auto", label="initial", each_key=False):
    """Return a box to type into; hint: what it says while it is empty; each_key: whether each key is told at once."""
    style, layout = {"description_width": label}, {"width": width}
    given = {"value": value, "placeholder": hint, "continuous_update": each_key}
    return widgets.Text(description=words, style=style, layout=layout, **given)


def folded(title, *inside):
    """Return what opens on asking."""
    return widgets.Accordion(list(inside), titles=(title,), selected_index=None)


def radio(description, options, value):
    """Return buttons to choose one of a few words, all of them seen."""
    return widgets.RadioButtons(
        description=description,
        options=list(options),
        value=value,
        orientation="horizontal",
        style={"description_width": "initial"},
        layout={"width": "auto", "height": "auto", "margin": "0 20px 0 0"},
    )
