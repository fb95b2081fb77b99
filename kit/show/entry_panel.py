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
from ..trials.records import TEXTS, VERDICTS
from ..words import figure, listing
from . import look
from .panel import Controls, button, dropdown, radio, text
from .strips import small
from .trial_panels import TOPS, in_a_list, photos

PAUSE = 1.2  # s without a key after which what was typed is saved
OFFERED = 60  # trials in the list of the entry panel
VIEWS = ("top", "side", "cut face")
WIDE, SIDE = "1 1 100%", "1 1 300px"
NEW, NONE, SAME, NOT_YET = "a new trial", "no other", "as the one it varies", "none yet"
STOPPED = (
    "A broken chain beside the boxes means that the notebook has stopped: run its cell again. What was typed before is "
    "kept; what is typed after goes nowhere."
)
BEGIN = (
    "Choose a trial to go on with, or give a new one a name and a date. Each box is saved as soon as you stop typing."
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
# what is written of a trial as text: its name, what it says while it is empty, how many rows
FIRST, LAST, WEIGHED = "The trial", "Notes, verdict, next change", "As weighed"
WRITTEN = {
    FIRST: (("name",), ("date",), ("baker",), ("mix", "of that day"), ("question", "what is it to answer?", 2)),
    LAST: (
        ("notes", "", 4),
        ("deviations", "anything dropped, added, gone wrong", 2),
        ("verdict",),
        ("reason", "in one sentence", 2),
        ("next_change", "one thing, by how much, and what it should do", 2),
    ),
}
DAYS = ("Day 0", "Day 1", "Day 2")
TITLES = (FIRST, WEIGHED, *dict.fromkeys(PARTS.values()), "Measured", *DAYS, "Scores", "Photos", LAST)
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


class _Box(widgets.VBox):
    """One entry of a trial: a control, and a line that says what became of it.

    entry: what gives its name as `Trial.with_entry` takes it; read: what stands there in a trial; planned: what was
    to stand there.
    """

    def __init__(self, control, entry, unit="", read=None, planned=lambda trial: None, flex=SIDE):
        self.control, self.entry, self.unit, self.planned = control, entry, unit, planned
        self.read = read or (lambda trial: _standing(trial, entry()))
        self.known, self.unsaved = "", False
        self.waits = None  # the timer that saves what was typed
        self.into = self.by = ""  # the entry it was typed into, and by whom
        self.note, self.choice = widgets.HTML(), widgets.HBox(layout={"flex_flow": "row wrap"})
        super().__init__([control, self.note, self.choice], layout={"flex": flex, "margin": "0 8px 8px 0"})

    def say(self, words, wrong=False):
        """Write a line under the box."""
        self.note.value = _said(words, wrong)

    def say_planned(self, trial):
        """Say what was planned, where it is not what stands there."""
        planned = _written(self.planned(trial))
        self.say(f"planned {planned} {self.unit}" if planned and planned != self.known else "")

    def said_of(self, trial, typed):
        """Return in words what stands in a trial: as it was read, the mean of several, and the plan."""
        value, planned, words = self.read(trial), _written(self.planned(trial)), []
        if self.known and self.known != typed:
            words.append(f"read as {self.known} {self.unit}")
        if isinstance(value, tuple) and len(value) > 1:
            words.append(f"mean of {len(value)}: {figure(sum(value) / len(value))} {self.unit}")
        if planned and planned != self.known:
            words.append(f"planned {planned} {self.unit}")
        return "; ".join([f"saved, version {trial.version}", *map(str.rstrip, words)])

    def stop(self):
        """Let no timer save it any more."""
        if self.waits is not None:
            self.waits.cancel()
            self.waits = None


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
        self.by = text("entered by, your code", by)
        self.search = text("find", hint="words, a name, a baker")
        self.chosen, self.parent = dropdown("trial", ()), dropdown("varies", ())
        self.name, self.date = text("name of the new trial"), text("date", datetime.date.today().isoformat())
        self.formula = dropdown("formula as planned", [SAME, NOT_YET, *self._formulas])
        self.begin_button = button("begin", "Save the new trial with its name and date", self.begin, 110)
        top, fields = [self.by, self.search, self.chosen], [self.name, self.date, self.parent, self.formula]
        for control in (*top, *fields):
            control.layout.flex, control.layout.margin = "1 1 220px", "0 8px 8px 0"
        self.new = widgets.Box([*fields, self.begin_button], layout=TOPS | {"align_items": "flex-end"})
        self.heading, self.problem, self.tasters = widgets.HTML(), widgets.HTML(), widgets.HTML(layout={"flex": WIDE})
        self.plan = radio("times, temperatures, masses", ("as it was", "as planned"), "as it was")
        inside = [widgets.Box(layout=TOPS) for _ in TITLES]
        self.parts = widgets.Accordion(inside, titles=TITLES, selected_index=None)
        self._offer()
        self.search.observe(lambda _: self._offer(), "value")
        self.chosen.observe(lambda change: self._quiet or self.go_on(change["new"]), "value")
        self.by.observe(lambda _: self._signed(), "value")
        self.parts.observe(lambda change: self._unfold(change["new"]), "selected_index")
        self.plan.observe(lambda _: self._turn(), "value")
        rows = [widgets.Box(top, layout=TOPS), self.new, self.problem, self.heading, self.plan, self.parts]
        inside = [widgets.HTML(_LARGE), *rows, widgets.HTML(_said(STOPPED))]
        super().__init__(inside, layout={"width": "100%", "max_width": "940px"})
        self.add_class("kit-entry")
        self.go_on(trial)

    # which trial

    def _offer(self):
        found = [(in_a_list(each), each.code) for each in self.book.find(self.search.value, most=OFFERED)]
        own, codes = self.entry.trial if self.entry else None, [code for _, code in found]
        if own is not None and own.code not in codes:
            found.insert(0, (in_a_list(own), own.code))

        def act():
            self.chosen.options = [(NEW, ""), *found]
            self.chosen.value = own.code if own else ""
            kept = self.parent.value
            self.parent.options = [(NONE, ""), *found]
            self.parent.value = kept if kept in codes else ""

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
        self.parts.selected_index, self.boxes = None, []
        for box in self.parts.children:
            box.children = ()
        self._head(self._saved_from_before() if there else None)

    def begin(self):
        """Save the new trial with its name and date, and go on with it; say why not, if not."""
        try:
            trial = Trial.of(self.name.value, self.date.value)
            if self.parent.value:
                parent, same = self.book.trial(self.parent.value), self.formula.value == SAME
                trial = trial.with_entry("parent", parent)
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

    # what was typed before a stop

    def _left(self):
        """Return {entry: (what was typed and not saved, from which Entry)}: of whoever enters, and unsigned."""
        key = self.entry.trial.key
        typed = [one for by in {"", self.by.value.strip()} for one in self._typed_before.of(key, by)]
        versions = {v.number: v.trial for v in self.book.history(key, every=True)} if typed else {}
        return {
            one.entry: (one, self.book.entry(versions[one.version], one.by)) for one in typed if one.version in versions
        }

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
        if done or left:
            self.entry = self.book.entry(self.book.trial(self.entry.trial.key), self.by.value)
        saved = f"{listing(done)}: typed before the stop, saved now as version {self.entry.trial.version}"
        return "; ".join(
            [saved] * bool(done) + [f"{listing(left)}: typed before the stop and not saved, look there"] * bool(left)
        )

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

    def _unfold(self, index):
        """Make the boxes of a part when it is first opened: a hundred at once would keep a tablet waiting."""
        if index is None:
            return
        place = self.parts.children[index]
        if TITLES[index] == WEIGHED:  # its lines and plan may have changed meanwhile
            self._flush()
            self.boxes = [box for box in self.boxes if box not in place.children]
        elif place.children:
            return
        left, made = self._left(), self._asked(TITLES[index])
        for box in made:
            if isinstance(box, _Box):
                self.boxes.append(box)
                self._write(box)
                box.control.observe(lambda _, box=box: self._typed(box), "value")
                self._put_back(box, left)
        place.children = made

    def _asked(self, title):
        """Return what a part asks for."""
        own = {WEIGHED: self._weighed, "Scores": self._scores, "Photos": self._photos}
        if title in own:
            return own[title]()
        if title in WRITTEN:
            return [self._named(*each) for each in WRITTEN[title]]
        fields = trial_fields().values()
        if title in DAYS:
            return [self._measure(f, f" day {title[4:]}", f", day {title[4:]}") for f in fields if f.group == "series"]
        if title == "Measured":
            return [self._measure(f) for f in fields if f.group == "measured"]
        some = [f for f in fields if f.group in ("lot", "controlled") and PARTS[f.when] == title]
        return [self._measure(f) if f.group == "lot" else self._controlled(f) for f in some]

    def _named(self, name, hint="", rows=0):
        words = name.replace("_", " ")
        control = _control(words, hint, rows)
        if name == "verdict":
            control = radio(words, [("not yet", ""), *((each, each) for each in VERDICTS)], "")
        return _Box(control, lambda: words, flex=WIDE if rows or name == "verdict" else SIDE)

    def _measure(self, field, of="", said="", **more):
        """Return the box of a field; of: what its name as an entry ends in, said: what its label does."""
        several = [f"{field.readings} readings: a; b; …"] * (field.readings > 1)
        instrument = f"({field.instrument})" if several and field.instrument else field.instrument
        control = _control(_label(field) + said, " ".join([*several, instrument]).strip())
        entry = more.pop("entry", lambda: field.words + of)
        unit = "" if field.unit == "text" or " to " in field.unit else field.unit.replace("deg", "°")
        return _Box(control, entry, unit, **more)

    def _controlled(self, field):
        """Return the box of a figure that is planned and noted."""

        def entry():
            return f"planned {field.words}" if self._planning else field.words

        def planned(trial):
            return None if self._planning else trial.value(f"planned {field.words}")

        box = self._measure(field, entry=entry, planned=planned)
        box.label = _label(field)
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
            if hasattr(box, "label"):
                self._name_plan(box)
                self._write(box)

    def _weighed(self):
        """Return the boxes of what was weighed, line by line, with what was to be weighed."""
        trial, names = self.entry.trial, list(self._formulas)
        recipe = trial.planned_formula
        own = next((name for name in names if recipe and self._formulas[name].fingerprint == recipe.fingerprint), None)
        own = own or (f"{recipe.name}, as this trial has it" if recipe else NOT_YET)
        formula = dropdown("formula as planned", [own, *(name for name in names if name != own)])
        formula.layout.flex = WIDE
        formula.observe(lambda change: self._replan(change["new"]), "value")
        try:
            batch = trial.batch
            planned = recipe.formula.scale(flour=batch.flour).grams if recipe else {}
        except KitError as error:
            return [formula, _line(_said(str(error)))]
        does = "Note that every line was weighed as planned"
        all_so = button("all as planned", does, lambda: self._note("weighed formula", batch), 170)
        hint = "Write what was weighed otherwise; with the first, the lines left alone are noted as planned."
        made, part_before = [formula, all_so, _line(_said(hint))], None
        for part, key in dict.fromkeys((*planned, *batch.grams)):
            if part != part_before:
                made.append(_line(small(part, 18, color=look.INK, margin="6px 0 0")))
                part_before = part
            row = (recipe if recipe and key in recipe.lines.get(part, {}) else trial.weighed_formula).named(key)
            made.append(self._line_of_batch(part, key, row, planned.get((part, key))))
        return made

    def _line_of_batch(self, part, key, row, grams):
        name, shown = row["name"], None if grams is None else to_weigh(float(grams), row["kind"])

        def read(trial):
            weighed = trial.weighed_formula
            value = weighed.grams[part].get(key, 0.0) if weighed and part in weighed.grams else None
            as_planned = value is not None and grams is not None and abs(value - grams) <= 0.01
            return shown.grams if as_planned else value

        control = _control(f"{part}: {name}, g", "" if grams is None else f"planned {shown}")
        box = _Box(control, lambda: f"weighed {part} {name}", "g", read, flex="1 1 200px")
        box.planned = lambda _: box.known and shown and shown.grams
        return box

    def _replan(self, name):
        if not self._quiet and name in self._formulas:
            self._note("planned formula", self._formulas[name])

    def _note(self, entry, value):
        """Save something of the whole batch, and show its lines anew."""
        try:
            self._must_sign()
            self._flush()
            trial = self.entry.set(entry, value)
        except KitError as error:
            self._say(error)
            return
        self._unfold(self.parts.selected_index)
        self._refresh()
        self._head(f"saved, version {trial.version}")

    def _scores(self):
        taster = text("taster's code", hint="P1")
        taster.layout.flex, taster.layout.margin = WIDE, "0 8px 8px 0"
        made = [self._score(field, taster) for field in trial_fields().values() if field.group == "sensory"]
        taster.observe(lambda _: self._another(made), "value")
        self._say_tasters()
        return [taster, self.tasters, *made]

    def _score(self, field, taster):
        def entry():
            if not taster.value.strip():
                raise TrialError(must("taster's code", "given", "nothing", "write it above the scores"))
            return f"{field.words} by {taster.value.strip()}"

        low, high = (page.escape(end) for end in field.ends)
        control = _control(_label(field), f"{field.low:g} {low} – {field.high:g} {high}")
        return _Box(control, entry, read=lambda trial: trial.value(Note(field.name, taster=taster.value.strip())))

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
        self.view, self.uploaded = radio("view", VIEWS, VIEWS[0]), widgets.HTML()
        layout = {"width": "auto", "height": "46px"}
        self.upload = widgets.FileUpload(accept="image/*", description="take or choose a photo", layout=layout)
        self.upload.observe(lambda change: self._uploaded(change["new"]), "value")
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
        box.stop()
        if box.control.value.strip() == box.known:  # put back to what stands; the box itself is left to who types
            if box.unsaved:
                self._settle(box)
                box.say_planned(self.entry.trial)
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
        if isinstance(box.control, widgets.RadioButtons):
            self._save(box)
            return
        try:
            box.waits = asyncio.get_running_loop().call_later(PAUSE, self._save, box)
        except RuntimeError:  # nothing that could wait
            self._save(box)

    def _flush(self):
        """Save at once what waits for the typing to rest."""
        for box in self.boxes:
            if box.waits is not None:
                self._save(box)

    def _settle(self, box):
        """Nothing of a box waits any more: to be saved, nor to be chosen."""
        if box.into:
            self._typed_before.drop(self.entry.trial.key, box.into, box.by)
        box.into, box.unsaved, box.choice.children = "", False, ()

    def _save(self, box):
        box.stop()
        typed, before = box.control.value, box.known
        box.unsaved, box.choice.children = True, ()
        try:
            self._must_sign()
            box.into = box.into or box.entry()
            trial = self.entry.set(box.into, typed)
        except ConflictError as conflict:
            self._ask(box, typed, conflict.theirs)
            return
        except KitError as error:
            box.say(f"not saved: {error}", wrong=True)
            return
        named = box.into in ("name", "date")
        self._settle(box)
        box.known = _written(box.read(trial))  # what is typed stays as it is: another key may follow
        box.say(box.said_of(trial, typed.strip()) if box.known or before else "")
        self._refresh()
        self._head(f"saved, version {trial.version}")
        if named:
            self._offer()

    def _ask(self, box, mine, theirs):
        """Show both values of an entry that two people changed and let one be chosen; theirs: the trial that stands."""
        who = next(v.by for v in self.book.history(theirs) if v.number == theirs.version)
        other, own = _written(box.read(theirs)) or "nothing", mine.strip() or "nothing"
        box.say(f"{who} entered {other} meanwhile, you {own}. Which holds?", wrong=True)

        def chosen(take):
            self.entry.trial = self.book.trial(theirs.key)
            if take:
                self._silently(lambda: setattr(box.control, "value", mine))
                self._save(box)
                return
            self._settle(box)
            self._write(box)
            box.say(f"kept {other}; yours stays in the history, set aside")
            self._refresh()
            self._head(f"version {self.entry.trial.version} stands")

        box.choice.children = (
            button(f"{who}: {other[:40]}", "Keep what stands in the book", lambda: chosen(False), None),
            button(f"mine: {own[:40]}", "Put yours in its place", lambda: chosen(True), None),
        )

    def _write(self, box):
        """Write into a box what stands in the book."""
        box.known, box.unsaved = _written(box.read(self.entry.trial)), False
        self._silently(lambda: setattr(box.control, "value", box.known))
        box.say_planned(self.entry.trial)

    def _refresh(self):
        """Show what others entered meanwhile, and leave alone what waits for an answer."""
        for box in self.boxes:
            if not box.unsaved and _written(box.read(self.entry.trial)) != box.known:
                self._write(box)
        self._say_tasters()

    def _head(self, said):
        self.problem.value = ""
        if said is None:
            self.heading.value = small(BEGIN, 16, color=look.INK)
            return
        trial = self.entry.trial
        recipe = trial.weighed_formula or trial.planned_formula
        marked = " (invented)" if trial.invented else ""
        about = f"{trial.date}{marked}, {f'formula: {recipe.name}' if recipe else 'no formula noted'}"
        lines = [
            small(f"{trial.code} {trial.name}", 20, color=look.INK),
            small(about, 15, color=look.INK),
            _said(said or f"version {trial.version}", size=18, colour=look.ACCENT),
            *(small(words, 15) for words in trial.doubts),
        ]
        self.heading.value = f'<div style="line-height:1.35">{"".join(lines)}</div>'

    def _say(self, error):
        self.problem.value = _said(error, wrong=True, size=16)


def _said(words, wrong=False, size=15, colour=look.QUIET):
    """Return a line as HTML that is read aloud; nothing of no words."""
    role, colour = ("alert", look.WRONG) if wrong else ("status", colour)
    style = f"margin:2px 0;font-size:{size}px;line-height:1.35;color:{colour}"
    return words and f'<p role="{role}" style="{style}">{page.escape(words)}</p>'


def _line(html):
    return widgets.HTML(html, layout={"flex": WIDE})


def _label(field):
    return field.words if field.unit == "text" else f"{field.words}, {field.unit.replace('deg', '°')}"


def _control(label, hint="", rows=0):
    """Return a box to type into that tells each key; rows: of a larger one."""
    if not rows:
        return text(label, hint=hint, each_key=True)
    return widgets.Textarea(description=label, placeholder=hint, rows=rows, layout={"width": "auto"})


def _standing(trial, entry):
    """Return what stands in a trial under an entry's name."""
    name = entry.replace(" ", "_")
    return getattr(trial, name) if name in (*TEXTS, "date") else trial.value(entry)


def _written(value):
    """Return what stands in an entry as one writes it."""
    if isinstance(value, tuple):
        return "; ".join(f"{each:.10g}" for each in value)
    return "" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)
