"""What a baker types into an entry, read where one reading alone is sensible for it, else asked back."""

import calendar
import contextlib
import datetime
import math
import re
from dataclasses import dataclass, replace

import numpy as np

from .. import units
from ..errors import KitError, UnitError, must
from ..words import figure, listing

# kind of amount, house units in one unit of the field, and how it is written
KIND = {
    "g": ("mass", 1.0, "62.5 g"),
    "%": ("percentage", 1.0, "61 %"),
    "mL": ("volume", 1.0, "215 mL"),
    "°C": ("temperature", 1.0, "26.5 °C or 80 °F"),
    "min": ("time", 1.0, "16.5 min or 1 h 30 min"),
    "mm": ("length", 0.1, "42.5 mm or 4.25 cm"),
    "days": ("time", 1440.0, "3 days"),
}
# what a number outside its range was perhaps written in
SLIPS = {"mm": ("cm", "in"), "g": ("kg", "oz"), "°C": ("°F",), "min": ("h",), "mL": ("l",)}
ALIKE = (1.5, 3.0)  # times the smallest of two, and of more readings, beyond which a mark may part no readings
SOON, AGO = 60, 305  # days from today in which a date without its year lies
ONE, SEVERAL, THOUSANDS = "one number", "several", "thousands"
SLIP, LOWER, MIDDLE, UPPER = "a point for the space", "the lower", "the middle", "the upper"
AS_TYPED = "as typed"
CONFIRMED = (SLIP, LOWER, MIDDLE, UPPER)  # never taken without asking
FAR = 3.0  # times the median of readings, beyond which one of them is asked about
GAPS = ("", "-", "–", "n/a", "not measured", "didn't measure", "did not measure", "not taken")
HOURS, MINUTES, DAY, MONTH = "hours and minutes", "minutes and seconds", "the day first", "the month first"
_ABOUT = re.compile(r"^(?:[~≈]|(?:ca|circa|about|approx|approximately|around|roughly)\b\.?)\s*|(?<=\d)[- ]?ish$", re.I)
_LIST = re.compile(r"\s*,\s+|\s+,\s*|\s*[,&+]?\s*\band\s+|\s*&\s*", re.I)
_NEXT = re.compile(r"\s+(?=[~≈]?[-+]?[\d.¼-¾⅐-⅞])")  # a space before which a number may end
_GROUPED = re.compile(r"(\d{1,3})([.,])(\d{3})(?![\d.,])(.*)", re.DOTALL)
_CLOCK = r"(\d{1,2}):(\d\d)"


class TrialError(KitError, ValueError):
    """An entry that cannot stand in a trial."""


class AskedError(TrialError):
    """What was typed has several meanings; `asking` is the question."""

    def __init__(self, message, asking=None):
        super().__init__(message)
        self.asking = asking


@dataclass(frozen=True)
class Asking:
    """A question about what was typed: about what (one answer holds for a book), in words, and the choices."""

    about: str  # "" for what is asked each time
    choices: tuple  # (answer, what is to be entered instead)
    rest: str = ""  # the whole of what was typed, where words beside a reading would be lost: for the notes
    words: str = ""

    @property
    def labels(self):
        """What stands on the button of each choice."""
        return tuple(", ".join(filter(None, (text, self.rest and answer))) for answer, text in self.choices)

    def text(self, answer):
        """Return what is to be entered for an answer."""
        return dict(self.choices)[answer]


def readings(field, value, answers=None):
    """Return the readings in what is typed into a Field [its unit], a tuple, empty for none.

    value: text of one reading or several, parted by semicolons, spaces, commas, slashes or "and"; a number or many
    answers: {about: answer} of what was asked before; None where nobody types, and nothing unusual is asked about

    Raises AskedError where it has several meanings in the field's range; TrialError, AmountError, UnitError for none.
    """
    if not isinstance(value, str):
        row = row_of(field.words, value)
        alone = not np.ndim(value)  # a row of numbers comes from a record, and stands
        return tuple(one(field, each, alone, answers) for each in row if not is_gap(each))
    parts = [_tidy(part) for part in re.split(r"[;\n\t|]+", value)]
    made, first = [], None
    for n, part in enumerate(parts):
        try:
            made += () if is_gap(part) else _readings(field, part, answers, alone=len(parts) == 1)
        except AskedError as asked:
            choices = tuple((a, "; ".join([*parts[:n], text, *parts[n + 1 :]])) for a, text in asked.asking.choices)
            first = first or AskedError(str(asked), replace(asked.asking, choices=choices))
    if first:
        raise first
    return tuple(made)


def _readings(field, text, answers, alone=True):
    """Return the readings in text without semicolons, by the one way to read it that is sensible for the field."""
    typed, answers = answers is not None, answers or {}
    if field.unit == "°C":
        text = re.sub(r"°\s+(?=[CF])", "°", re.sub(r"\s*(?:°|\bdeg(?:rees?)?\b)(?!\s*[CFcf]\b)", "", text))
    about, ways = _ways(field, text)
    sensible = {answer: made for answer, made in ways.items() if _within(made, field.low, field.high)}
    usual = {answer: made for answer, made in sensible.items() if _within(made, *field.usual)}
    confirmed = any(answer in CONFIRMED for answer in usual or sensible)
    first: dict = {}
    for answer, made in (sensible if confirmed or not usual else usual).items():
        first.setdefault(made, answer)  # the same readings in two ways are no question
    if len(first) > 1 or confirmed:
        choices = {answer: _typed(field, made) for made, answer in first.items()}
        if clock := re.fullmatch(_CLOCK, text):
            said = {HOURS: f"{clock[1]} h {clock[2]} min", MINUTES: f"{clock[1]} min {clock[2]} s"}
            choices = {answer: said[answer] for answer in choices}
        return _answered(field.words, text, about, sensible, choices, answers)
    made, tokens, bare = next(iter(first), ()), _tokens(text), not re.search("[A-Za-z%]", text)
    if typed and alone and len(made) > 2 and field.low > 0:
        middle = sorted(made)[len(made) // 2]
        near = tuple(value for value in made if middle / FAR <= value <= FAR * middle)
        if near != made:
            ways = {"as typed": made, "without what is far off": near}
            return _answered(field.words, text, "", ways, {each: _typed(field, ways[each], True) for each in ways}, {})
    some = any(_within([value], field.low, field.high) for way in ways.values() for value in way)
    if bare and ways and not (usual if typed and made else some):
        return _in_doubt(field, text, tokens, sensible, answers)
    if made and not (field.unit == "%" and len(made) == 1 and 0 < made[0] < 1):  # it may be a share of 1
        return made
    if typed and alone and not ways:
        _ask_about_rest(field, text)
    unread = [token for token in tokens if not _amounts(field, token)]
    if unread and not ways and (read := [token for token in tokens if token not in unread]):
        do = f"{'; '.join(read)} can be read: write the rest like {_like(field)}"
        raise TrialError(must(field.words, "readings that can be told", listing(map(repr, unread)), do))
    for value in () if made else ways.get(SEVERAL, ()):
        one(field, value)
    return (one(field, text, answers=answers),)


def _in_doubt(field, text, tokens, sensible, answers):
    """Return the readings of bare numbers that are none in the field's unit, or unusual ones, as was answered before.

    Offered are they themselves where they can be, and in another unit. Raises AskedError, and TrialError where nothing
    can be offered.
    """
    low, high = field.usual
    made = _each(field, tokens)
    ways = {AS_TYPED: made} if made in sensible.values() else {}
    ways |= _in_other_units(field, tokens)
    choices = {unit: "; ".join(f"{token} {unit}" for token in tokens) for unit in ways if unit != AS_TYPED}
    if AS_TYPED in ways:
        choices = {AS_TYPED: _typed(field, made, units_too=True)} | choices
    if not choices:
        return tuple(one(field, value, answers=answers) for value in made) or (one(field, text),)
    if not sensible:
        text, be = f"{text} {field.unit}", _range(field)
    else:
        be = f"usual, {figure(low, field.digits)} to {figure(high, field.digits)} {field.unit}"
    return _answered(field.words, text, f"{field.words} without its unit", ways, choices, answers, be)


def _ask_about_rest(field, text):
    """Raise AskedError where words beside an amount, or instead of one, would be lost."""
    for pattern in (r"(?P<amount>\W*\d[^,]*?)(?P<rest>,\s.+)", r"(?P<amount>.*\d\W*?\w{0,7}?)\s+(?P<rest>\D+)",
                    r"(?P<rest>\D+?)\s+(?P<amount>[~≈]?\d.*)"):  # fmt: skip
        if found := re.fullmatch(pattern, text):
            made = [value for value in _amounts(field, found["amount"]).values() if _within([value], *field.usual)]
            if len(made) == 1:
                choices = {"the rest into the notes": _typed(field, made)}
                _answered(field.words, text, "", {}, choices, {}, "a reading without words", text)
    if not re.search(r"\d", text):
        _answered(field.words, text, "", {}, {"into the notes": ""}, {}, "a number", text)


def _within(made, low, high):
    return all(low <= value <= high for value in made)


def _answered(name, text, about, ways, choices, answers, be="clear", rest=""):
    """Return what the way that was chosen before gives. Raises AskedError where none was."""
    if answers.get(about) in choices:
        return ways[answers[about]]
    asking = Asking(about, tuple(choices.items()), rest)
    do = f"{listing(asking.labels, 'or')}?"
    raise AskedError(must(name, be, repr(text), do), replace(asking, words=f"{name} {text}: {do}"))


def _ways(field, text):
    """Return what may be asked about a text, and {answer: readings} of the ways it can be read, in any range."""
    several = field.readings > 1 or field.group == "series"
    ways = {answer: (value,) for answer, value in _amounts(field, text).items()}
    about = "three digits after a mark" if THOUSANDS in ways else "a time with a colon"
    span = re.fullmatch(r"(.*\d)\s*(?:-|to|bis|à)\s*(\d.*)", text, re.I)
    if span and not ways and (ends := _each(field, [span[1], span[2]])):
        low, high = ends
        ways = {LOWER: (low,), MIDDLE: ((low + high) / 2,), UPPER: (high,)} | ({SEVERAL: ends} if several else {})
        return "a dash between two numbers", ways
    if not several or (field.is_score and re.fullmatch(r"[\d.,]+ ?(of|out of) ?\d+", text)):
        return about, ways
    solid = not re.search(r"\s", text)
    for mark, tokens in (
        ("comma", _LIST.split(text)),
        ("comma", text.split(",") if solid else ()),
        ("slash", text.split("/")),
        ("dash", re.split(r"\s*-\s*", text)),
        ("x", re.split(r"\s*x\s*", text) if field.unit == "mm" else ()),
        ("space", _tokens(text)),
    ):
        made = _each(field, tokens, mixed=ONE not in ways) if len(tokens) > 1 else ()
        doubted = (mark == "comma" and solid) or mark == "x" or (field.is_score and ONE in ways)
        if made and (not doubted or max(made) <= ALIKE[len(made) > 2] * min(made)):
            ways[SEVERAL] = made
            slip = _amounts(field, re.sub(r"\s+", ".", text)).get(ONE)
            if mark == "space" and slip is not None and max(made) > ALIKE[0] * min(made):
                ways[SLIP] = (slip,)  # the point was not hit
            return f"a {mark} between two numbers", ways
    pairs = re.findall(r"\d+,\d(?:,|$)", text)
    if solid and len(pairs) > 1 and "".join(pairs) == text and (made := _each(field, [p.rstrip(",") for p in pairs])):
        ways[SEVERAL] = made  # 22,1,21,9
    return about, ways


def _tokens(text):
    """Return the numbers in text with their units; what is left between them stays with the one before."""
    tokens = []
    for token in _NEXT.split(text):
        if tokens and re.match(r"\d/\d", token) and tokens[-1].isdigit():
            tokens[-1] += f" {token}"  # 7 1/2
        else:
            tokens.append(token)
    return tokens


def _each(field, tokens, mixed=False):
    """Return the readings of several numbers, a unit written once holding for all; () where one is none.

    mixed: whether each may have another unit, which two that make one amount have (2 lb 3 oz)
    """
    own = {unit for token in tokens for unit in re.findall(r"[A-Za-z%°\"]+\s*$", token)}
    if len(own) > 1 and not mixed:
        return ()
    unit, made = "".join(own).strip() if len(own) == 1 else "", []
    for token in tokens:
        found = _amounts(field, token if re.search(r"[A-Za-z%°\"]", token) else f"{token} {unit}".strip())
        fitting = [value for value in found.values() if field.low <= value <= field.high]
        if not found or len(fitting) > 1:
            return ()
        made.append(fitting[0] if fitting else next(iter(found.values())))
    return tuple(made)


def _amounts(field, text):
    """Return {answer: value} of the one amount that a text may be, in any range; {} for none."""
    text, found = _ABOUT.sub("", text).strip(), {}
    if field.unit == "min":
        if clock := re.fullmatch(_CLOCK, text):
            hours, minutes = map(int, clock.groups())
            return {HOURS: 60.0 * hours + minutes, MINUTES: round(hours + minutes / 60, field.digits + 1)}
        if span := re.fullmatch(rf"(?:from )?{_CLOCK}\s*(?:-|to|until)\s*{_CLOCK}", text, re.I):
            first, last = (60 * int(h) + int(m) for h, m in (span.groups()[:2], span.groups()[2:]))
            return {ONE: float((last - first) % 1440)}
    if grouped := _GROUPED.fullmatch(text):
        head, _, tail, rest = grouped.groups()
        ways = {ONE: f"{head}.{tail}0{rest}"} | ({THOUSANDS: f"{head}{tail}{rest}"} if head != "0" else {})
    else:
        ways = {ONE: text}
    for answer, written in ways.items():
        with contextlib.suppress(KitError):
            found[answer] = number(field, written)
    return found


def _in_other_units(field, tokens):
    """Return {unit: readings} of bare numbers in units that they were perhaps written in, those that are usual."""
    made = {unit: _each(field, [f"{token} {unit}" for token in tokens]) for unit in SLIPS.get(field.unit, ())}
    return {unit: each for unit, each in made.items() if each and _within(each, *field.usual)}


def _typed(field, made, units_too=False):
    """Return readings as they are typed beyond doubt."""
    texts = [re.sub(r"(\.\d{3})$", r"\g<1>0", f"{value:.6g}") for value in made]
    unit = f" {field.unit}" if units_too or (len(made) == 1 and field.unit in KIND) else ""
    return "; ".join(f"{text}{unit}" for text in texts)


def _tidy(text):
    text = re.sub(r"\s*/\s*", "/", " ".join(text.translate(_AS_TYPED).split()))
    text = re.sub(r"[,\s]\s*-\s*(?=,|$)", "", text)  # a gap between readings
    return text.rstrip(" .,:") if not text.endswith("..") else text


_AS_TYPED = str.maketrans("−–—º’′″×\u00a0", "---°''\"x ")


def _like(field):
    return KIND[field.unit][2] if field.unit in KIND else f"12.5, in {field.unit}"


def one(field, value, alone=True, answers=()):
    """Return one reading within the range of a Field [its unit].

    alone: whether a share of 1 may be a slip for its percentage; answers: {about: answer} of what was asked before
    Raises AskedError for such a share, TrialError, AmountError, UnitError.
    """
    value = _ABOUT.sub("", _tidy(value)) if isinstance(value, str) else value
    got, bare = _read(field, value)
    share = bare and field.unit == "%" and 0 < got < 1 and field.low <= 100 * got <= field.high
    if field.low <= got <= field.high and not (share and alone):
        return got
    if field.is_score:
        raise _no_score(field, f"{got:g}")
    do = "measure it again" + f" ({field.instrument})" * bool(field.instrument)
    if bare and (other := next(iter(_in_other_units(field, [f"{got:.9f}"])), "")):
        do = f"{field.unit} or {other}? If {other} was meant, write {got:g} {other}"
    if share:
        ways = {"in a hundred": 100 * got} | ({"as it is": got} if got >= field.low else {})
        choices = {answer: f"{each:g} %" for answer, each in ways.items()}
        return _answered(field.words, f"{got:g}", "a share of one", ways, choices, dict(answers or ()))
    written = f"{got:g} {field.unit}"
    written = written if bare or value == written else f"{value}: {written}"
    raise TrialError(must(field.words, _range(field), written, do))


def _range(field):
    return f"{figure(field.low, field.digits)} to {figure(field.high, field.digits)} {field.unit}"


def number(field, value):
    """Return one number in the unit of a Field, in any range. Raises TrialError, AmountError, UnitError."""
    return _read(field, value)[0]


def _read(field, value):
    """Return a number in the field's unit, and whether it was written bare."""
    value = value.item() if isinstance(value, np.generic) else value
    if units.is_number(value) and not abs(value) < math.inf:
        raise TrialError(must(field.words, "a finite number", value, "leave it empty when nothing was measured"))
    kind, factor, _ = KIND.get(field.unit, ("number", 1.0, ""))
    written = own = value
    if isinstance(value, str):
        if field.is_score and (share := re.fullmatch(r"\s*([\d.,]+)\s*(?:/|of|out of)\s*(\d+)\s*", value)):
            if float(share[2]) != field.high:
                raise _no_score(field, repr(value))
            value = share[1]
        if kind == "time":
            value = re.sub(r"(\d)\s*(?:''|\")", r"\1 s", value)
            value = re.sub(r"(\d)\s*'", r"\1 min ", value).strip()
            value = re.sub(r"(?<=\d)\s*m(?![A-Za-z])|(?<=h)(\s*\d+)\s*$", r"\1 min", value)  # 16m, 1h20
        if kind == "temperature":
            value = re.sub(r"°+$|\bdeg(?:rees?)?$", "", value).rstrip()
        own = value.rstrip().removesuffix(field.unit)
        own = value if re.search("[A-Za-z]", own) or not own else own  # "2 kg" and "1 h 30 min" have another
    if field.is_score and isinstance(own, str) and not re.search(r"\d|[¼-¾⅐-⅞]", own):
        raise _no_score(field, repr(written))
    given = units.amount(own, field.words, _like(field))
    if given.kind == "number":
        return given.value, own == value
    if given.kind != kind:
        be = f"a {kind} in {field.unit}" if field.unit in KIND else f"a number, in {field.unit}"
        raise UnitError(must(field.words, be, repr(written), f"write it like {_like(field)}"))
    return round(given.value / factor, field.digits + 1), False  # finer than the instrument says nothing


def _no_score(field, got):
    be = f"a score from {field.low:g} to {field.high:g}"
    return TrialError(must(field.words, be, got, "score it anew on that scale"))


def date_of(value, answers=(), today=None):
    """Return a date from 1900 to 2100.

    value: a date, or text such as 2025-03-14, 14.3.2025, 14 March; without a year the one that lies nearest to today
    answers: {about: answer} of what was asked before; today: the day it is typed

    Raises AskedError where day and month may be exchanged; TrialError.

    >>> str(date_of("14.3.2025")), str(date_of("3 March", today=datetime.date(2026, 1, 9)))
    ('2025-03-14', '2026-03-03')
    """
    today = today or datetime.date.today()
    try:
        made = _date(value, today, answers) if isinstance(value, str) else units.read_date(value)
    except AskedError:
        raise
    except (ValueError, OverflowError):
        made = None
    if made is None or not 1900 <= made.year <= 2100:
        be = "a day of the calendar, from 1900 to 2100"
        raise TrialError(must("date", be, repr(value)[:40], "write it like 2025-03-14"))
    return made


def _date(text, today, answers):
    """Return the date in a text by the one way that it can be read, None for none. Raises AskedError, ValueError."""
    with contextlib.suppress(ValueError):
        return datetime.date.fromisoformat(text.strip())
    near = {"yesterday": -1, "today": 0, "tomorrow": 1}
    if text.strip().casefold() in near:
        return today + datetime.timedelta(near[text.strip().casefold()])
    words = re.findall(r"\d+|[^\W\d_]+", re.sub(r"(?<=\d)(?:st|nd|rd|th)\b|\b(?:of|the)\b", "", text.casefold()))
    if re.search(r"[^\w\s.,/-]", text) or not words:
        return None
    if len(words[0]) == 4 and len(words) == 3:
        return datetime.date(*map(int, words))
    months = {name: name[:3] for name in map(str.casefold, calendar.month_name) if name}
    words = [next((short for name, short in months.items() if len(w) > 2 and name.startswith(w)), w) for w in words]
    orders = {DAY: "%d %m", "a day of a month": "%d %b", "a month's day": "%b %d"}
    orders |= {} if "." in text else {MONTH: "%m %d"}
    ways = {how: made for how, order in orders.items() if (made := _in_order(" ".join(words), order, today))}
    if len(set(ways.values())) > 1:
        choices = {how: f"{each.day} {each:%B %Y}" for how, each in ways.items()}
        return _answered("date", text, "which is the day", ways, choices, dict(answers or ()))
    return next(iter(ways.values()), None)


def _in_order(written, order, today):
    """Return the date of a day and a month written in an order, without a year in the one that is nearest."""
    for given in (written, *(f"{written} {today.year + n}" for n in (-1, 0, 1))):
        for year in ("%Y", "%y"):
            with contextlib.suppress(ValueError):
                made = datetime.datetime.strptime(given, f"{order} {year}").date()
                if given == written or -AGO <= (made - today).days < SOON:
                    return made
    return None


def row_of(name, value):
    """Return readings as a list, [value] for one alone. Raises TrialError for rows of several lengths.

    >>> row_of("height", (41, 42)), row_of("height", 41)
    ([41, 42], [41])
    """
    try:
        return np.asarray(value, object).ravel().tolist() if np.ndim(value) else [value]
    except ValueError:
        be = "readings in one row"
        raise TrialError(must(name, be, repr(value), "give one list of them")) from None


def is_gap(value):
    """Return whether a value stands for nothing entered: None, NaN, an empty cell or a dash."""
    if value is None or (isinstance(value, str) and value.strip().casefold() in GAPS):
        return True
    return isinstance(value, (float, np.floating)) and math.isnan(value)
