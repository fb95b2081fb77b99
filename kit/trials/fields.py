"""What one field of a trial's record is, and how what a baker writes into it is read."""

import contextlib
import datetime
import functools
import math
import re
from dataclasses import dataclass

import numpy as np

from .. import tables, units
from ..errors import KitError, UnknownName, must
from ..words import did_you_mean, figure, plain, plural

LONGEST = {"name": 200, "baker": 200, "mix": 200}  # characters
LONGEST_TEXT = 4_000_000
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
    no_repeat_from: str = ""  # for what is set: how far apart two bakes no longer repeat each other

    @property
    def words(self):
        """The field's name as it is spoken."""
        return self.name.replace("_", " ")

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
        readings = tuple(self._one(each) for each in given if not is_gap(each))
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
            row["no_repeat_from"],
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
    if isinstance(value, datetime.datetime):
        return value.date()
    if isinstance(value, datetime.date):
        return value
    try:
        if re.fullmatch(r"\d{4}-\d\d-\d\d", str(value).strip()):
            return datetime.date.fromisoformat(str(value).strip())
    except ValueError:
        pass
    raise TrialError(must("date", "a day of the calendar", repr(value)[:40], "write it like 2025-03-14"))


def _plain_number(value, name):
    try:
        return units.number(value.item() if isinstance(value, np.generic) else value)
    except KitError as error:
        raise TrialError(str(error).replace("'number'", f"'{name}'", 1).replace("'amount'", f"'{name}'", 1)) from None


def is_number(value):
    """Return whether a value is a number, and not yes or no."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def is_gap(value):
    """Return whether a value stands for nothing entered: None, NaN, an empty cell or a dash."""
    if value is None or (isinstance(value, str) and value.strip() in ("", "-", "–")):
        return True
    return isinstance(value, (float, np.floating)) and math.isnan(value)
