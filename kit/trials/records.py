"""A trial: one bake as planned, as weighed, as controlled and as measured; a document that validates itself.

What a record may hold is the table trial_fields.csv. One trial is one mixed, proofed and baked dough: the pieces of
a tray are readings of it, not bakes.
"""

import datetime
import re
import uuid
from dataclasses import MISSING, dataclass, field, fields, replace
from typing import NamedTuple

from .. import page
from ..errors import FormulaError, KitError, must
from ..formula import Bake, Batch, Formula, scale
from ..formula.parts import DOUGH
from ..formula.usual import bake_doubts, goods_of
from ..words import figure, listing, one_of, plain
from .fields import SECTION, Note, TrialError, date_of, find, is_gap, is_number, text_of, trial_fields
from .recipes import Recipe

FORMAT = 1
KEY = r"[0-9a-f]{32}"  # of a trial, in every book
TEXTS = ("name", "baker", "mix", "question", "deviations", "notes", "verdict", "reason", "next_change")
VERDICTS = ("keep", "change", "drop")
OTHERS = ("date", "parent", "invented", "planned_formula", "weighed_formula")


class Score(NamedTuple):
    """What one taster gave: the taster's code, the field, the score."""

    taster: str
    field: str
    score: float


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
            if key and not re.fullmatch(KEY, key):
                do = "give the trial itself, such as book.trial('T-004')"
                raise TrialError(must("parent", "a Trial or its key", repr(key[:40]), do))
            if key and key == self.key:
                raise TrialError(must("parent", "another trial", "the trial itself", "name the one it varies"))
            return replace(self, parent=key)
        if words == "invented":
            return replace(self, invented=bool(value))
        if words == "verdict" and value:
            return replace(self, verdict=one_of("verdict", value, VERDICTS))
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
        note = Note.of(entry)
        changed = self.with_value(note, note.read(value))
        return changed._possible() if note.section in ("controlled", "measured") else changed

    def with_value(self, entry, value):
        """Return this trial with one of `entries` as it stands elsewhere; None takes it out."""
        if not isinstance(entry, Note):
            return replace(self, **{entry: _BLANK[entry] if value is None else value})
        section, name = getattr(self, entry.section), entry.name
        if entry.section == "scores":
            others = tuple(s for s in section if (s.taster, s.field) != (entry.taster, name))
            given = () if value is None else (Score(entry.taster, name, value),)
            made = tuple(sorted(others + given, key=lambda s: (s.field, s.taster)))  # so that equal trials are equal
        elif entry.section == "days":
            readings = _put(section.get(name, {}), entry.day, value)
            made = _put(section, name, dict(sorted(readings.items())) or None)
        else:
            made = _put(section, name, value)
        return replace(self, **{entry.section: made})

    @property
    def entries(self):
        """{entry: value} of all that stands in it: an entry's name, or its Note."""
        found = {name: value for name in (*TEXTS, *OTHERS) if (value := getattr(self, name))}
        for section, how in (
            ("lots", ""),
            ("planned", "planned"),
            ("controlled", ""),
            ("measured", ""),
            ("prediction", "predicted"),
        ):
            found |= {Note(name, how): value for name, value in getattr(self, section).items()}
        found |= {Note(name, day=day): value for name, by_day in self.days.items() for day, value in by_day.items()}
        return found | {Note(score.field, taster=score.taster): score.score for score in self.scores}

    def _weighed(self, words, value):
        """Return the trial with one line of its batch as weighed; with nothing, as planned for the flour weighed."""
        batch = self.batch
        part = max((p.name for p in batch.formula.parts if words.startswith(plain(p.name) + " ")), key=len, default="")
        written = words.removeprefix(plain(part)).strip()
        part = part or "dough"
        if is_gap(value):
            key = batch.formula.ingredients.find(written)
            value = scale(self.planned_formula.formula, flour=batch.flour).grams.get((part, key), 0.0)
        return self.with_entry("weighed formula", batch.weighed({(part, written): value}))

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
        target, day = trial_fields().get(name), None  # most calls name a field as the table does
        if target is None:
            note = Note.of(name)
            target, day = note.field, note.day
        if day is not None:
            return self.days.get(target.name, {}).get(day, ())
        if target.group == "sensory":
            return tuple(s.score for s in self.scores if s.field == target.name)
        value = getattr(self, SECTION[target.group]).get(target.name)
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
        planned, weighed = self.planned_formula.by_line, self.weighed_formula.by_line
        every = dict.fromkeys((*planned, *weighed))
        lines = ((*line, planned.get(line, 0.0), weighed.get(line, 0.0)) for line in every)
        return tuple(line for line in lines if abs(line[3] - line[2]) > 0.01 * max(line[2:]))

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
            name = (self.weighed_formula if now else self.planned_formula).named(key)["name"]
            found.append(f"{part}: {name} weighed {figure(now, 2)} % for {figure(was, 2)} %")
        if len(off) > 3:
            found.append(f"{len(off) - 3} more lines weighed off the plan")
        weighed, noted = self.weighed_formula and self.weighed_formula.flour, self.controlled.get("flour_weighed")
        if weighed and noted and abs(weighed - noted) > 0.005 * weighed:
            found.append(f"flour weighed is noted as {figure(noted)} g, the lines as weighed hold {figure(weighed)} g")
        recipe = self.weighed_formula or self.planned_formula
        bake = Bake(oven=self.controlled.get("oven_set"), core=self.controlled.get("core_temperature"))
        found += bake_doubts(bake, goods_of(recipe.formula)) if recipe else bake_doubts(bake)
        for target in trial_fields().values():
            if target.group in ("measured", "controlled") and target.unit != "text":
                readings = self.readings(target.name)
                if len(readings) >= 4 and len(set(readings)) == 1 and target.unit not in ("%",):
                    found.append(
                        f"{target.words}: {len(readings)} readings all {readings[0]:g} {target.unit}: "
                        f"was the {target.instrument or 'instrument'} stuck?"
                    )
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
        except KitError:
            raise
        except (AttributeError, KeyError, TypeError, ValueError):
            raise TrialError(must("trial", "as the kit writes it", "entries of another form", do)) from None
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
            same[name] = {k: tuple(v) if v.__class__ is list else v for k, v in same.get(name, {}).items()}
        days = same.get("days", {})
        same["days"] = {k: {int(d): tuple(v) for d, v in by.items()} for k, by in days.items()}
        same["scores"] = tuple([Score(s["taster"], s["field"], s["score"]) for s in same.get("scores", ())])
        made = object.__new__(Trial)  # a frozen value sets its 24 fields one by one: a third of the time of reading it
        made.__dict__.update(_BLANK, code=code, version=version, **same)
        return made

    def to_frame(self):
        """Return a DataFrame: field, planned, as it was, unit, readings."""
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
        return page.frame(["field", "planned", "as it was", "unit", "readings"], rows, index=True)

    def _repr_html_(self):
        def shown(value, digits=1):
            return "" if value is None or value != value else figure(value, digits) if is_number(value) else str(value)

        rows = [
            [name, shown(planned), shown(value), unit, str(n) if n else ""]
            for name, planned, value, unit, n in self.to_frame().itertuples()
        ]
        caption = f"{self.code + ' ' if self.code else ''}{self.name}, {self.date}" + (
            " (invented)" if self.invented else ""
        )
        html = page.table(["", "planned", "as it was", "unit", "readings"], rows, caption)
        notes = [self.question, self.deviations, self.notes, f"{self.verdict}: {self.reason}" if self.verdict else ""]
        return html + page.paragraphs((*notes, *self.doubts))


@dataclass(frozen=True)
class Version:
    """One version of a trial: number, who, when, the trial as it was, what changed; aside when it does not stand."""

    number: int
    by: str
    at: str  # UTC, ISO 8601
    aside: bool  # written on top of a version that stood no longer
    trial: Trial = field(repr=False)
    changed: tuple = ()


_BLANK = {each.name: each.default for each in fields(Trial) if each.default is not MISSING}


def _put(section, name, value):
    """Return a copy of a section with one entry put in, or taken out when there is no value."""
    rest = {k: v for k, v in section.items() if k != name}
    return rest if value is None else {**section, name: value}


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
                    raise FormulaError(
                        must("water added", "at least minus the water of the dough", f"{figure(water)} g", do)
                    )
            part = replace(part, keys=tuple(lines), percentages=tuple(lines.values()))
        parts.append(part)
    return formula.with_parts(parts, text="").checked()
