"""A trial: one bake as planned, as weighed, as controlled and as measured; a document that validates itself.

What a record may hold is the table trial_fields.csv. One trial is one mixed, proofed and baked dough: the pieces of
a tray are readings of it, not bakes.
"""

import contextlib
import datetime
import functools
import math
import re
import uuid
from dataclasses import dataclass, field, fields, replace
from typing import NamedTuple

import numpy as np

from .. import page, tables, units
from ..errors import AmountError, FormulaError, KitError, UnknownName, must
from ..formula import Batch, Formula, scale
from ..formula.files import parse, write
from ..formula.formula import DOUGH, check, with_parts
from ..words import did_you_mean, figure, listing, plain, plural

FORMAT = 1
LONGEST = {"name": 200, "baker": 200, "mix": 200}  # characters
LONGEST_TEXT = 4_000_000
TEXTS = ("name", "baker", "mix", "question", "deviations", "notes", "verdict", "reason", "next_change")
VERDICTS = ("keep", "change", "drop")
# where the fields of a group of the table are kept
SECTION = {"lot": "lots", "controlled": "controlled", "measured": "measured"}
# kind of amount, and house units in one unit of the field
KIND = {
    "g": ("mass", 1.0), "%": ("percentage", 1.0), "degC": ("temperature", 1.0), "min": ("time", 1.0),
    "mL": ("volume", 1.0), "mm": ("length", 0.1),
}  # fmt: skip
# what a number outside its range was perhaps written in
SLIPS = {"mm": ("cm", "in"), "g": ("kg", "oz"), "degC": ("degF",), "min": ("h",), "mL": ("l",)}


class TrialError(KitError, ValueError):
    """An entry that cannot stand in a trial."""


@dataclass(frozen=True)
class Field:
    """What one field of a record holds: unit, instrument, resolution, range, readings a bake, when."""

    name: str
    group: str  # lot, controlled, measured, series, sensory
    unit: str
    instrument: str
    resolution: float
    low: float
    high: float
    readings: int
    when: str
    source: str
    ends: tuple = ("", "")  # what the two ends of a score mean

    @property
    def words(self):
        """The field's name as it is spoken."""
        return self.name.replace("_", " ")

    @property
    def digits(self):
        """Decimal places that the instrument resolves."""
        return 0 if not 0 < self.resolution < 1 else len(f"{self.resolution:g}".partition(".")[2])

    def read(self, value):
        """Return what stands in the record: text, a number, or a tuple of readings; None for a gap.

        value [the field's unit, or text with a unit]; several readings as a sequence, or parted by semicolons.
        Raises TrialError, AmountError, UnitError.

        >>> find("height").read("4.2 cm; 43,5")
        (42.0, 43.5)
        """
        if self.unit == "text":
            return text_of(value, self.words)
        if isinstance(value, str):
            given = [part.strip() for part in value.split(";")]
        else:
            given = list(np.ravel(value)) if np.ndim(value) else [value]
        readings = tuple(self._one(each) for each in given if not _gap(each))
        if not readings:
            return None
        if self.readings > 1 or self.group == "series":
            return readings
        if len(readings) > 1:
            got = plural(len(readings), "reading")
            raise TrialError(must(self.words, "one figure for the bake", got, "give the one that holds for it"))
        return readings[0]

    def _one(self, value):
        number = self._number(value)
        if self.low <= number <= self.high:
            return number
        be = f"{figure(self.low, self.digits)} to {figure(self.high, self.digits)} {self.unit}"
        if self.group == "sensory" or self.unit == "0 to 10":
            be, do = f"a score from {self.low:g} to {self.high:g}", "score it anew on that scale"
            raise TrialError(must(self.words, be, f"{number:g}", do))
        do = f"read the {self.instrument or 'instrument'} again"
        for unit in SLIPS.get(self.unit, ()):
            kind, factor = KIND[self.unit]
            with contextlib.suppress(KitError):  # no slip of the unit, if it can't be in that unit either
                if self.low <= units.read(f"{number:.9f} {unit}", kind) / factor <= self.high:
                    do = f"{self.unit} or {unit}? If {unit} was meant, write {number:g} {unit}"
                    break
        raise TrialError(must(self.words, be, f"{number:g} {self.unit}", do))

    def _number(self, value):
        if self.unit in KIND:
            kind, factor = KIND[self.unit]
            bare = not isinstance(value, str) or not re.search(r"[^\d\s.,'/+–−-]", value)
            if bare:
                return _plain_number(value, self.words)
            return round(units.read(value, kind, self.words) / factor, 9)
        if isinstance(value, str):
            value = value.removesuffix(self.unit).strip()
        return _plain_number(value, self.words)


@functools.cache
def trial_fields():
    """Return {name: Field} of trial_fields.csv.

    >>> trial_fields()["height"].unit, trial_fields()["height"].readings
    ('mm', 6)
    """
    found = {}
    for row in tables.table("trial_fields").rows:
        number = {name: float(row[name] or "nan") for name in ("resolution", "low", "high")}
        found[row["field"]] = Field(
            row["field"], row["group"], row["unit"], row["instrument"], *number.values(), int(row["n_per_bake"]),
            row["when"], row["source"], (row["low_means"], row["high_means"]),
        )  # fmt: skip
    return found


def find(name):
    """Return the Field of that name. Raises UnknownName, with near names."""
    found = trial_fields().get(plain(name).replace(" ", "_"))
    if found is None:
        known = [each.words for each in trial_fields().values()]
        near = did_you_mean(name, known)
        do = near if near.startswith("did you mean") else "write it into the notes"
        raise UnknownName(must("field", "one of trial_fields.csv", repr(str(name)), do))
    return found


class Score(NamedTuple):
    """What one taster gave: the taster's code, the field, the score."""

    taster: str
    field: str
    score: float


@dataclass(frozen=True)
class Recipe:
    """A formula as a trial keeps it: its whole text, its fingerprint, and its lines for quick comparison."""

    name: str
    fingerprint: str
    text: str = field(repr=False)
    kinds: dict = field(repr=False)  # part: its kind
    lines: dict = field(repr=False)  # part: {ingredient key: % of total flour in the dough's bowls, else of its base}
    pieces: dict = field(repr=False)  # dough, topping, wash, filling [g]
    grams: dict = field(default_factory=dict, repr=False)  # part: {ingredient key: g}, of a batch that was weighed

    @staticmethod
    def of(what):
        """Return the Recipe of a Formula or of a weighed Batch; its text must read back to the same formula."""
        formula = what.formula if isinstance(what, Batch) else what
        text = write(formula)
        folder = formula.path.parent if formula.path else "."
        made = Recipe._read(parse(text, formula.name, folder=folder), text)
        if formula is what:
            return made
        grams = {part: {key: float(what.grams[part, key]) for key in lines} for part, lines in made.lines.items()}
        return replace(made, grams=grams)  # what nothing was weighed of has no line

    @staticmethod
    def _read(formula, text):
        lines = {p.name: {k: float(v) for k, v in zip(p.keys, p.percentages, strict=True)} for p in formula.parts}
        pieces = {
            kind: float(getattr(formula.pieces, kind)) if kind == "dough" or formula.has(kind) else 0.0
            for kind in ("dough", "topping", "wash", "filling")
        }
        kinds = {part.name: part.kind for part in formula.parts}
        return Recipe(formula.name, formula.fingerprint, text, kinds, lines, pieces)

    @property
    def formula(self):
        """The Formula that the text holds."""
        return _formula_in(self.text)

    @property
    def batch(self):
        """The Batch that was weighed; None when only the formula is known."""
        if not self.grams:
            return None
        grams = {(part, key): value for part, lines in self.grams.items() for key, value in lines.items()}
        return Batch(self.formula, self.flour, grams)

    @property
    def flour(self):
        """Flour of the batch that was weighed, of all bowls of the dough [g]; None when only the formula is known."""
        on_flour = (part for part in self.grams if self.kinds[part] in DOUGH)
        return next((100 * g / self.lines[p][k] for p in on_flour for k, g in self.grams[p].items() if g > 0), None)


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
    parent: str = ""  # key of the trial that this one varies
    invented: bool = False
    planned_formula: Recipe | None = field(default=None, repr=False)
    weighed_formula: Recipe | None = field(default=None, repr=False)
    lots: dict = field(default_factory=dict, repr=False)
    planned: dict = field(default_factory=dict, repr=False)  # controlled fields as planned
    controlled: dict = field(default_factory=dict, repr=False)  # the same as they were
    measured: dict = field(default_factory=dict, repr=False)
    days: dict = field(default_factory=dict, repr=False)  # field: {day: readings}
    scores: tuple = field(default=(), repr=False)
    prediction: dict = field(default_factory=dict, repr=False)  # field: (value, low, high), stored before the bake
    deviations: str = field(default="", repr=False)
    notes: str = field(default="", repr=False)
    verdict: str = ""
    reason: str = field(default="", repr=False)
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

    def with_entry(self, entry, value):
        """Return this trial with one entry made or, with None or "", taken out.

        entry: a field's name; "planned oven set"; "crumb dent day 1"; "liking by P3"; "predicted height"
        (value, or (value, low, high)); planned_formula or weighed_formula (a Formula, or the Batch of it);
        "weighed dough egg" (a line of the batch, the others as planned or as weighed before); parent (a Trial or key).
        Raises TrialError, UnknownName, AmountError, UnitError.
        """
        words = plain(entry)
        if words in ("key", "code", "version"):
            raise TrialError(must(words, "left to the book", repr(value), "enter something else"))
        if words == "date":
            return replace(self, date=date_of(value))
        if words == "parent":
            key = value.key if isinstance(value, Trial) else text_of(value, "parent") or ""
            if key and key == self.key:
                raise TrialError(must("parent", "another trial", "the trial itself", "name the one it varies"))
            return replace(self, parent=key)
        if words == "invented":
            return replace(self, invented=bool(value))
        if words == "verdict" and value:
            if plain(value) not in VERDICTS:
                do = did_you_mean(value, VERDICTS) if value else ""
                raise TrialError(must("verdict", f"one of {listing(VERDICTS, 'or')}", repr(value), do))
            return replace(self, verdict=plain(value))
        if words.replace(" ", "_") in TEXTS:
            name = words.replace(" ", "_")
            return replace(self, **{name: text_of(value, words, needed=name == "name") or ""})
        if words in ("planned formula", "weighed formula", "formula"):
            name = "weighed_formula" if words == "weighed formula" else "planned_formula"
            recipe = Recipe.of(value) if isinstance(value, (Formula, Batch)) else value
            if not (recipe is None or isinstance(recipe, Recipe)):
                raise TrialError(must(words, "a Formula", repr(value)[:80], "read it with kit.Formula.read"))
            changed = replace(self, **{name: recipe})
            if recipe is None or name == "planned_formula" or not recipe.grams:
                return changed
            return replace(changed, controlled=_put(self.controlled, "flour_weighed", recipe.flour))
        if words.startswith("weighed "):
            return self._weighed(words.removeprefix("weighed "), value)
        if words.startswith("predicted "):
            return self._predicted(find(words.removeprefix("predicted ")), value)
        if words.startswith("planned "):
            target = find(words.removeprefix("planned "))
            if target.group != "controlled":
                raise TrialError(must(entry, "a field that is controlled", target.group, "predict it instead"))
            return replace(self, planned=_put(self.planned, target.name, target.read(value)))
        by = re.fullmatch(r"(.+) by (\S.*)", str(entry).replace("_", " "), re.DOTALL)
        if by:
            return self._scored(find(by[1]), by[2].strip(), value)
        day = re.fullmatch(r"(.+) day (\d{1,2})", words)
        target = find(day[1] if day else words)
        if target.group == "series":
            if not day:
                do = f"write '{target.words} day 0', 1 or 2"
                raise TrialError(must(target.words, "entered for a day", "none", do))
            readings = _put(self.days.get(target.name, {}), int(day[2]), target.read(value))
            return replace(self, days=_put(self.days, target.name, dict(sorted(readings.items())) or None))
        if target.group == "sensory":
            do = f"write '{target.words} by P1', with the taster's code"
            raise TrialError(must(target.words, "entered for a taster", "none", do))
        section = SECTION[target.group]
        changed = replace(self, **{section: _put(getattr(self, section), target.name, target.read(value))})
        return changed._possible()

    def _weighed(self, words, value):
        """Return the trial with one line of its batch as weighed; with nothing, as planned for the flour weighed."""
        batch = self.batch
        part = max((p.name for p in batch.formula.parts if words.startswith(plain(p.name) + " ")), key=len, default="")
        written = words.removeprefix(plain(part)).strip()
        part = part or "dough"
        if _gap(value):
            key = batch.formula.ingredients.find(written)
            value = scale(self.planned_formula.formula, flour=batch.flour).grams.get((part, key), 0.0)
        return self.with_entry("weighed formula", batch.weighed({(part, written): value}))

    def _scored(self, target, taster, value):
        if target.group != "sensory":
            raise TrialError(must(target.words, "what tasters score", target.group, "enter it without a taster"))
        taster = text_of(taster, "taster", needed=True)
        others = tuple(s for s in self.scores if (s.taster, s.field) != (taster, target.name))
        given = () if _gap(value) else (Score(taster, target.name, target._one(value)),)
        scores = sorted(others + given, key=lambda s: (s.field, s.taster))  # one order, so that equal trials are equal
        return replace(self, scores=tuple(scores))

    def _predicted(self, target, value):
        if value is None:
            return replace(self, prediction=_put(self.prediction, target.name, None))
        given = value.split(";") if isinstance(value, str) else value if np.ndim(value) else (value,)
        three = [target._number(each.strip() if isinstance(each, str) else each) for each in given]
        three = three * 3 if len(three) == 1 else three
        if len(three) != 3 or not three[1] <= three[0] <= three[2]:
            do = "give the value alone, or value, low, high"
            raise TrialError(must(f"predicted {target.words}", "a value within its band", repr(value), do))
        return replace(self, prediction=_put(self.prediction, target.name, tuple(three)))

    def _possible(self):
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

    # what can be read off it

    def readings(self, name):
        """Return the readings of a field as a tuple, empty when there are none; scores of all tasters for sensory.

        name: a field, or "crumb dent day 1".
        """
        target = trial_fields().get(name)  # most calls name a field as the table does
        day = None if target else re.fullmatch(r"(.+) day (\d+)", plain(name))
        target = target or find(day[1] if day else name)
        if day:
            return self.days.get(target.name, {}).get(int(day[2]), ())
        if target.group == "sensory":
            return tuple(s.score for s in self.scores if s.field == target.name)
        value = getattr(self, SECTION.get(target.group, "days")).get(target.name)
        if value is None and target.name == "specific_volume":  # volume over mass, AACC 10-05.01
            volume, mass = self.mean("volume"), self.mean("baked_mass")
            return (volume / mass,) if volume and mass else ()
        if value is None or isinstance(value, (str, dict)):
            return ()
        return value if isinstance(value, tuple) else (value,)

    def mean(self, name):
        """Return the bake's mean of a field [the field's unit]; None when nothing was measured."""
        readings = self.readings(name)
        return sum(readings) / len(readings) if readings else None

    @property
    def raw_piece(self):
        """Mass of a raw piece with its topping and wash, as weighed [g]; None when it was not weighed."""
        dough, topping = self.mean("piece_mass"), self.mean("topping_mass")
        recipe = self.weighed_formula or self.planned_formula
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
        recipe = self.weighed_formula or self.planned_formula
        if recipe is None:
            raise TrialError(must("formula", "in the trial", "none", "enter the formula as planned"))
        flour = self.controlled.get("flour_weighed") or self.planned.get("flour_weighed")
        if flour is None and not recipe.formula.pieces.count:
            do = "enter 'flour weighed', of the whole dough"
            raise TrialError(must("batch", "of a known size", "neither flour nor a count of pieces", do))
        batch = scale(recipe.formula, flour=flour)
        return replace(batch, grams={line: round(g, 2) for line, g in batch.grams.items()})

    @property
    def weighed_otherwise(self):
        """Lines weighed more than 1 % off the plan: ((part, ingredient, planned, weighed), ...), % of the base."""
        if not (self.planned_formula and self.weighed_formula):
            return ()
        planned, weighed = self.planned_formula.lines, self.weighed_formula.lines
        found = []
        for part in dict.fromkeys((*planned, *weighed)):
            before, after = planned.get(part, {}), weighed.get(part, {})
            for key in dict.fromkeys((*before, *after)):
                was, now = before.get(key, 0.0), after.get(key, 0.0)
                if abs(now - was) > 0.01 * max(was, now):
                    found.append((part, key, was, now))
        return tuple(found)

    @property
    def baked_formula(self):
        """The Formula that was truly baked: as weighed, with the flour and water added at the mixer.

        Raises FormulaError when something was added and neither `flour weighed` nor a formula is known.
        """
        recipe = self.weighed_formula or self.planned_formula
        if recipe is None:
            raise FormulaError(must("formula", "in the trial", "none", "enter the planned or weighed formula"))
        water, flour = (self.controlled.get(name, 0.0) for name in ("water_added", "flour_added"))
        if not water and not flour:
            return recipe.formula
        weighed = self.controlled.get("flour_weighed")
        if weighed is None:
            do = "enter the flour of the batch, so that what was added can be put on it"
            raise FormulaError(must("flour weighed", "known when something was added", "none", do))
        return _with_added(recipe.formula, weighed, flour, water)

    @property
    def doubts(self):
        """What looks odd in the readings, in words; kept all the same."""
        found = []
        off = sorted(self.weighed_otherwise, key=lambda line: -abs(line[3] - line[2]) / max(line[2:]))
        for part, key, was, now in off[:3]:
            name = named(key)["name"]
            found.append(f"{part}: {name} weighed {figure(now, 2)} % for {figure(was, 2)} %")
        if len(off) > 3:
            found.append(f"{len(off) - 3} more lines weighed off the plan")
        weighed, noted = self.weighed_formula and self.weighed_formula.flour, self.controlled.get("flour_weighed")
        if weighed and noted and abs(weighed - noted) > 0.005 * weighed:
            found.append(f"flour weighed is noted as {figure(noted)} g, the lines as weighed hold {figure(weighed)} g")
        for target in trial_fields().values():
            if target.group in ("measured", "controlled") and target.unit != "text":
                readings = self.readings(target.name)
                if len(readings) >= 4 and len(set(readings)) == 1 and target.unit not in ("%",):
                    found.append(f"{target.words}: {len(readings)} readings all {readings[0]:g} {target.unit}: "
                                 f"was the {target.instrument or 'instrument'} stuck?")  # fmt: skip
        if self.measured:
            most = max(len(self.readings(name)) for name in self.measured)
            if most > 1:
                found.append(f"1 bake with {most} pieces: no bake-to-bake interval from it")
        return found

    # the document

    def document(self):
        """Return the trial as plain data for JSON: what is there, and nothing else."""
        made = {"format": FORMAT, "key": self.key, "name": self.name, "date": self.date.isoformat()}
        for name in (*TEXTS[1:], "parent"):
            if getattr(self, name):
                made[name] = getattr(self, name)
        if self.invented:
            made["invented"] = True
        for name in ("planned_formula", "weighed_formula"):
            if recipe := getattr(self, name):
                made[name] = {f.name: getattr(recipe, f.name) for f in fields(recipe) if f.name != "grams"}
                if recipe.grams:
                    made[name]["grams"] = recipe.grams
        for name in ("lots", "planned", "controlled", "measured", "prediction"):
            if section := getattr(self, name):
                made[name] = {k: list(v) if isinstance(v, tuple) else v for k, v in section.items()}
        if self.days:
            made["days"] = {k: {str(d): list(v) for d, v in by_day.items()} for k, by_day in self.days.items()}
        if self.scores:
            made["scores"] = [score._asdict() for score in self.scores]
        return made

    @staticmethod
    def from_document(document):
        """Return the Trial that a document holds, every entry checked. Raises KitError for what cannot stand."""
        if not isinstance(document, dict):
            raise TrialError(must("trial", "an object", type(document).__name__, "take it from an export"))
        known = ("format", "key", *TEXTS, "date", "parent", "invented", "planned_formula", "weighed_formula", "lots",
                 "planned", "controlled", "measured", "days", "scores", "prediction")  # fmt: skip
        for word in document:
            if word not in known:
                do = did_you_mean(word, known)
                raise UnknownName(must("entry of a trial", f"one of {listing(known, 'or')}", repr(word)[:80], do))
        if document.get("format") != FORMAT:
            newer = isinstance(document.get("format"), int) and document["format"] > FORMAT
            do = "update the kit" if newer else "take it from an export of this kit"
            raise TrialError(must("format of the trial", FORMAT, repr(document.get("format")), do))
        key = text_of(document.get("key"), "key", needed=True)
        if not re.fullmatch(r"[0-9a-f]{32}", key):
            raise TrialError(must("key", "32 digits and letters a to f", repr(key[:40]), "take it from an export"))
        made = replace(Trial.of(document.get("name"), document.get("date")), key=key)
        for word in (*TEXTS[1:], "parent", "invented"):
            if word in document:
                made = made.with_entry(word, document[word])
        for word in ("planned_formula", "weighed_formula"):
            if word in document:
                made = made.with_entry(word, _recipe(document[word], word))
        for prefix, word in (("planned ", "planned"), ("", "lots"), ("", "controlled"), ("", "measured"),
                             ("predicted ", "prediction")):  # fmt: skip
            for name, value in _object(document, word).items():
                made = made.with_entry(prefix + str(name), value)
        for name, by_day in _object(document, "days").items():
            for day, value in _object({name: by_day}, name).items():
                made = made.with_entry(f"{name} day {day}", value)
        for score in document.get("scores", []):
            each = _object({"score": score}, "score")
            made = made._scored(find(each.get("field", "")), each.get("taster", ""), each.get("score"))
        if made.document() != document:
            lost = [word for word in document if made.document().get(word) != document[word]]
            do = "mend it there"
            raise TrialError(must(f"{listing(lost)} of the trial", "as the kit writes it", "other values", do))
        return made

    @staticmethod
    def stored(document, code="", version=0):
        """Return the Trial in a document that was checked when it was saved, without checking it again."""
        same = document.copy()
        del same["format"]
        same["date"] = datetime.date.fromisoformat(same["date"])
        for name in ("planned_formula", "weighed_formula"):
            if name in same:
                same[name] = Recipe(**same[name])
        for name in ("lots", "planned", "controlled", "measured", "prediction"):
            if name in same:
                same[name] = {k: tuple(v) if v.__class__ is list else v for k, v in same[name].items()}
        if "days" in same:
            same["days"] = {k: {int(d): tuple(v) for d, v in by.items()} for k, by in same["days"].items()}
        if "scores" in same:
            same["scores"] = tuple([Score(s["taster"], s["field"], s["score"]) for s in same["scores"]])
        return Trial(code=code, version=version, **same)

    def to_frame(self):
        """Return a DataFrame: field, planned, as it was, unit, readings."""
        import pandas as pd

        rows = []
        for target in trial_fields().values():
            readings, planned = self.readings(target.name), self.planned.get(target.name)
            text = self.lots.get(target.name) or self.controlled.get(target.name)
            value = self.mean(target.name) if readings else (text if isinstance(text, str) else None)
            if value is not None or planned is not None:
                planned = sum(planned) / len(planned) if isinstance(planned, tuple) else planned
                rows.append((target.words, planned, value, target.unit, len(readings)))
        for name, by_day in self.days.items():
            for day, readings in by_day.items():
                words = f"{find(name).words}, day {day}"
                rows.append((words, None, sum(readings) / len(readings), find(name).unit, len(readings)))
        return pd.DataFrame(rows, columns=["field", "planned", "as it was", "unit", "readings"]).set_index("field")

    def _repr_html_(self):
        def shown(value, digits=1):
            return "" if value is None or value != value else figure(value, digits) if _is_number(value) else str(value)

        rows = [
            [name, shown(planned), shown(value), unit, str(n) if n else ""]
            for name, planned, value, unit, n in self.to_frame().itertuples()
        ]
        caption = f"{self.code + ' ' if self.code else ''}{self.name}, {self.date}" + (
            " (invented)" if self.invented else ""
        )
        html = page.table(["", "planned", "as it was", "unit", "readings"], rows, caption)
        notes = [self.question, self.deviations, self.notes, f"{self.verdict}: {self.reason}" if self.verdict else ""]
        return html + "".join(f"<p>{page.escape(note)}</p>" for note in (*notes, *self.doubts) if note)


def named(key):
    """Return the row of an ingredient in the tables; of a house's own, whose file may be elsewhere, its key alone."""
    known = tables.ingredients()
    return known[key] if plain(key) in known.index else {"name": key, "kind": key}


def text_of(value, name, needed=False):
    """Return text that every store and page can hold; None for nothing. Raises TrialError.

    >>> text_of(" ribs, 8 mm ", "score pattern")
    'ribs, 8 mm'
    """
    if value is not None and not isinstance(value, str):
        raise TrialError(must(name, "text", repr(value)[:80], "write it in words"))
    text = (value or "").strip()
    if needed and not text:
        raise TrialError(must(name, "given", "nothing", "a trial needs a name and a date"))
    most = LONGEST.get(name, LONGEST_TEXT)
    if len(text) > most:
        got = f"{len(text):,} characters"
        raise TrialError(must(name, f"at most {most:,} characters", got, "put the rest into the notes"))
    odd = re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff]" if name not in LONGEST else
                    r"[\x00-\x1f\ud800-\udfff]", text)  # fmt: skip
    if odd:
        got = f"U+{ord(odd[0]):04X} at position {odd.start()}"
        raise TrialError(must(name, "text without control characters", got, "take it out"))
    return text or None


def date_of(value):
    """Return a date. value: a date, or text such as 2025-03-14. Raises TrialError."""
    try:
        return units.read_date(value or "none")
    except AmountError as error:
        raise TrialError(str(error)) from None


def _plain_number(value, name):
    try:
        return units.number(value.item() if isinstance(value, np.generic) else value)
    except KitError as error:
        raise TrialError(str(error).replace("'number'", f"'{name}'", 1).replace("'amount'", f"'{name}'", 1)) from None


def _is_number(value):
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _gap(value):
    if value is None or (isinstance(value, str) and value.strip() in ("", "-", "–")):
        return True
    return isinstance(value, (float, np.floating)) and math.isnan(value)


def _put(section, name, value):
    """Return a copy of a section with one entry put in, or taken out when there is no value."""
    rest = {k: v for k, v in section.items() if k != name}
    return rest if value is None else {**section, name: value}


def _object(document, word):
    value = document.get(word, {})
    if not isinstance(value, dict):
        raise TrialError(must(f"{word} of the trial", "an object", type(value).__name__, "take it from an export"))
    return value


def _recipe(body, word):
    """Return the Recipe in a document; its fingerprint and lines must be those of its text."""
    body = _object({word: body}, word)
    text = body.get("text")
    if not isinstance(text, str):
        raise TrialError(must(word, "a formula's text", type(text).__name__, "take it from an export"))
    if "house_ingredients" in text:  # its file need not be here: the lines were read when it was
        return _as_it_says(body, word)
    found = replace(_recipe_in(text), grams=_grams(body, word))
    if found.fingerprint != body.get("fingerprint"):
        got = f"{found.fingerprint} against {body.get('fingerprint')!r}"
        raise TrialError(must(f"{word} fingerprint", "that of its text", got, "take the text from an export"))
    return found


def _grams(body, word):
    """Return what was weighed of a batch; it must give the percentages of the lines."""
    grams = _object(body, "grams")
    lines = _object(body, "lines")
    if grams and {p: set(_object(grams, p)) for p in grams} != {p: set(_object(lines, p)) for p in lines}:
        raise TrialError(must(f"{word} grams", "the lines of the formula", "others", "take it from an export"))
    for part, some in grams.items():
        whole = sum(lines[part].values())
        if not all(_is_number(g) and math.isfinite(g) and g >= 0 for g in some.values()):
            raise TrialError(must(f"{word} grams", "masses of 0 g or more", "others", "take it from an export"))
        for key, g in some.items():
            if abs(g * whole - lines[part][key] * sum(some.values())) > 1e-4 * whole * max(sum(some.values()), 1):
                got = f"{figure(g, 1)} g of {key}"
                raise TrialError(must(f"{word} grams", "in proportion to the lines", got, "take it from an export"))
    return grams


def _as_it_says(body, word):
    """Return the Recipe of a formula whose house's file is elsewhere, its lines taken as they stand once sound."""
    lines, numbers = _object(body, "lines"), [_object(body, "pieces"), *_object(body, "lines").values()]
    sound = (
        all(isinstance(body.get(name), str) for name in ("name", "fingerprint"))
        and all(isinstance(some, dict) and all(map(_is_number, some.values())) for some in numbers)
        and {"dough", "topping", "wash", "filling"} == set(_object(body, "pieces"))
        and set(_object(body, "kinds")) == set(lines)
    )
    if not sound:
        raise TrialError(must(word, "whole: name, fingerprint, kinds, lines, pieces", "less", "take it from an export"))
    return Recipe(**{f.name: body[f.name] for f in fields(Recipe) if f.name != "grams"}, grams=_grams(body, word))


@functools.lru_cache(maxsize=512)  # the versions of a trial carry one text
def _formula_in(text):
    return parse(text)


def _recipe_in(text):
    return Recipe._read(_formula_in(text), text)


def _with_added(formula, weighed, flour, water):
    """Return the formula with flour [g] and water [g] added to the dough of a batch of so much flour [g]."""
    factor = weighed / (weighed + flour)
    parts = []
    for part in formula.parts:
        if part.kind in (*DOUGH, "inclusion", "dusting"):
            lines = {k: v * factor for k, v in zip(part.keys, part.percentages, strict=True)}
            if part.kind == "dough":
                flours = (k for p in formula.bowls[::-1] for k in p.keys if formula.ingredients[k]["kind"] == "flour")
                first = next(flours)
                for key, grams in ((first, flour), ("water_tap_drinking", water)):
                    lines[key] = lines.get(key, 0.0) + 100 * grams / (weighed + flour)
                lines = {k: v for k, v in lines.items() if v or k in part.keys}
                if lines.get("water_tap_drinking", 0.0) < 0:
                    do = "no more can be left out than the formula gives"
                    raise FormulaError(must("water added", "at least minus the water of the dough",
                                            f"{figure(water)} g", do))  # fmt: skip
            part = replace(part, keys=tuple(lines), percentages=tuple(lines.values()))
        parts.append(part)
    return check(with_parts(formula, parts, text=""))
