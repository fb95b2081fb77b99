"""A bake entered with floury fingers: boxes that are saved as soon as the typing rests."""

import asyncio
import contextlib
import datetime

import ipywidgets as widgets

from .. import page
from ..errors import KitError, must
from ..formula import to_weigh
from ..trials import ConflictError, Trial, TrialError, Unsaved, UnsavedEntries, trial_fields
from ..trials.comparing import told_apart
from ..trials.fields import Note
from ..words import figure, listing
from . import look
from .panel import Controls
from .trial_panels import TOPS, in_a_list, photos

PAUSE = 1.2  # s without a key after which what was typed is saved
OFFERED = 60  # trials in the list of the entry panel
VIEWS = ("top", "side", "cut face")
WEIGHED = "As weighed"
STOPPED = (
    "A broken chain beside the boxes means that the notebook has stopped: run its cell again. What was typed before is "
    "kept; what is typed after goes nowhere."
)
# when a controlled figure is read off: the part of the entry panel that asks for it
PARTS = {
    "before mixing": "Before mixing",
    "mixing": "Mixing",
    "end of mixing": "Mixing",
    "bulk": "Bulk, dividing, make-up",
    "end of bulk": "Bulk, dividing, make-up",
    "dividing": "Bulk, dividing, make-up",
    "make-up": "Bulk, dividing, make-up",
    "final proof": "Proof and baking",
    "end of final proof": "Proof and baking",
    "baking": "Proof and baking",
    "end of baking": "Proof and baking",
}
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
        self.known, self.unsaved, self.planned = "", False, lambda trial: None
        self.waits = None  # the timer that saves what was typed
        self.into = self.by = ""  # the entry it was typed into, and by whom
        self.note, self.choice = widgets.HTML(), widgets.HBox(layout={"flex_flow": "row wrap"})
        self.view = widgets.VBox([control, self.note, self.choice], layout={"flex": width, "margin": "0 8px 8px 0"})

    def say(self, words, wrong=False):
        """Write a line under the box."""
        self.note.value = _said(words, wrong)


class EntryPanel(Controls):
    """A bake entered with floury fingers: large boxes, each saved as soon as the typing rests.

    book: a TrialBook; trial: the one to go on with, by its code, else one is chosen or begun; by: who enters;
    formulas: those that a trial may be baked from; folder: where letters that are not saved yet are kept from key to
    key, else beside the book. What can't be is said under its box and not saved; what two people entered differently
    is shown, and one of them is chosen. Raises UnknownName.
    """

    def __init__(self, book, trial=None, by="", formulas=(), folder=None):
        self.book, self.entry, self.boxes = book, None, []
        self._formulas = told_apart(formulas)
        self._typed_before = UnsavedEntries(folder or book.folder or ".", book.name)
        self.tasters = widgets.HTML(layout={"flex": "1 1 100%"})
        self.by = _text("entered by, your code", by, each_key=False)
        self.search = _text("find", "", "words, a name, a baker", each_key=False)
        self.chosen = widgets.Dropdown(description="trial", layout={"width": "auto"})
        top = [self.by, self.search, self.chosen]
        self.name = _text("name of the new trial", each_key=False)
        self.date = _text("date", datetime.date.today().isoformat(), each_key=False)
        self.parent = widgets.Dropdown(description="varies", layout={"width": "auto"})
        self.formula = widgets.Dropdown(
            description="formula as planned",
            layout={"width": "auto"},
            options=["as the one it varies", "none yet", *self._formulas],
        )
        self.begin_button = widgets.Button(description="begin", tooltip="Save the new trial with its name and date")
        fields = [self.name, self.date, self.parent, self.formula]
        for control in (*top, *fields):
            control.layout.flex, control.layout.margin = "1 1 220px", "0 8px 8px 0"
        self.new = widgets.Box([*fields, self.begin_button], layout=TOPS | {"align_items": "flex-end"})
        self.heading, self.problem = widgets.HTML(), widgets.HTML()
        self.plan = widgets.RadioButtons(
            options=["as it was", "as planned"],
            description="times, temperatures, masses",
            orientation="horizontal",
            layout={"width": "auto"},
        )
        self._parts = self._asked()
        self.parts = widgets.Accordion(
            [widgets.Box(layout=TOPS) for _ in self._parts], titles=tuple(self._parts), selected_index=None
        )
        self._offer()
        self.search.observe(lambda _: self._offer(), "value")
        self.chosen.observe(lambda change: self._quiet or self.go_on(change["new"]), "value")
        self.begin_button.on_click(lambda _: self.begin())
        self.by.observe(lambda _: self._signed(), "value")
        self.parts.observe(lambda change: self._unfold(change["new"]), "selected_index")
        self.plan.observe(lambda _: self._turn(), "value")
        children = [
            widgets.HTML(_LARGE),
            widgets.Box(top, layout=TOPS),
            self.new,
            self.problem,
            self.heading,
            self.plan,
            self.parts,
            widgets.HTML(_said(STOPPED)),
        ]
        super().__init__(children, layout={"width": "100%", "max_width": "940px"})
        self.add_class("kit-entry")
        self.go_on(trial)

    # which trial

    def _offer(self):
        found = [(in_a_list(each), each.code) for each in self.book.find(self.search.value, most=OFFERED)]
        own = self.entry.trial if self.entry else None
        if own is not None and own.code not in [code for _, code in found]:
            found.insert(0, (in_a_list(own), own.code))

        def act():
            self.chosen.options = [("a new trial", ""), *found]
            self.chosen.value = own.code if own else ""
            kept = self.parent.value
            self.parent.options = [("no other", ""), *found]
            self.parent.value = kept if kept in [code for _, code in found] else ""

        self._silently(act)

    def go_on(self, trial):
        """Go on with a trial of the book, by its code; with none, begin a new one."""
        self._flush()
        code = getattr(trial, "code", trial) or ""
        self.entry = self.book.entry(self.book.trial(code), self.by.value) if code else None
        self._offer()
        there = self.entry is not None
        self.new.layout.display = "none" if there else "flex"
        for widget in (self.plan, self.parts):
            widget.layout.display = None if there else "none"
        self.parts.selected_index = None
        self.boxes = []
        for box in self.parts.children:
            box.children = ()
        self._head(self._saved_from_before() if there else None)

    def _left(self):
        """Return {entry: (what was typed and not saved, from which Entry)}: of whoever enters, and unsigned."""
        found, key = {}, self.entry.trial.key
        typed = [one for by in {"", self.by.value.strip()} for one in self._typed_before.of(key, by)]
        versions = {v.number: v.trial for v in self.book.history(key)} if typed else {}
        for one in typed:
            if one.version in versions:
                found[one.entry] = one, self.book.entry(versions[one.version], one.by)
        return found

    def _saved_from_before(self):
        """Save what was typed and not saved when kernel or browser ended; return in words what became of it."""
        done, left = [], []
        for one, entry in self._left().values():
            try:
                if entry.behind(one.entry, one.text):  # asked about where it is entered
                    left.append(one.entry)
                    continue
                entry.set(one.entry, one.text)
            except KitError:
                left.append(one.entry)
            else:
                self._typed_before.drop(one.key, one.entry, one.by)
                done.append(one.entry)
        if not done and not left:
            return ""
        self.entry = self.book.entry(self.book.trial(self.entry.trial.key), self.by.value)
        said = []
        if done:
            said.append(f"{listing(done)}: typed before the stop, saved now as version {self.entry.trial.version}")
        if left:
            said.append(f"{listing(left)}: typed before the stop and not saved, look there")
        return "; ".join(said)

    def begin(self):
        """Save the new trial with its name and date, and go on with it; say why not, if not."""
        try:
            trial = Trial.of(self.name.value, self.date.value)
            if self.parent.value:
                parent = self.book.trial(self.parent.value)
                trial = trial.with_entry("parent", parent)
                same = self.formula.value == "as the one it varies"
                if same:
                    trial = trial.with_entry("formula", parent.planned_formula)
                for name, value in parent.planned.items():  # what it is to differ in is then planned otherwise
                    if same or name not in ("piece_mass", "topping_mass", "flour_weighed"):
                        trial = trial.with_entry(f"planned {name}", value)
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
        if said := self._saved_from_before():
            self._refresh()
            self._head(said)

    # what it asks for

    def _asked(self):
        """Return {title of a part: what makes its boxes}."""
        fields = list(trial_fields().values())
        asked = {
            "The trial": lambda: [
                self._named("name"),
                self._named("date"),
                self._named("baker"),
                self._named("mix", "of that day"),
                self._named("question", "what is it to answer?", 2),
            ],
            WEIGHED: self._weighed,
        }
        for title in dict.fromkeys(PARTS.values()):
            some = [f for f in fields if f.group in ("lot", "controlled") and PARTS[f.when] == title]
            asked[title] = lambda some=some: [self._measure(f) for f in some]
        asked["Measured"] = lambda: [self._measure(f) for f in fields if f.group == "measured"]
        for day in range(3):
            asked[f"Day {day}"] = lambda day=day: [self._measure(f, day) for f in fields if f.group == "series"]
        asked["Scores"] = self._scores
        asked["Photos"] = self._photos
        asked["Notes, verdict, next change"] = lambda: [
            self._named("notes", "", 4),
            self._named("deviations", "anything dropped, added, gone wrong", 2),
            self._verdict(),
            self._named("reason", "in one sentence", 2),
            self._named("next_change", "one thing, by how much, and what it should do", 2),
        ]
        return asked

    def _unfold(self, index):
        """Make the boxes of a part when it is first opened: a hundred at once would keep a tablet waiting."""
        if index is None:
            return
        again = self.parts.titles[index] == WEIGHED  # its lines and plan may have changed meanwhile
        if self.parts.children[index].children and not again:
            return
        if again:
            self._flush()
            self.boxes = [box for box in self.boxes if box.view not in self.parts.children[index].children]
        left = self._left()
        views = []
        for made in list(self._parts.values())[index]():
            if isinstance(made, _Box):
                self.boxes.append(made)
                self._write(made)
                made.control.observe(lambda _, box=made: self._typed(box), "value")
                views.append(made.view)
                self._put_back(made, left)
            else:
                views.append(made)
        self.parts.children[index].children = views

    def _put_back(self, box, left):
        """Put into a box what was typed into it before a stop and could not be saved."""
        with contextlib.suppress(KitError):
            if box.entry() not in left:
                return
            one, entry = left[box.entry()]
            self._silently(lambda: setattr(box.control, "value", one.text))
            box.unsaved, box.into, box.by = True, one.entry, one.by
            if not one.by:
                box.say("typed before the stop and never signed: type on to save it, or take it out", wrong=True)
            elif entry.behind(one.entry, one.text):
                self._ask(box, one.text, self.entry.trial)
            else:
                self._save(box)

    def _weighed(self):
        """Return the boxes of what was weighed, line by line, with what was to be weighed."""
        trial = self.entry.trial
        recipe = trial.planned_formula
        names = list(self._formulas)
        own = next((name for name in names if recipe and self._formulas[name].fingerprint == recipe.fingerprint), None)
        own = own or (f"{recipe.name}, as this trial has it" if recipe else "none yet")
        formula = widgets.Dropdown(
            description="formula as planned",
            options=[own, *(name for name in names if name != own)],
            layout={"width": "auto", "flex": "1 1 100%", "margin": "0 8px 8px 0"},
        )
        formula.observe(lambda change: self._replan(change["new"]), "value")
        try:
            batch = trial.batch
            planned = recipe.formula.scale(flour=batch.flour).grams if recipe else {}
        except KitError as error:
            return [formula, widgets.HTML(_said(str(error)), layout={"flex": "1 1 100%"})]
        all_so = widgets.Button(
            description="all as planned",
            tooltip="Note that every line was weighed as planned",
            layout={"width": "auto"},
        )
        all_so.on_click(lambda _: self._note(lambda: self.entry.set("weighed formula", batch)))
        hint = "Write what was weighed otherwise; with the first, the lines left alone are noted as planned."
        made, part_before = [formula, all_so, widgets.HTML(_said(hint), layout={"flex": "1 1 100%"})], None
        for part, key in dict.fromkeys((*planned, *batch.grams)):
            if part != part_before:
                words = f'<p style="font-size:18px;font-weight:600;margin:6px 0 0">{page.escape(part)}</p>'
                made.append(widgets.HTML(words, layout={"flex": "1 1 100%"}))
                part_before = part
            row = (recipe if recipe and key in recipe.lines.get(part, {}) else trial.weighed_formula).named(key)
            name, grams = row["name"], planned.get((part, key))
            shown = None if grams is None else to_weigh(float(grams), row["kind"])
            hint = "" if grams is None else f"planned {shown}"

            def read(trial, part=part, key=key, grams=grams, shown=shown):
                weighed = trial.weighed_formula
                value = weighed.grams[part].get(key, 0.0) if weighed and part in weighed.grams else None
                as_planned = value is not None and grams is not None and abs(value - grams) <= 0.01
                return shown.grams if as_planned else value

            entry = f"weighed {part} {name}"
            box = _Box(_text(f"{part}: {name}, g", "", hint), lambda entry=entry: entry, read, "g", "1 1 200px")
            box.planned = lambda _, box=box, shown=shown: box.known and shown and shown.grams
            made.append(box)
        return made

    def _replan(self, name):
        if not self._quiet and name in self._formulas:
            self._note(lambda: self.entry.set("planned formula", self._formulas[name]))

    def _note(self, act):
        """Save something of the whole batch, and show its lines anew."""
        try:
            self._must_sign()
            self._flush()
            trial = act()
        except KitError as error:
            self._say(error)
            return
        self._unfold(self.parts.selected_index)
        self._refresh()
        self._head(f"saved, version {trial.version}")

    def _named(self, name, hint="", rows=0):
        words = name.replace("_", " ")
        wide = "1 1 100%" if rows else "1 1 300px"
        return _Box(_text(words, "", hint, rows), lambda: words, lambda trial: getattr(trial, name), width=wide)

    def _measure(self, field, day=None):
        times = f"{field.readings} readings: a; b; …" if field.readings > 1 else ""
        hint = f"{times} ({field.instrument})" if times and field.instrument else times or field.instrument
        label = field.words if field.unit == "text" else f"{field.words}, {field.unit}"
        control = _text(label, "", hint)
        unit = "" if field.unit == "text" or " to " in field.unit else field.unit
        if day is not None:
            control.description = f"{label}, day {day}"
            entry = f"{field.words} day {day}"
            return _Box(control, lambda: entry, lambda t: t.value(entry), unit)
        if field.group != "controlled":
            return _Box(control, lambda: field.words, lambda t: t.value(field.words), unit)

        def entry():
            return f"planned {field.words}" if self._planning else field.words

        box = _Box(control, entry, lambda t: t.value(entry()), unit)
        box.field, box.label = field, label
        box.planned = lambda t: None if self._planning else t.value(f"planned {field.words}")
        self._name_plan(box)
        return box

    @property
    def _planning(self):
        return self.plan.value == "as planned"

    def _name_plan(self, box):
        box.control.description = f"planned {box.label}" if self._planning else box.label

    def _turn(self):
        """Show what was planned of the controlled figures, or what they were."""
        self._flush()
        for box in self.boxes:
            if hasattr(box, "field"):
                self._name_plan(box)
                self._write(box)

    def _verdict(self):
        control = widgets.RadioButtons(
            options=[("not yet", ""), ("keep", "keep"), ("change", "change"), ("drop", "drop")],
            description="verdict",
            orientation="horizontal",
            layout={"width": "auto"},
        )
        return _Box(control, lambda: "verdict", lambda trial: trial.verdict, width="1 1 100%")

    def _scores(self):
        taster = _text("taster's code", "", "P1", each_key=False)
        taster.layout.flex, taster.layout.margin = "1 1 100%", "0 8px 8px 0"
        made = []
        for field in trial_fields().values():
            if field.group == "sensory":
                low, high = (page.escape(end) for end in field.ends)
                control = _text(f"{field.words}, {field.unit}", "", f"{field.low:g} {low} – {field.high:g} {high}")

                def entry(field=field):
                    if not taster.value.strip():
                        raise TrialError(must("taster's code", "given", "nothing", "write it above the scores"))
                    return f"{field.words} by {taster.value.strip()}"

                def read(trial, field=field):
                    return trial.value(Note(field.name, taster=taster.value.strip()))

                made.append(_Box(control, entry, read))
        taster.observe(lambda _: self._another(made), "value")
        self._say_tasters()
        return [taster, self.tasters, *made]

    def _say_tasters(self):
        who = dict.fromkeys(note.taster for note in sorted(self.entry.trial.noted) if note.taster)
        self.tasters.value = _said(f"scored so far: {listing(who)}" if who else "")

    def _another(self, scores):
        """Show the scores of another taster; those typed before there was a code are the first taster's."""
        self._flush()
        for box in scores:
            if box.unsaved and not box.into:
                self._save(box)
            else:
                self._write(box)

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
        shown = [(photo, photo.view, "") for photo in self.book.photos(self.entry.trial)]
        self.uploaded.value = _said(said, wrong) + photos(shown, 15)

    # saving

    def _typed(self, box):
        """Keep every letter at once; save when the typing rests, since a box that is left says nothing of it."""
        if self._quiet:
            return
        if box.control.value.strip() == box.known:  # put back to what stands; the box itself is left to who types
            self._stop(box)
            if box.unsaved:
                self._forget(box)
                box.unsaved, box.choice.children = False, ()
                self._say_planned(box)
            return
        before = box.into, box.by
        box.unsaved, box.into = True, ""
        try:
            box.into = box.entry()
        except KitError as error:
            box.say(f"not saved: {error}", wrong=True)
            return
        trial, box.by = self.entry.trial, self.by.value.strip()
        if before[0] == box.into and before[1] != box.by:  # somebody else types on
            self._typed_before.drop(trial.key, *before)
        self._typed_before.keep(Unsaved(trial.key, box.into, box.control.value, box.by, trial.version))
        self._stop(box)
        try:
            loop = asyncio.get_running_loop() if isinstance(box.control, (widgets.Text, widgets.Textarea)) else None
        except RuntimeError:  # nothing that could wait
            loop = None
        if loop is None:
            self._save(box)
        else:
            box.waits = loop.call_later(PAUSE, self._save, box)

    def _stop(self, box):
        if box.waits is not None:
            box.waits.cancel()
            box.waits = None

    def _flush(self):
        """Save at once what waits for the typing to rest."""
        for box in self.boxes:
            if box.waits is not None:
                self._save(box)

    def _forget(self, box):
        if box.into:
            self._typed_before.drop(self.entry.trial.key, box.into, box.by)
        box.into = ""

    def _save(self, box):
        self._stop(box)
        text, before = box.control.value, box.known
        box.unsaved, box.choice.children = True, ()
        try:
            self._must_sign()
            box.into = box.into or box.entry()
            trial = self.entry.set(box.into, text)
        except ConflictError as conflict:
            self._ask(box, text, conflict.theirs)
            return
        except KitError as error:
            box.say(f"not saved: {error}", wrong=True)
            return
        entry = box.into
        self._forget(box)
        value = box.read(trial)
        box.known, box.unsaved = _written(value), False  # what is typed stays as it is: another key may follow
        words = f"saved, version {trial.version}"
        if box.known != text.strip() and box.known:
            words += f"; read as {box.known} {box.unit}".rstrip()
        if isinstance(value, tuple) and len(value) > 1:
            words += f"; mean of {len(value)}: {figure(sum(value) / len(value))} {box.unit}".rstrip()
        planned = _written(box.planned(trial))
        if planned and planned != box.known:
            words += f"; planned {planned} {box.unit}".rstrip()
        box.say(words if box.known or before else "")
        self._refresh()
        self._head(f"saved, version {trial.version}")
        if entry in ("name", "date"):
            self._offer()

    def _ask(self, box, mine, theirs):
        """Show both values of an entry that two people changed and let one be chosen; theirs: the trial that stands."""
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
                self._forget(box)
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
        self._say_planned(box)

    def _say_planned(self, box):
        planned = _written(box.planned(self.entry.trial))
        box.say(f"planned {planned} {box.unit}" if planned and planned != box.known else "")

    def _refresh(self):
        """Show what others entered meanwhile, and leave alone what waits for an answer."""
        for box in self.boxes:
            if not box.unsaved and _written(box.read(self.entry.trial)) != box.known:
                self._write(box)
        self._say_tasters()

    def _head(self, said):
        self.problem.value = ""
        if said is None:
            self.heading.value = (
                f'<p style="font-size:16px;line-height:1.4;color:{look.INK}">Choose a trial to go on with, or give a '
                "new one a name and a date. Each box is saved as soon as you stop typing.</p>"
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
            f'<p role="alert" style="font-size:16px;line-height:1.4;color:{look.WRONG}">{page.escape(error)}</p>'
        )


def _said(words, wrong=False):
    role, colour = ("alert", look.WRONG) if wrong else ("status", look.QUIET)
    return words and (
        f'<p role="{role}" style="margin:2px 0;font-size:15px;line-height:1.35;color:{colour}">{page.escape(words)}</p>'
    )


def _text(label, value="", hint="", rows=0, each_key=True):
    kind = widgets.Textarea if rows else widgets.Text
    more = {"rows": rows} if rows else {}
    return kind(
        value=value, description=label, placeholder=hint, continuous_update=each_key, layout={"width": "auto"}, **more
    )


def _written(value):
    """Return what stands in an entry as one writes it."""
    if isinstance(value, tuple):
        return "; ".join(f"{each:.10g}" for each in value)
    return "" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)
