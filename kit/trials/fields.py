"""What one field of a trial's record is, how what a baker writes into it is read, and what a kitchen notes."""

import functools
import re
import unicodedata
from dataclasses import dataclass, replace
from typing import NamedTuple

from .. import tables
from ..errors import MOST, UnknownName, must
from ..words import did_you_mean, plain
from . import reading
from .reading import TrialError, is_gap, row_of

LONGEST = {"name": 200, "baker": 200, "mix": 200, "tag": 60, "name of a field": 60, "decision": 400}  # characters
LONGEST_TEXT = 4_000_000
NEEDED = {  # what to do when a text that is needed is not there
    "name": "a trial needs a name and a date",
    "by": "say who writes, such as M1",
    "name of a field": "write it like 'own shine, mm'",
    "taster": "give the taster's code, such as P1",
}
# where a trial keeps the fields of a group of the table, and what was planned or predicted of them
SECTION = {"lot": "lots", "controlled": "controlled", "measured": "measured", "series": "days", "sensory": "scores"}
PLANNED = {"planned": "planned", "predicted": "prediction"}
SECTIONS = [(section, "") for section in ("lots", "controlled", "measured")] + [(s, how) for how, s in PLANNED.items()]
OWN = "own "  # begins the name of a field of the kitchen's own, which its unit ends: "own shine, mm"
UNSEEN = ("Cc", "Cf", "Me", "Mn", "Zl", "Zp", "Zs")  # Unicode categories that show nothing by themselves


@dataclass(frozen=True)
class Field:
    """What one field of a record holds: unit, instrument, resolution, range, readings a bake, when."""

    name: str
    group: str  # lot, controlled, measured, series, sensory; reckoned from others, and never entered
    unit: str
    instrument: str
    resolution: float
    low: float
    high: float
    usual: tuple  # outside of it a bare number is asked about when it is typed
    readings: int
    when: str
    source: str
    ends: tuple = ("", "")  # what the two ends of a score mean
    no_repeat_from: str = ""  # for what is set: how far apart two bakes no longer repeat each other

    @property
    def words(self):
        """The field's name as it is spoken."""
        return self.name.removeprefix(OWN).removesuffix(f", {self.unit}").replace("_", " ")

    @property
    def spoken_unit(self):
        """The unit that stands beside a value; none beside text."""
        return "" if self.unit == "text" else self.unit

    @property
    def digits(self):
        """Decimal places that the instrument resolves."""
        return 0 if not 0 < self.resolution < 1 else len(f"{self.resolution:g}".partition(".")[2])

    def apart(self, larger):
        """Return from what difference [the field's unit] two bakes are no repeats, the larger value being this."""
        if self.no_repeat_from in ("", "other"):
            return 0.0
        number, percent, _ = self.no_repeat_from.partition(" %")
        return float(number) / 100 * larger if percent else float(number)

    @property
    def is_score(self):
        """Whether it is a score between two ends."""
        return " to " in self.unit

    def read(self, value, answers=None):
        """Return what stands in the record: text, a number, or a tuple of readings; None for a gap.

        value [the field's unit, or text with a unit]; several readings as a sequence, or as they are typed
        answers: {about: answer} of what was asked before, where somebody types; what is unusual is then asked about

        Raises AskedError where it may mean two things, TrialError, AmountError, UnitError.

        >>> find("height").read("4.2 cm; 43,5"), find("piece mass").read("60 61 59")
        ((42.0, 43.5), (60.0, 61.0, 59.0))
        """
        if self.unit == "text":
            return text_of(value, self.words)
        found = reading.readings(self, value, answers)
        if not found:
            return None
        if self.readings > 1 or self.group == "series":
            return found
        if len(found) > 1:
            raise TrialError(must(self.words, "one figure for the bake", written(found), "give the one that holds"))
        return found[0]


class Note(NamedTuple):
    """What one note of a bake is about: which field, planned, predicted or as it was, on which day, by whom."""

    name: str  # of the field
    how: str = ""  # planned or predicted; "" for as it was
    day: int | None = None
    taster: str = ""

    @staticmethod
    @functools.lru_cache(maxsize=4096)
    def of(entry):
        """Return the Note that words name. Raises UnknownName.

        >>> Note.of("predicted height"), str(Note.of("crumb_dent day 1")), Note.of("liking by P_3").taster
        (Note(name='height', how='predicted', day=None, taster=''), 'crumb dent day 1', 'P_3')
        """
        if isinstance(entry, Note):
            return entry
        words = plain(entry)
        if words.startswith(OWN):
            return Note(_own(str(entry)).name)
        how, _, rest = words.partition(" ")
        if how in PLANNED:
            return Note(find(rest).name, how)
        if by := re.fullmatch(r"(.+)[ _]by[ _](\S.*)", str(entry), re.DOTALL):
            return Note(find(by[1]).name, taster=by[2].strip())
        if day := re.fullmatch(r"(.+) day (\d{1,2})", words):
            return Note(find(day[1]).name, day=int(day[2]))
        return Note(find(words).name)

    def __str__(self):
        day, by = ("" if self.day is None else f" day {self.day}"), self.taster and f" by {self.taster}"
        return f"{self.how} {self.name.replace('_', ' ')}{day}{by}".strip()

    @property
    def field(self):
        """The Field that it is about."""
        return every_field().get(self.name) or _own(self.name)

    @property
    def label(self):
        """What stands beside its box: the field, the day and the unit; whose it is stands elsewhere."""
        words, unit = str(self._replace(name=self.field.words, taster="")), self.field.spoken_unit
        return f"{words}, {unit}" if unit else words

    @property
    def is_measured(self):
        """Whether it says what came out, of the bake, on a day or by a taster."""
        return not self.how and self.field.group in ("measured", "series", "sensory")

    @property
    def section(self):
        """Where a trial's document keeps it."""
        return PLANNED.get(self.how) or SECTION[self.field.group]

    def read(self, value, answers=None):
        """Return what stands in the record, as `Field.read`; of a prediction (value, low, high); None for a gap.

        Raises AskedError, TrialError, AmountError, UnitError.
        """
        field, group = self.field, self.field.group
        if group == "reckoned":
            raise TrialError(must(field.words, "left to the kit", repr(value), "note what it is reckoned from"))
        if self.how == "predicted":
            return self._band(value)
        if self.how == "planned" and group != "controlled":
            raise TrialError(must(str(self), "a field that is controlled", group, "predict it instead"))
        like = {"sensory": f"{field.words} by P1", "series": f"{field.words} day 1"}.get(group, field.words)
        if bool(self.taster) != (group == "sensory") or (self.day is not None) != (group == "series"):
            raise TrialError(must(field.words, f"entered like '{like}'", repr(str(self)), "write it so"))
        if self.taster:
            text_of(self.taster, "taster", needed=True)
            return None if is_gap(value) else reading.one(field, value)
        return field.read(value, answers)

    def _band(self, value):
        if value is None:
            return None
        given = value.split(";") if isinstance(value, str) else row_of(str(self), value)
        three = [reading.number(self.field, each.strip() if isinstance(each, str) else each) for each in given]
        three = three * 3 if len(three) == 1 else three
        if len(three) != 3 or not three[1] <= three[0] <= three[2]:
            raise TrialError(must(str(self), "a value within its band", repr(value), "give value, low, high"))
        return tuple(three)


@functools.cache
def trial_fields():
    """Return {name: Field} of what is entered, by trial_fields.csv.

    >>> trial_fields()["height"].unit, trial_fields()["height"].readings
    ('mm', 6)
    """
    return {name: field for name, field in every_field().items() if field.group != "reckoned"}


@functools.cache
def every_field():
    """Return {name: Field} of trial_fields.csv, what is reckoned from others too."""
    found = {}
    for row in tables.table("trial_fields").rows:
        text = {name: row[name] for name in ("group", "instrument", "when", "source", "no_repeat_from")}
        figures = {name: float(row[name] or "nan") for name in ("resolution", "low", "high")}
        usual = tuple(float(row[f"usual_{end}"] or figures[end]) for end in ("low", "high"))
        more = {"usual": usual, "readings": int(row["n_per_bake"]), "ends": (row.low_means, row.high_means)}
        unit = row.unit.replace("degC", "°C")  # as a person reads it
        found[row.field] = Field(row.field, unit=unit, **text, **figures, **more)
    return found


@functools.lru_cache(maxsize=512)
def _own(entry):
    """Return the Field of a kitchen's own that words such as "own shine, mm" name; without a unit it holds text."""
    name, _, unit = entry.strip()[len(OWN) :].partition(",")
    name, unit = plain(text_of(name, "name of a field", needed=True)), text_of(unit, "unit") or "text"
    unit = unit.replace("degC", "°C")
    if name.replace(" ", "_") in every_field():
        raise TrialError(must("field of your own", "of a new name", repr(name), f"note it as {name}"))
    ends = re.fullmatch(r"(\d+) to (\d+)", unit)
    low, high = map(float, ends.groups()) if ends else (-MOST, MOST)
    full = f"{OWN}{name}" if unit == "text" else f"{OWN}{name}, {unit}"
    return Field(full, "measured", unit, "", 0.01, low, high, (low, high), 6, "", "assumed_here")


def find(name):
    """Return the Field of that name. Raises UnknownName, with near names."""
    if plain(name).startswith(OWN):
        return _own(str(name))
    found = every_field().get(plain(name).replace(" ", "_"))
    if found is None:
        known = [each.words for each in trial_fields().values()]
        do = did_you_mean(name, known, "write it into the notes")
        raise UnknownName(must("field", "one of trial_fields.csv", repr(str(name)), do))
    return found


def text_of(value, name, needed=False):
    """Return text that every store and page can hold; None for nothing. Raises TrialError.

    >>> text_of(" ribs, 8 mm ", "score pattern")
    'ribs, 8 mm'
    """
    if value is not None and not isinstance(value, str):
        raise TrialError(must(name, "text", repr(value)[:80], "write it in words"))
    text = " ".join((value or "").split()) if name in LONGEST else (value or "").strip()
    if needed and all(unicodedata.category(letter) in UNSEEN for letter in text):
        got = "nothing that can be seen" if text else "nothing"
        raise TrialError(must(name, "given", got, NEEDED.get(name, "say it in a few words")))
    if len(text) > (most := LONGEST.get(name, LONGEST_TEXT)):
        do = "put the rest into the notes" if name in LONGEST else "keep the rest in a file, and name it here"
        raise TrialError(must(name, f"at most {most:,} characters", f"{len(text):,} characters", do))
    if odd := re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff]", text):
        got = f"U+{ord(odd[0]):04X} at position {odd.start()}"
        raise TrialError(must(name, "text without control characters", got, "take it out"))
    return text or None


def written(value):
    """Return what stands in an entry as one writes it; "" for nothing.

    >>> written((42.0, 43.5)), written("ribs"), written(None)
    ('42; 43.5', 'ribs', '')
    """
    if isinstance(value, tuple):
        return "; ".join(f"{each:.10g}" for each in value)
    return "" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)


def in_unit(text, unit):
    """Return text with a unit written to those of its readings, parted by semicolons, that have none.

    >>> in_unit("4,2; 43 mm; -", "cm")
    '4,2 cm; 43 mm; -'
    """
    parts = [part.strip() for part in text.split(";")]
    return "; ".join(part if is_gap(part) or re.search("[A-Za-z%°]", part) else f"{part} {unit}" for part in parts)


@dataclass(frozen=True)
class Kitchen:
    """What a kitchen notes of each bake, and how it writes it."""

    fields: tuple = ()  # entries in their order, such as "dough temperature", "crumb dent day 1", "own shine, mm"
    tags: tuple = ()
    entered_by: str = ""  # who entered last
    scales: tuple = ()  # (digest of a photo, mm of one of its pixels)
    answers: tuple = ()  # (question, choice) where a reading had two meanings

    def changed(self, **some):
        """Return the Kitchen with some of it changed and checked. Raises TrialError, UnknownName.

        >>> Kitchen().changed(fields=["dough_temperature", "own shine, mm"]).fields
        ('dough temperature', 'own shine, mm')
        """
        checked = {
            "fields": lambda value: tuple(dict.fromkeys(str(Note.of(entry)) for entry in value)),
            "tags": lambda value: tuple(dict.fromkeys(text_of(tag, "tag", needed=True) for tag in value)),
            "entered_by": lambda value: text_of(value, "by") or "",
            "scales": lambda value: tuple((text_of(p, "photo"), float(mm)) for p, mm in dict(value).items()),
            "answers": lambda value: tuple(
                (text_of(q, "question"), text_of(a, "choice")) for q, a in dict(value).items()
            ),
        }
        return replace(self, **{name: checked[name](value) for name, value in some.items()})
