"""A trial: one bake as planned, as weighed, as controlled and as measured; a document that validates itself.

What a record may hold is the table trial_fields.csv. One trial is one mixed, proofed and baked dough: the pieces of
a tray are readings of it, not bakes.
"""

import datetime
import json
import re
import uuid
from dataclasses import dataclass, field, replace

from .. import page
from ..errors import FormulaError, KitError, must
from ..formula import Bake, Batch, Formula
from ..formula.usual import bake_doubts, goods_of
from ..units import is_number
from ..words import figure, one_of, plain
from .fields import SECTIONS, Note, find, text_of
from .reading import TrialError, date_of, is_gap
from .recipes import Recipe

FORMAT = 1
KEY = r"[0-9a-f]{32}"  # of a trial, in every book
TEXTS = (
    *("name", "baker", "mix", "question", "tags", "deviations", "notes"),
    *("verdict", "reason", "decided_by", "next_change"),
)
VERDICTS = ("keep", "change", "drop")
TRAY = 6  # readings of one bake, beyond which they may be taken for as many bakes
FLOUR, WATER = Note("flour_weighed"), "water_tap_drinking"
DATES = ("date", "decided_on")
OTHERS = (*DATES, "parent", "invented", "planned_formula", "weighed_formula")


@dataclass(frozen=True, eq=False)
class Trial:
    """One bake. Only a name and a date are compulsory; every change is a new Trial, saved as a new version."""

    name: str
    date: datetime.date
    key: str = ""  # stays the same in every book
    code: str = ""  # given by the book
    version: int = 0  # of the book's, that this one was read from
    baker: str = ""
    mix: str = ""  # trials of one day and one mix are readings of one bake
    question: str = ""
    tags: str = ""  # parted by commas
    parent: str = ""  # key of the trial that this one varies
    invented: bool = False
    planned_formula: Recipe | None = field(default=None, repr=False)
    weighed_formula: Recipe | None = field(default=None, repr=False)
    noted: dict = field(default_factory=dict, repr=False)  # Note: text, a number, readings, or (value, low, high)
    deviations: str = field(default="", repr=False)
    notes: str = field(default="", repr=False)
    verdict: str = ""
    reason: str = field(default="", repr=False)
    decided_by: str = field(default="", repr=False)  # who closed it, by `TrialBook.decide`
    decided_on: datetime.date | None = field(default=None, repr=False)
    next_change: str = field(default="", repr=False)

    @staticmethod
    def of(name, date, **entries):
        """Return a checked trial. entries: any field of a trial or of trial_fields.csv; see `with_entry`.

        >>> bake = Trial.of("more butter", "2025-03-04", height=[41.5, "4.2 cm"], verdict="keep")
        >>> bake.measured["height"], bake.mean("height")
        ((41.5, 42.0), 41.75)
        """
        made = Trial(text_of(name, "name", needed=True), date_of(date), key=uuid.uuid4().hex)
        for entry, value in entries.items():
            made = made.with_entry(entry, value)
        return made

    def with_entry(self, entry, value, answers=None):
        """Return this trial with one entry made or, with None or "", taken out.

        entry: a field's name; "planned oven set"; "crumb dent day 1"; "liking by P3"; "predicted height"
        (value, or (value, low, high)); planned_formula or weighed_formula (a Formula, or the Batch of it);
        "weighed dough egg" (a line of the batch, the others as planned or as weighed before); parent (a Trial or key).
        answers: {about: answer} of what was asked before, where somebody types
        Raises AskedError where a reading may mean two things, TrialError, UnknownName, AmountError, UnitError.
        """
        words = plain(entry)
        name = "planned_formula" if words == "formula" else words.replace(" ", "_")
        if name in ("key", "code", "version"):
            raise TrialError(must(words, "left to the book", repr(value), "enter something else"))
        if name in (*TEXTS, *OTHERS):
            changed = replace(self, **{name: self._read(name, value, answers)})
            weighed = changed.weighed_formula if name == "weighed_formula" else None
            return changed.with_value(FLOUR, weighed.flour) if weighed and weighed.grams else changed
        if words.startswith("weighed "):
            return self._weighed(words.removeprefix("weighed "), value)
        note = Note.of(entry)
        return self.with_value(note, note.read(value, answers)).possible()

    def _read(self, name, value, answers):
        """Return what stands in the trial under the name of an entry that is no note."""
        words = name.replace("_", " ")
        if name in DATES:
            return None if name != "date" and is_gap(value) else date_of(value, answers)
        if name == "invented":
            return bool(value)
        if name == "verdict" and value:
            return one_of("verdict", value, VERDICTS)
        if name == "parent":
            key = value.key if isinstance(value, Trial) else text_of(value, "parent") or ""
            if key and (not re.fullmatch(KEY, key) or key == self.key):
                got = "the trial itself" if key == self.key else repr(key[:40])
                do = "give the one it varies, such as book.trial('T-004')"
                raise TrialError(must("parent", "a Trial or its key", got, do))
            return key
        if name == "tags":
            return ", ".join(dict.fromkeys(filter(None, map(str.strip, (text_of(value, words) or "").split(",")))))
        if name in TEXTS:
            return text_of(value, words, needed=name == "name") or ""
        recipe = Recipe.of(value) if isinstance(value, (Formula, Batch)) else value
        if not (recipe is None or isinstance(recipe, Recipe)):
            raise TrialError(must(words, "a Formula", repr(value)[:80], "read it with kit.Formula.read"))
        return recipe

    def with_value(self, entry, value):
        """Return this trial with one of `entries` as it stands elsewhere; None takes it out."""
        if not isinstance(entry, Note):
            return replace(self, **{entry: getattr(Trial, entry) if value is None else value})
        noted = {note: other for note, other in self.noted.items() if note != entry}
        return replace(self, noted=noted if value is None else noted | {entry: value})

    @property
    def entries(self):
        """{entry: value} of all that stands in it: an entry's name, or its Note."""
        return {name: value for name in (*TEXTS, *OTHERS) if (value := getattr(self, name))} | self.noted

    def _weighed(self, words, value):
        """Return the trial with one line of its batch as weighed; with nothing, as planned for the flour weighed."""
        batch = self.batch
        part = max((p.name for p in batch.formula.parts if words.startswith(plain(p.name) + " ")), key=len, default="")
        written = words.removeprefix(plain(part)).strip()
        part = part or "dough"
        if is_gap(value):
            key = batch.formula.ingredients.find(written)
            value = self.planned_formula.formula.scale(flour=batch.flour).grams.get((part, key), 0.0)
        return self.with_entry("weighed formula", batch.weighed({(part, written): value}))

    def possible(self):
        """Return the trial if its masses can be. Raises TrialError when a baked piece outweighs the raw one."""
        pairs = (
            ("baked mass", self.mean("baked_mass"), self.raw_piece),
            ("baked dough mass", self.mean("baked_dough_mass"), self.mean("piece_mass")),
            ("baked topping mass", self.mean("baked_topping_mass"), self.mean("topping_mass")),
        )
        for name, baked, raw in pairs:
            if baked is not None and raw is not None and baked > raw:
                got = f"{figure(baked)} g from {figure(raw)} g"
                do = "was the tray's weight left on the scale?"
                raise TrialError(must(name, "no more than the raw piece", got, do))
        return self

    @property
    def decision(self):
        """What was decided, by whom and when, in one line; "" while it is open."""
        text = f"{self.verdict}: {self.reason}" if self.verdict and self.reason else self.verdict
        return f"{text} ({self.decided_by}, {self.decided_on})" if text and self.decided_by else text

    # what can be read off it

    def value(self, name):
        """Return what stands under a Note or its words, such as "planned oven set"; None for nothing."""
        return self.noted.get(name if isinstance(name, Note) else Note.of(name))

    @property
    def planned(self):
        """{field: value} of what was planned."""
        return {note.name: value for note, value in self.noted.items() if note.how == "planned"}

    @property
    def controlled(self):
        """{field: value} of what was controlled, as it was."""
        return {n.name: value for n, value in self.noted.items() if n.section == "controlled"}

    @property
    def measured(self):
        """{field: value} of what was measured of the bake."""
        return {n.name: value for n, value in self.noted.items() if n.section == "measured"}

    def readings(self, name):
        """Return the readings of a field as a tuple, empty when there are none; scores of all tasters for sensory.

        name: a field, or "crumb dent day 1".
        """
        note = Note.of(name)
        if note.field.group == "sensory":
            return tuple(value for n, value in sorted(self.noted.items()) if n.name == note.name and not n.how)
        value = self.noted.get(note)
        if value is None and note.name in RECKONED:
            value = RECKONED[note.name](self)
        if value is None or isinstance(value, str):
            return ()
        return value if isinstance(value, tuple) else (value,)

    def mean(self, name):
        """Return the bake's mean of a field [the field's unit]; None when nothing was measured."""
        return mean_of(self.readings(name))

    @property
    def plan(self):
        """The Recipe as planned, else as weighed; None for none."""
        return self.planned_formula or self.weighed_formula

    @property
    def recipe(self):
        """The Recipe as weighed, else as planned; None for none."""
        return self.weighed_formula or self.planned_formula

    @property
    def raw_piece(self):
        """Mass of a raw piece with its topping and wash, as weighed [g]; None when it was not weighed."""
        dough, topping = self.mean("piece_mass"), self.mean("topping_mass")
        recipe = self.recipe
        if dough is None or (topping is None and (recipe is None or recipe.pieces["topping"] > 0)):
            return None
        wash = self.mean("wash_mass")
        wash = wash if wash is not None else (recipe.pieces["wash"] if recipe else 0.0)
        return dough + (topping or 0.0) + wash + (recipe.pieces["filling"] if recipe else 0.0)

    @property
    def bake_loss(self):
        """Loss of the whole piece in oven and cooling [% of the raw piece]; None when not weighed before and after."""
        baked, raw = self.mean("baked_mass"), self.raw_piece
        return None if baked is None or raw is None else 100 * (1 - baked / raw)

    @property
    def batch(self):
        """The Batch as weighed, else as planned: for the flour weighed or planned, else for the formula's count.

        Raises TrialError when there is no formula, or nothing says how much of it.
        """
        if self.weighed_formula and self.weighed_formula.grams:
            return self.weighed_formula.batch
        recipe = self.recipe
        if recipe is None:
            raise TrialError(must("formula", "in the trial", "none", "enter the formula as planned"))
        flour = self.value(FLOUR) or self.value("planned flour weighed")
        if flour is None and not recipe.formula.pieces.count:
            do = "enter 'flour weighed', of the whole dough"
            raise TrialError(must("batch", "of a known size", "neither flour nor a count of pieces", do))
        batch = recipe.formula.scale(flour=flour)
        return replace(batch, grams={line: round(g, 2) for line, g in batch.grams.items()})

    @property
    def weighed_otherwise(self):
        """Lines weighed more than 1 % off the plan: ((part, ingredient, planned, weighed), ...), % of the base."""
        if not (self.planned_formula and self.weighed_formula):
            return ()
        planned, weighed = self.planned_formula.by_line, self.weighed_formula.by_line
        every = dict.fromkeys((*planned, *weighed))
        lines = ((*line, planned.get(line, 0.0), weighed.get(line, 0.0)) for line in every)
        return tuple(line for line in lines if abs(line[3] - line[2]) > 0.01 * max(line[2:]))

    @property
    def baked_formula(self):
        """The Formula that was truly baked: as weighed, with the flour and water added at the mixer.

        Raises FormulaError when something was added and neither `flour weighed` nor a formula is known.
        """
        recipe = self.recipe
        if recipe is None:
            raise FormulaError(must("formula", "in the trial", "none", "enter the planned or weighed formula"))
        water, flour = (self.value(name) or 0.0 for name in ("water_added", "flour_added"))
        if not water and not flour:
            return recipe.formula
        weighed = self.value(FLOUR)
        if weighed is None:
            do = "enter the flour of the batch, so that what was added can be put on it"
            raise FormulaError(must("flour weighed", "known when something was added", "none", do))
        formula, dough = recipe.formula, recipe.formula.part("dough")
        batch = formula.scale(flour=weighed)
        held = {key: grams for (part, key), grams in batch.grams.items() if part == dough.name}
        flours = (key for part in formula.bowls[::-1] for key in part.keys if formula.ingredients[key].kind == "flour")
        held = {key: held.get(key, 0.0) + grams for key, grams in ((next(flours), flour), (WATER, water))}
        if held[WATER] < 0:
            do = "no more can be left out than the formula gives"
            raise FormulaError(must("water added", "at least minus the water of the dough", f"{figure(water)} g", do))
        return batch.weighed({(dough.name, key): grams for key, grams in held.items() if grams}).formula

    @property
    def doubts(self):
        """What looks odd in the readings, in words; kept all the same."""
        found = []
        off = sorted(self.weighed_otherwise, key=lambda line: -abs(line[3] - line[2]) / max(line[2:]))
        for part, key, was, now in off[:3]:
            name = (self.weighed_formula if now else self.planned_formula).named(key)["name"]
            found.append(f"{part}: {name} weighed {figure(now, 2)} % for {figure(was, 2)} %")
        if len(off) > 3:
            found.append(f"{len(off) - 3} more lines weighed off the plan")
        recipe = self.recipe
        bake = Bake(oven=self.value("oven_set"), core=self.value("core_temperature"))
        found += bake_doubts(bake, goods_of(recipe.formula)) if recipe else bake_doubts(bake)
        for name in (*self.controlled, *self.measured):
            target, readings = find(name), self.readings(name)
            if len(readings) >= 4 and len(set(readings)) == 1 and target.unit != "%":
                found.append(
                    f"{target.words}: {len(readings)} readings all {readings[0]:g} {target.unit}: "
                    f"was the {target.instrument or 'instrument'} stuck?"
                )
        if (most := max((len(self.readings(name)) for name in self.measured), default=0)) > TRAY:
            found.append(f"{most} pieces of one bake: they tell nothing of how bakes differ")
        return found

    # the document

    def document(self):
        """Return the trial as plain data for JSON: what is there, and nothing else."""
        made = {"format": FORMAT, "key": self.key}
        for name in (*TEXTS, *OTHERS):
            if value := getattr(self, name):
                made[name] = value.isoformat() if name in DATES else value
                if isinstance(value, Recipe):
                    made[name] = {entry: kept for entry, kept in vars(value).items() if entry != "grams" or kept}
        for note, value in sorted(self.noted.items()):
            value = list(value) if isinstance(value, tuple) else value
            if note.taster:
                made.setdefault("scores", []).append({"taster": note.taster, "field": note.name, "score": value})
            elif note.day is not None:
                made.setdefault("days", {}).setdefault(note.name, {})[str(note.day)] = value
            else:
                made.setdefault(note.section, {})[note.name] = value
        return made

    @staticmethod
    def from_document(document):
        """Return the Trial that a document holds, every entry made anew. Raises KitError for what cannot stand."""
        do = "take it from an export of this kit"
        number = document.get("format") if isinstance(document, dict) else document
        if number != FORMAT:
            do = "update the kit" if isinstance(number, int) and number > FORMAT else do
            raise TrialError(must("format of the trial", FORMAT, repr(number)[:80], do))
        key = text_of(document.get("key"), "key", needed=True)
        if not re.fullmatch(KEY, key):
            raise TrialError(must("key", "32 digits and letters a to f", repr(key[:40]), do))
        made = replace(Trial.of(document.get("name"), document.get("date")), key=key)
        try:
            for entry, value in Trial.stored(document).entries.items():
                made = made.with_entry(entry, value.checked(entry) if isinstance(value, Recipe) else value)
            same = made.document() == document
        except KitError:
            raise
        except (AttributeError, KeyError, TypeError, ValueError):
            same = False
        if not same:
            raise TrialError(must("trial", "as the kit writes it", "entries or values of another form", do))
        return made

    @staticmethod
    def stored(document, code="", version=0):
        """Return the Trial in a document that was checked when it was saved, without checking it again."""
        same = document.copy()
        del same["format"]
        for name in DATES:
            if name in same:
                same[name] = datetime.date.fromisoformat(same[name])
        for name in ("planned_formula", "weighed_formula"):
            if name in same:
                same[name] = Recipe(**same[name])
        noted = {}
        for section, how in SECTIONS:
            for name, value in same.pop(section, {}).items():
                noted[Note(name, how)] = tuple(value) if isinstance(value, list) else value
        for name, by_day in same.pop("days", {}).items():
            noted |= {Note(name, day=int(day)): tuple(value) for day, value in by_day.items()}
        for score in same.pop("scores", ()):
            noted[Note(score["field"], taster=score["taster"])] = score["score"]
        return Trial(code=code, version=version, noted=noted, **same)

    def to_frame(self):
        """Return a DataFrame: field, planned, as it was, unit, readings."""
        rows = []
        for name, day in dict.fromkeys((note.name, note.day) for note in self.noted if note.how != "predicted"):
            note = Note(name, day=day)
            words, readings = str(note).replace(" day ", ", day "), self.readings(note)
            was, planned = self.mean(note) if readings else self.value(note), mean_of(self.value(Note(name, "planned")))
            rows.append((words, planned, was, note.field.unit, len(readings)))
        return page.frame(["field", "planned", "as it was", "unit", "readings"], rows, index=True)

    def _repr_html_(self):
        def shown(value):
            return "" if value is None or value != value else figure(value) if is_number(value) else str(value)

        rows = [
            [name, shown(planned), shown(value), unit, str(n or "")]
            for name, planned, value, unit, n in self.to_frame().itertuples()
        ]
        caption = f"{self.code} {self.name}, {self.date}".strip() + " (invented)" * self.invented
        html = page.table(["", "planned", "as it was", "unit", "readings"], rows, caption)
        notes = [self.question, self.deviations, self.notes, self.decision]
        return html + page.paragraphs((*notes, *self.doubts))


@dataclass(frozen=True)
class Version:
    """One version of a trial: number, who, when, the trial as it was; aside when it does not stand."""

    number: int
    by: str
    at: str  # UTC, ISO 8601
    aside: bool  # written on top of a version that stood no longer
    trial: Trial = field(repr=False)

    @property
    def document(self):
        """The trial as the book writes it: JSON."""
        return json.dumps(self.trial.document(), ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def _ratio(name, other):
    """Return what reckons the ratio of two means of a trial; None where one is not known."""
    return lambda trial: trial.mean(name) and trial.mean(other) and trial.mean(name) / trial.mean(other)


RECKONED = {
    "specific_volume": _ratio("volume", "baked_mass"),  # AACC 10-05.01
    "height_over_diameter": _ratio("height", "diameter"),
    "bake_loss": lambda trial: trial.bake_loss,
}


def only_trials(trials):
    """Return trials, or those of a book, as a list. Raises TrialError for anything else."""
    found = list(trials)
    if odd := next((type(each).__name__ for each in found if not isinstance(each, Trial)), None):
        raise TrialError(must("trials", "Trials", odd, "take them from the book"))
    return found


def mean_of(value):
    """Return the mean of readings, None for no reading; one value, or None, as it is."""
    return value if not isinstance(value, tuple) else sum(value) / len(value) if value else None


def changes(before, after):
    """Return {entry: value} of what differs between two trials, the first one None for no trial; gone is None."""
    old, new = before.entries if before else {}, after.entries
    return {entry: new.get(entry) for entry in {**new, **old} if old.get(entry) != new.get(entry)}


def merge(theirs, yours, base):
    """Return their trial with your changes to base put in, except where both changed one entry. Raises TrialError."""
    taken = changes(base, theirs)
    for entry, value in changes(base, yours).items():
        if entry not in taken:
            theirs = theirs.with_value(entry, value)
    return theirs.possible()
