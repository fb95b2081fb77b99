"""Panels of the trial book: bakes laid side by side, and one entered with floury fingers."""

import base64
import datetime
import os
from pathlib import Path

import ipywidgets as widgets

from .. import page
from ..errors import KitError, must
from ..files import write_whole
from ..trials import ConflictError, Trial, TrialError, by_plan, side_by_side, trial_fields
from ..trials.comparing import MOST
from ..trials.photos import small
from ..words import figure
from . import look
from .panel import Panel
from .trial_charts import drawn, response_of

REPEATS = 400  # newest trials whose repeats tell how far this kitchen's bakes differ by themselves
_ROW = {"display": "flex", "flex_flow": "row wrap", "align_items": "flex-start", "width": "100%"}


class SideBySidePanel(Panel):
    """Two to six trials of a book laid side by side: what was planned differently, what came out different.

    book: a TrialBook; trials: codes to begin with, the first compared with, else the newest two; folder: where the
    page to print goes, else where the notebook is. Raises UnknownName.
    """

    def __init__(self, book, trials=None, folder="."):
        self.book, self.folder, self.result, self.overlays = book, Path(folder), None, []
        self._wanted = "height"
        wide = {"description_width": "96px"}
        self.search = widgets.Text(
            description="search", placeholder="words, a name, a baker", style=wide, layout={"width": "97%"}
        )
        codes = [trial.code for trial in book.trials(trials)] if trials else [f.code for f in book.find(most=2)][::-1]
        self._labels = {}
        self._find()
        self._learn(codes)
        chosen = widgets.SelectMultiple(
            description="side by side", options=self._options(codes), value=codes, rows=9, style=wide,
            layout={"width": "97%"},
        )  # fmt: skip
        first = widgets.Dropdown(
            description="the first", options=codes, value=codes[0] if codes else None, style=wide,
            layout={"width": "97%"},
        )  # fmt: skip
        response = widgets.Dropdown(description="bake by bake", style=wide, layout={"width": "97%"})
        together = widgets.Checkbox(
            value=False, description="repeats of one plan in one column", indent=False, layout={"width": "auto"}
        )
        super().__init__({}, {"trials": chosen, "first": first, "response": response, "together": together})
        self.page_button = widgets.Button(
            description="page", tooltip="Write one page to print into the folder", layout={"width": "72px"}
        )
        self.page_button.on_click(lambda _: self.write_page())
        self.search.observe(lambda _: self._searched(), "value")
        self.written = widgets.HTML()
        hint = widgets.HTML(
            f'<p style="margin:0 0 4px 98px;font-size:12px;line-height:1.35;color:{look.QUIET}">2 to {MOST}; hold Ctrl '
            "(Cmd on a Mac) to choose several. The search takes the beginnings of words.</p>"
        )
        left = widgets.VBox([self.search, chosen, hint], layout={"flex": "1 1 400px"})
        buttons = widgets.HBox([self.undo_button, self.reset_button, self.page_button])
        right = widgets.VBox([first, response, together, buttons, self.written], layout={"flex": "1 1 300px"})
        self.children = [widgets.Box([left, right], layout=_ROW), self._problem, self._still, self._live]
        self._recompute(None)
        self.start = self._state()

    # choosing

    def _find(self):
        found = self.book.find(self.search.value)
        self._labels |= {f.code: f"{f.code}  {f.date}  {f.name[:60]}" for f in found}
        self._found = [f.code for f in found]
        newest = [f.code for f in self.book.find(most=REPEATS)]
        self._kitchen = self.book.trials(newest)

    def _learn(self, codes):
        missing = [code for code in codes if code not in self._labels]
        for trial in self.book.trials(missing) if missing else ():
            self._labels[trial.code] = f"{trial.code}  {trial.date}  {trial.name[:60]}"

    def _options(self, codes):
        """Return the choices: what the search found, and what is chosen whether found or not."""
        kept = [code for code in codes if code not in self._found]
        return [(self._labels[code], code) for code in (*kept, *self._found)]

    def _searched(self):
        try:
            self._find()
        except KitError as error:
            self._say(error)
            return
        chosen = self.choices["trials"]
        codes = chosen.value
        self._silently(lambda: self._offer(codes, self.choices["first"].value))

    def _offer(self, codes, first):
        """Offer what can be chosen, and choose these codes and this first of them."""
        chosen, dropdown = self.choices["trials"], self.choices["first"]
        options = self._options(codes)
        if chosen.options != tuple(options):
            chosen.value = ()  # the page still has the old list when it learns of a choice
            chosen.options = options
        chosen.value = codes
        dropdown.options = sorted(codes)
        dropdown.value = first if first in codes else min(codes, default=None)

    def _restore(self, state):
        def act():
            self._learn(state["trials"])
            self._offer(state["trials"], state["first"])
            self.choices["together"].value = state["together"]

        self._silently(act)
        self._wanted, self._last = state["response"], None
        self._recompute(None)

    def _laid_out(self, state):
        """Return the SideBySide of a choice, the first first. Raises TrialError."""
        codes = sorted(state["trials"], key=lambda code: (code != state["first"], self._labels[code].split()[1], code))
        if len(codes) < 2:
            left = "the book holds too few" if len(self.book) < 2 else f"{len(codes)} chosen"
            raise TrialError(f"'side by side' must be 2 to {MOST} trials ({left}); choose them in the list")
        columns = self.book.trials(codes)
        return side_by_side(by_plan(columns) if state["together"] else columns, kitchen=self._kitchen)

    def _offer_responses(self, side):
        """Offer what was measured, and choose what was last asked for, if it was."""
        dropdown, options = self.choices["response"], [(row.what, row.name) for row in side.responses]
        if dropdown.options != tuple(options):
            dropdown.options = options
        found = response_of(side, self._wanted)
        dropdown.value = found.name if found else None

    # showing

    def _update(self, moving):
        if moving == "response":
            self._wanted = self.choices["response"].value
        self._silently(lambda: self._offer(self.choices["trials"].value, self.choices["first"].value))
        side = self._laid_out(self._state())
        self._silently(lambda: self._offer_responses(side))
        self.result = side
        figures = drawn(side, self._wanted)
        self.alt = tuple(words for _, words in figures)
        self._lay([figure for figure, _ in figures])
        row = response_of(side, self._wanted)
        said = list(side.sentences)
        if row is not None:
            said = [f"{row.what}, {name} against {side.names[0]}: {words}."
                    for name, words in zip(side.names[1:], row.words, strict=True)] + said  # fmt: skip
        words = "".join(
            f'<p role="status" style="margin:5px 0 2px;font-size:14.5px;line-height:1.4;color:{look.INK}">'
            f"{page.escape(text)}</p>" for text in said
        )  # fmt: skip
        self._live.value = (
            f'<div style="line-height:1.35"><div style="overflow-x:auto">{side.planned_tables()}</div>{self._marks()}'
            f'{words}{self._photos()}<div style="overflow-x:auto">{side.came_out_table()}</div></div>'
        )

    def _photos(self):
        shown = ""
        for name, column in zip(self.result.names, self.result.columns, strict=True):
            for trial in (trial for bake in column for trial in bake.trials):
                for photo in self.book.photos(trial):
                    words = page.escape(f"{trial.code or name}, {photo.view}")
                    shown += (
                        f'<figure style="margin:4px 8px 4px 0;width:200px"><img alt="{words}, {trial.date}" '
                        f'style="width:100%" src="{as_address(photo)}"><figcaption style="font-size:12px">{words}'
                        "</figcaption></figure>"
                    )
        return f'<div style="display:flex;flex-wrap:wrap">{shown}</div>' if shown else ""

    def write_page(self):
        """Write the page to print into the folder and return its path; say its name, or why not."""
        try:
            if self.result is None:
                self._laid_out(self._state())
            name = f"side by side {' '.join(self.result.names)}".replace(" ", "_")
            path = self.folder / f"{name}.html"
            write_whole(path, self.result.page(self.book), os.replace)
        except KitError as error:
            self._say(error)
            return None
        self.written.value = (
            f'<p role="status" style="margin:4px 0;font-size:14px">Written: <b>{page.escape(path.name)}</b></p>'
        )
        return path


# entering a bake

OFFERED = 60  # trials in the list of the entry panel
VIEWS = ("top", "side", "cut face")
# when a controlled figure is read off: the part of the entry panel that asks for it
PARTS = {
    "before mixing": "Before mixing", "mixing": "Mixing", "end of mixing": "Mixing",
    "bulk": "Bulk, dividing, make-up", "end of bulk": "Bulk, dividing, make-up",
    "dividing": "Bulk, dividing, make-up", "make-up": "Bulk, dividing, make-up",
    "final proof": "Proof and baking", "end of final proof": "Proof and baking",
    "baking": "Proof and baking", "end of baking": "Proof and baking",
}  # fmt: skip
# Fingers with flour on them: nothing to touch is lower than 44 px, what is written is 18 px.
_LARGE = """<style>
.kit-entry .widget-text, .kit-entry .widget-textarea, .kit-entry .widget-dropdown
  {height:auto; flex-direction:column; align-items:stretch}
.kit-entry .widget-label
  {height:auto; width:auto; text-align:left; font-size:15px; line-height:1.3; white-space:normal; flex:none}
.kit-entry input[type=text], .kit-entry select
  {height:46px; font-size:18px; flex:none; padding:4px 10px; min-width:0; max-width:100%}
.kit-entry textarea {font-family:inherit; font-size:18px; line-height:1.4; padding:6px 10px}
.kit-entry button {min-height:46px; font-size:18px; padding:4px 16px}
.kit-entry .widget-radio {height:auto; flex-direction:column; align-items:stretch}
.kit-entry .widget-radio-box {height:auto; width:auto; margin:0; display:flex; flex-flow:row wrap; gap:0 30px}
.kit-entry .widget-radio-box label
  {display:flex; flex-direction:row-reverse; align-items:center; height:46px; margin:0; gap:8px; font-size:18px}
.kit-entry .widget-radio-box input {width:24px; height:24px; margin:0; position:static; float:none; flex:none}
.kit-entry .jupyter-widget-Collapse-header {min-height:46px; font-size:18px; display:flex; align-items:center}
</style>"""


class _Box:
    """One entry of a trial: a control, and a line that says what became of it.

    entry: its name as `Trial.with_entry` takes it; read: what stands there in a trial.
    """

    def __init__(self, control, entry, read, unit="", width="1 1 300px"):
        self.control, self.entry, self.read, self.unit = control, entry, read, unit
        self.known, self.unsaved = "", False
        self.note, self.choice = widgets.HTML(), widgets.HBox(layout={"flex_flow": "row wrap"})
        self.view = widgets.VBox([control, self.note, self.choice], layout={"flex": width, "margin": "0 8px 8px 0"})

    def say(self, words, wrong=False):
        """Write a line under the box."""
        self.note.value = _said(words, wrong)


class EntryPanel(widgets.VBox):
    """A bake entered with floury fingers: large boxes, each saved as soon as it is left.

    book: a TrialBook; trial: the one to go on with, by its code, else one is chosen or begun; by: who enters;
    formulas: those that a new trial may be baked from. What can't be is said under its box and not saved; what two
    people entered differently is shown, and one of them is chosen. Raises UnknownName.
    """

    def __init__(self, book, trial=None, by="", formulas=()):
        self.book, self.entry, self.boxes = book, None, []
        self._formulas = {formula.name: formula for formula in formulas}
        self._quiet = False
        self.by = _text("entered by, your code", by)
        self.search = _text("find", "", "words, a name, a baker")
        self.chosen = widgets.Dropdown(description="trial", layout={"width": "auto"})
        top = [self.by, self.search, self.chosen]
        for control in top:
            control.layout.flex, control.layout.margin = "1 1 220px", "0 8px 8px 0"
        self.name, self.date = _text("name of the new trial"), _text("date", datetime.date.today().isoformat())
        self.parent = widgets.Dropdown(description="varies", layout={"width": "auto"})
        self.formula = widgets.Dropdown(
            description="formula as planned", layout={"width": "auto"},
            options=["as the one it varies", "none yet", *self._formulas],
        )  # fmt: skip
        self.begin_button = widgets.Button(description="begin", tooltip="Save the new trial with its name and date")
        fields = [self.name, self.date, self.parent, self.formula]
        for control in fields:
            control.layout.flex, control.layout.margin = "1 1 220px", "0 8px 8px 0"
        self.new = widgets.Box([*fields, self.begin_button], layout=_ROW | {"align_items": "flex-end"})
        self.heading, self.problem = widgets.HTML(), widgets.HTML()
        self.plan = widgets.RadioButtons(
            options=["as it was", "as planned"], description="controlled figures", orientation="horizontal",
            layout={"width": "auto"},
        )  # fmt: skip
        self._parts = self._asked()
        self.parts = widgets.Accordion(
            [widgets.Box(layout=_ROW) for _ in self._parts], titles=tuple(self._parts), selected_index=None
        )
        self._offer()
        self.search.observe(lambda _: self._offer(), "value")
        self.chosen.observe(lambda change: self._quiet or self.go_on(change["new"]), "value")
        self.begin_button.on_click(lambda _: self.begin())
        self.by.observe(lambda _: self._signed(), "value")
        self.parts.observe(lambda change: self._unfold(change["new"]), "selected_index")
        self.plan.observe(lambda _: self._turn(), "value")
        children = [
            widgets.HTML(_LARGE), widgets.Box(top, layout=_ROW), self.new, self.problem, self.heading, self.plan,
            self.parts,
        ]  # fmt: skip
        super().__init__(children, layout={"width": "100%", "max_width": "940px"})
        self.add_class("kit-entry")
        self.go_on(trial)

    # which trial

    def _offer(self):
        found = [
            (f"{f.code}  {f.date}  {f.name[:60]}", f.code) for f in self.book.find(self.search.value, most=OFFERED)
        ]
        own = self.entry.trial if self.entry else None
        if own is not None and own.code not in [code for _, code in found]:
            found.insert(0, (f"{own.code}  {own.date}  {own.name[:60]}", own.code))

        def act():
            self.chosen.options = [("a new trial", ""), *found]
            self.chosen.value = own.code if own else ""
            kept = self.parent.value
            self.parent.options = [("no other", ""), *found]
            self.parent.value = kept if kept in [code for _, code in found] else ""

        self._silently(act)

    def go_on(self, trial):
        """Go on with a trial of the book, by its code; with none, begin a new one."""
        code = getattr(trial, "code", trial) or ""
        self.entry = self.book.entry(self.book.trial(code), self.by.value) if code else None
        if self.entry and not self.by.value.strip():
            self._silently(lambda: setattr(self.by, "value", self.book.history(code)[-1].by))
            self._signed()
        self._offer()
        there = self.entry is not None
        self.new.layout.display = "none" if there else "flex"
        for widget in (self.plan, self.parts):
            widget.layout.display = None if there else "none"
        self.parts.selected_index = None
        self.boxes = []
        for box in self.parts.children:
            box.children = ()
        self._head("" if there else None)

    def begin(self):
        """Save the new trial with its name and date, and go on with it; say why not, if not."""
        try:
            trial = Trial.of(self.name.value, self.date.value)
            if self.parent.value:
                parent = self.book.trial(self.parent.value)
                trial = trial.with_entry("parent", parent)
                if self.formula.value == "as the one it varies":
                    trial = trial.with_entry("formula", parent.planned_formula)
            if self.formula.value in self._formulas:
                trial = trial.with_entry("formula", self._formulas[self.formula.value])
            self._must_sign()
            saved = self.book.save(trial, self.by.value)
        except KitError as error:
            self._say(error)
            return
        self.name.value = ""
        self.go_on(saved.code)
        self._head("begun and saved")

    def _must_sign(self):
        if not self.by.value.strip():
            raise TrialError(must("entered by", "given", "nothing", "write your code at the top"))

    def _signed(self):
        if self._quiet or self.entry is None:
            return
        self.entry = self.book.entry(self.entry.trial, self.by.value)
        for box in self.boxes:
            if box.unsaved:
                self._save(box)

    # what it asks for

    def _asked(self):
        """Return {title of a part: what makes its boxes}."""
        fields = list(trial_fields().values())
        asked = {"The trial": lambda: [
            self._named("name"), self._named("date"), self._named("baker"), self._named("mix", "of that day"),
            self._named("question", "what is it to answer?", 2),
        ]}  # fmt: skip
        for title in dict.fromkeys(PARTS.values()):
            some = [f for f in fields if f.group in ("lot", "controlled") and PARTS[f.when] == title]
            asked[title] = lambda some=some: [self._measure(f) for f in some]
        asked["Measured"] = lambda: [self._measure(f) for f in fields if f.group == "measured"]
        for day in range(3):
            asked[f"Day {day}"] = lambda day=day: [self._measure(f, day) for f in fields if f.group == "series"]
        asked["Scores"] = self._scores
        asked["Photos"] = self._photos
        asked["Notes, verdict, next change"] = lambda: [
            self._named("notes", "", 4), self._named("deviations", "anything dropped, added, gone wrong", 2),
            self._verdict(), self._named("reason", "in one sentence", 2),
            self._named("next_change", "one thing, by how much, and what it should do", 2),
        ]  # fmt: skip
        return asked

    def _unfold(self, index):
        """Make the boxes of a part when it is first opened: a hundred at once would keep a tablet waiting."""
        if index is None or self.parts.children[index].children:
            return
        views = []
        for made in list(self._parts.values())[index]():
            if isinstance(made, _Box):
                self.boxes.append(made)
                self._write(made)
                made.control.observe(lambda _, box=made: self._left(box), "value")
                views.append(made.view)
            else:
                views.append(made)
        self.parts.children[index].children = views

    def _named(self, name, hint="", rows=0):
        words = name.replace("_", " ")
        wide = "1 1 100%" if rows else "1 1 300px"
        return _Box(_text(words, "", hint, rows), lambda: words, lambda trial: getattr(trial, name), width=wide)

    def _measure(self, field, day=None):
        times = f"{field.readings} readings, ; between" if field.readings > 1 else ""
        hint = f"{times} ({field.instrument})" if times and field.instrument else times or field.instrument
        label = field.words if field.unit == "text" else f"{field.words}, {field.unit}"
        control = _text(label, "", hint)
        unit = "" if field.unit == "text" or " to " in field.unit else field.unit
        if day is not None:
            control.description = f"{label}, day {day}"
            return _Box(
                control, lambda: f"{field.words} day {day}", lambda t: t.days.get(field.name, {}).get(day), unit
            )
        if field.group != "controlled":
            section = "lots" if field.group == "lot" else "measured"
            return _Box(control, lambda: field.words, lambda t: getattr(t, section).get(field.name), unit)

        def entry():
            return f"planned {field.words}" if self._planning else field.words

        box = _Box(control, entry, lambda t: (t.planned if self._planning else t.controlled).get(field.name), unit)
        box.field, box.label = field, label
        self._name_plan(box)
        return box

    @property
    def _planning(self):
        return self.plan.value == "as planned"

    def _name_plan(self, box):
        box.control.description = f"planned {box.label}" if self._planning else box.label

    def _turn(self):
        """Show what was planned of the controlled figures, or what they were."""
        for box in self.boxes:
            if hasattr(box, "field"):
                self._name_plan(box)
                self._write(box)

    def _verdict(self):
        control = widgets.RadioButtons(
            options=[("not yet", ""), ("keep", "keep"), ("change", "change"), ("drop", "drop")], description="verdict",
            orientation="horizontal", layout={"width": "auto"},
        )  # fmt: skip
        return _Box(control, lambda: "verdict", lambda trial: trial.verdict, width="1 1 100%")

    def _scores(self):
        taster = _text("taster's code", "", "P1")
        taster.layout.flex, taster.layout.margin = "1 1 100%", "0 8px 8px 0"
        made = []
        for field in trial_fields().values():
            if field.group == "sensory":
                control = _text(f"{field.words}, {field.unit}")

                def entry(field=field):
                    if not taster.value.strip():
                        raise TrialError(must("taster's code", "given", "nothing", "write it above the scores"))
                    return f"{field.words} by {taster.value.strip()}"

                def read(trial, field=field):
                    whose = (field.name, taster.value.strip())
                    return next((s.score for s in trial.scores if (s.field, s.taster) == whose), None)

                made.append(_Box(control, entry, read))
        taster.observe(lambda _: [self._write(box) for box in made], "value")
        return [taster, *made]

    def _photos(self):
        self.view = widgets.RadioButtons(
            options=VIEWS, description="view", orientation="horizontal", layout={"width": "auto"}
        )
        self.upload = widgets.FileUpload(accept="image/*", description="take or choose a photo")
        self.upload.layout = {"width": "auto", "height": "46px"}
        self.upload.observe(lambda change: self._uploaded(change["new"]), "value")
        self.uploaded = widgets.HTML()
        self._show_photos("")
        return [widgets.VBox([self.view, self.upload, self.uploaded], layout={"width": "100%"})]

    def _uploaded(self, files):
        if self._quiet or not files:
            return
        try:
            self._must_sign()
            self.book.add_photo(self.entry.trial, bytes(files[0]["content"]), self.view.value, self.by.value)
            self._show_photos("photo saved")
        except KitError as error:
            self._show_photos(f"not saved: {error}", wrong=True)
        self._silently(lambda: setattr(self.upload, "value", ()))

    def _show_photos(self, said, wrong=False):
        shown = "".join(
            f'<figure style="margin:4px 8px 4px 0;width:200px"><img alt="{page.escape(photo.view)}" style="width:100%" '
            f'src="{as_address(photo)}"><figcaption style="font-size:15px">{page.escape(photo.view)}</figcaption>'
            "</figure>" for photo in self.book.photos(self.entry.trial)
        )  # fmt: skip
        self.uploaded.value = f'{_said(said, wrong)}<div style="display:flex;flex-wrap:wrap">{shown}</div>'

    # saving

    def _left(self, box):
        if self._quiet:
            return
        if box.control.value.strip() != box.known:
            self._save(box)
        elif box.unsaved:  # put back to what stands
            self._write(box)

    def _save(self, box):
        text, before = box.control.value, box.known
        box.unsaved, box.choice.children = True, ()
        try:
            self._must_sign()
            trial = self.entry.set(box.entry(), text)
        except ConflictError as conflict:
            self._ask(box, text, conflict)
            return
        except KitError as error:
            box.say(f"not saved: {error}", wrong=True)
            return
        self._write(box)
        words = f"saved, version {trial.version}"
        if box.known != text.strip() and box.known:
            words += f"; read as {box.known} {box.unit}".rstrip()
        value = box.read(trial)
        if isinstance(value, tuple) and len(value) > 1:
            words += f"; mean of {len(value)}: {figure(sum(value) / len(value))} {box.unit}".rstrip()
        box.say(words if box.known or before else "")
        self._refresh()
        self._head(f"saved, version {trial.version}")

    def _ask(self, box, mine, conflict):
        """Show both values of one entry that two people changed, and let one be chosen."""
        theirs = conflict.theirs
        who = next(v.by for v in self.book.history(theirs) if v.number == theirs.version)
        other = _written(box.read(theirs)) or "nothing"
        box.say(f"{who} entered {other} meanwhile, you {mine.strip() or 'nothing'}. Which holds?", wrong=True)
        keep = widgets.Button(description=f"{who}: {other[:40]}", layout={"width": "auto"})
        take = widgets.Button(description=f"mine: {mine.strip()[:40] or 'nothing'}", layout={"width": "auto"})

        def chosen(own):
            self.entry.trial = self.book.trial(theirs.key)
            if own:
                self._silently(lambda: setattr(box.control, "value", mine))
                self._save(box)
            else:
                box.choice.children = ()
                self._write(box)
                box.say(f"kept {other}; yours stays in the history, set aside")
                self._refresh()
                self._head(f"version {self.entry.trial.version} stands")

        keep.on_click(lambda _: chosen(False))
        take.on_click(lambda _: chosen(True))
        box.choice.children = (keep, take)

    def _write(self, box):
        """Write into a box what stands in the book."""
        box.known, box.unsaved = _written(box.read(self.entry.trial)), False
        self._silently(lambda: setattr(box.control, "value", box.known))
        planned = self.entry.trial.planned.get(box.field.name) if hasattr(box, "field") else None
        box.say(f"planned {_written(planned)} {box.unit}" if planned is not None and not self._planning else "")

    def _refresh(self):
        """Show what others entered meanwhile, and leave alone what waits for an answer."""
        for box in self.boxes:
            if not box.unsaved and _written(box.read(self.entry.trial)) != box.known:
                self._write(box)

    def _head(self, said):
        self.problem.value = ""
        if said is None:
            self.heading.value = (
                f'<p style="font-size:16px;line-height:1.4;color:{look.INK}">Choose a trial to go on with, or give a '
                "new one a name and a date. Each box is saved as soon as you leave it.</p>"
            )
            return
        trial = self.entry.trial
        recipe = trial.weighed_formula or trial.planned_formula
        marked = " (invented)" if trial.invented else ""
        about = f"{trial.date}{marked}, {f'formula: {recipe.name}' if recipe else 'no formula noted'}"
        odd = "".join(
            f'<p style="margin:2px 0;font-size:15px;color:{look.QUIET}">{page.escape(words)}</p>'
            for words in trial.doubts
        )
        self.heading.value = (
            f'<div style="line-height:1.35;color:{look.INK}"><div style="font-size:20px;font-weight:600">'
            f'{page.escape(f"{trial.code} {trial.name}")}</div><div style="font-size:15px">{page.escape(about)}</div>'
            f'<p role="status" style="margin:2px 0;font-size:18px;color:{look.ACCENT}">'
            f"{page.escape(said or f'version {trial.version}')}</p>{odd}</div>"
        )

    def _say(self, error):
        self.problem.value = (
            f'<p role="alert" style="font-size:16px;line-height:1.4;color:#a33b00">{page.escape(error)}</p>'
        )

    def _silently(self, act):
        self._quiet, before = True, self._quiet
        try:
            act()
        finally:
            self._quiet = before


def _said(words, wrong=False):
    role, colour = ("alert", "#a33b00") if wrong else ("status", look.QUIET)
    return words and (
        f'<p role="{role}" style="margin:2px 0;font-size:15px;line-height:1.35;color:{colour}">{page.escape(words)}</p>'
    )


def _text(label, value="", hint="", rows=0):
    kind = widgets.Textarea if rows else widgets.Text
    more = {"rows": rows} if rows else {}
    return kind(
        value=value, description=label, placeholder=hint, continuous_update=False, layout={"width": "auto"}, **more
    )


def _written(value):
    """Return what stands in an entry as one writes it."""
    if isinstance(value, tuple):
        return "; ".join(f"{each:.10g}" for each in value)
    return "" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)


def as_address(photo, side=400):
    """Return a photo, made small, as the address of an image."""
    return f"data:image/jpeg;base64,{base64.b64encode(small(photo.picture, side)).decode('ascii')}"
