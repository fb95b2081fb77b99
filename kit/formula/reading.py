"""A recipe's lines read one after the other: what each is, and what is asked of it.

A line is read only where every word of it is known, from ingredients.csv, add_ins.csv, units.csv and recipe_words.csv;
whatever stands beside them is asked about.
"""

import contextlib
import difflib
import itertools
import re
from dataclasses import dataclass, replace
from typing import NamedTuple

from ..errors import AmountError, KitError, UnitError
from ..tables import table
from ..units import amount, number, read
from ..words import figure, listing, one_of, plain, plural, without_zeros
from .amounts import counted_as, weigh
from .makes import pieces_in
from .parts import MIXED
from .wording import BRACKETS, NUMBER, amounts, any_of, in_digits, in_text, means, meant, part_kind, without, words_of

LEAVE = "leave it out"
KEEP = "keep it, what is in it unknown"
TEXT = 300  # characters of a line
# how far two amounts of a line may lie apart and still say one thing: masses, up to 60 g ounces of 25 or 30 g, others
NEAR_MASS, NEAR_OUNCE, SMALL, NEAR = 0.04, 0.15, 60, 0.3
NEAR_COOKED = 0.15  # what boils off
FAR = 0.1  # how far pieces of a mass may lie from what is mixed before it is asked which holds

_BULLET = re.compile(
    r"^\s*(?:[-–—*•·◦▪☐□✓>]+\s+|\[[ x]?\]\s*|[•·◦▪☐□✓]+|\(?(?:\d{1,2}\)\s+|(?:\d{1,2}|[A-E])\.\s+(?=\D)))"
)
_DEGREES = r"\d+\s*°?(?:\s*(?:-|–|to)\s*\d+)?\s*(?:°\s*[CF]?(?!\w)|deg ?[CF]\b|grad(?:er)?\b|(?<=\d\d)(?-i:[CF])\b)"
_TIME = re.compile(rf"{NUMBER}\s*(?:h|hrs?|hours?|min|mins|minutes?|std|stunden?|minuten)\b", re.I)
_ASIDE = re.compile(  # how warm, how small, in how many goes: numbers that are no amount
    rf"[,(]?\s*(?:\b(?:warmed|heated|cooled|at|of|to|about|ca\.?|bei|von)\s+)*{_DEGREES}(?:\s*/\s*{_DEGREES})?\)?"
    rf"|(?:\b(?:cut )?in(?:to)? )?{NUMBER}[ -]?(?:inch|cm|mm)[ -](?:pieces|cubes|slices|dice|chunks)"
    rf"|,?\s*\bin {NUMBER} (?:goes|lots|portions|parts|batches|additions|stages)\b",
    re.I,
)
TOTAL = re.compile(r"\b(?:sub)?totals?\b|\bsum\b|\bsumme\b|\bgesamt\w*", re.I)
_ABOUT = re.compile(r"^[\s=~≈]*(?:(?:about|approx\.?|approximately|ca\.?|circa|or|i\.e\.|exactly)\s+)?", re.I)
_MORE = re.compile(
    r"[,;(]?\s*(?:\bplus\b|\+|\band\b|,)?\s*(?:\d[^,;(]*)?\b(?:extra|more|some|additional|a little)\b"
    r"|[,;(]?\s*(?:\bplus\b|\+)\s",
    re.I,
)
_ITSELF = re.compile(
    r"^(?:all )?(?:of )?(?:the |your )?(?:above |finished |ripe |entire |whole )*|[ ,]*(?:\bfrom )?\babove\b|[ ,]+all$"
)
_OR = re.compile(r"\s+(?:or|oder|ou)\s+|(?<=[^\W\d])\s*/\s*(?=[^\W\d])", re.I)
_JOINED = re.compile(r"[&+,]|\b(?:and|each|und|je)\b", re.I)
_MAKES = re.compile(r"(?:makes|yields?|gives?|for|für|ergibt|batch)\b", re.I)
_APART = (r"\s+/\s+|\s*;\s*|,\s+(?:(?:plus|and|&|und)\s+)?", r"\s+(?:\+|plus|and|&|und)\s+")  # two in a line
_KINDS = ("dough", "preferment", "topping", "filling", "wash", LEAVE)
_EDGES = ".*'\"=…()[]"  # of a word


@dataclass(frozen=True)
class Question:
    """What is in doubt: about what (one answer holds wherever that is asked), in words, and what may be answered."""

    about: str
    words: str
    choices: tuple

    def choice(self, given):
        """Return the choice that is given, or how it begins. Raises UnknownName for none."""
        fitting = [choice for choice in self.choices if plain(choice).startswith(plain(given))]
        return fitting[0] if len(fitting) == 1 else one_of(self.about, given, self.choices)


@dataclass(frozen=True)
class Line:
    """A line as written, and what was read of it: which ingredient, how much, in which part."""

    written: str
    row: int  # of the recipe, from 0
    what: str = "note"  # title, part, ingredient, total, makes, method, left out
    part: str = ""
    kind: str = ""
    key: str = ""
    grams: float = 0.0  # or % of flour
    unit: str = "g"
    how: str = "weighed"
    taken: tuple = ()  # what was assumed, in words
    question: Question | None = None

    @property
    def left(self):
        """Whether it stays as written until it is mended."""
        return bool(self.question) and self.question.choices == (LEAVE,)


class Row(NamedTuple):
    """A row of the recipe: as written, and the text that is read; of a table also its part, g, its cells."""

    written: str
    text: str
    part: str = ""
    unit: str = ""
    name: str = ""
    amount: str = ""


class _Settled(Exception):
    """No more is read of a line: its Question is open, or it is left out, and there is none."""


class _Name(NamedTuple):
    """A name as its words tell: what it may be, what it is counted or measured as, which words are unknown."""

    phrase: str
    keys: tuple
    counted: tuple = ()
    measured: tuple = ()
    unknown: tuple = ()


def on_one_flour(lines, line):
    """Return the ingredients whose percentages are of the same flour as a line's: the dough's, or its own part's."""
    mixed = line.kind in MIXED
    return [o for o in lines if o.what == "ingredient" and (o.kind in MIXED if mixed else o.part == line.part)]


class Reading:
    """Rows read one after the other; what goes on from line to line is the part, and whether the method has begun."""

    def __init__(self, rows, answers, kitchen):
        self.rows, self.answers, self.ingredients = rows, answers, kitchen
        self.lines, self.said, self.parts = [], {}, {}
        self.told = 0  # the line that says what it makes
        self.part, self.kind, self.method, self.now = "dough", "dough", "", None
        self.in_one, self.group = False, ""  # whether the part stood in one line; what is below it, or a blank one
        self.trying = False
        doubtful = {word: tuple(row.means.split(";")) for word, row in words_of("ingredient", "ask", "spoon").items()}
        own = {name: (kitchen.rows[place].key,) for name, place in kitchen.index.items()}
        self.plainly = {name: keys[0] for name, keys in own.items() if name not in doubtful}
        brought = table("add_ins").rows
        added = {plain(name): (row.key,) for row in brought for name in (row.name, *row.aliases.split(";"))}
        self.names = added | own | doubtful
        for at, row in enumerate(rows):
            self._row(at, row)
        self._percentages()
        self._named_in_the_method()
        self._made_of_all()

    def ask(self, about, words, choices, usual=None):
        """Return what was answered, or the usual, else the first choice, where an amount is only tried.

        Raises _Settled when nothing was answered, or when it is to be left out.
        """
        if self.trying:
            return usual or choices[0]
        question = Question(about, words, tuple(choices))
        if plain(about) not in self.answers:
            raise _Settled(question)
        choice = question.choice(self.answers[plain(about)])
        if choice == LEAVE:
            raise _Settled(None)
        return choice

    def left(self, why):
        """Say why a line stays as written until it is mended, or left out."""
        self.ask(f"{self.now.written}: as written", why, (LEAVE,))

    def guarded(self, line, reads, *given):
        """Return what `reads` makes of a line, or the line with what is asked of it."""
        self.now = line
        try:
            if line.kind == "left out":
                raise _Settled(None)
            try:
                return reads(line, *given)
            except (AmountError, UnitError) as error:
                self.left(str(error).partition("; ")[2] or str(error))
        except _Settled as settled:
            if question := settled.args[0]:
                return replace(self.now, question=question)
            return replace(line, what="left out", key="", taken=(f"{line.written.strip()!r} left out",))

    def add(self, line, what, reads=None, *given):
        """Add a line as what it is, read where it says something."""
        line = replace(line, what=what)
        if what == "ingredient":
            line = replace(line, part=self.part, kind=self.kind)
        self.lines.append(self.guarded(line, reads, *given) if reads else line)

    # what a row is

    def _row(self, at, row):
        text, line = _BULLET.sub("", row.text.strip(" \t*_").lstrip("#"), count=1).strip(), Line(row.written, at)
        if TOTAL.search(row.part):
            self.add(line, "total")
            return
        if row.part and row.part != self.part:
            self._head(Line(row.part, at), self._heading(row.part, marked=True))
        if not re.search(r"\w", text) or len(text) > TEXT:
            what = "method" if text and self.method else "note"
            why = f"a line of more than {TEXT} characters: part it"
            doubtful = what == "note" and re.search(r"\d", text)
            self.add(line, what, (lambda _: self.left(why)) if doubtful else None)
        elif row.unit:
            self._cells(line, row, text)
        else:
            self._text(line, text)

    def _cells(self, line, row, text):
        key = self.plainly.get(plain(row.name))
        if re.search(r"\d", row.amount) and (not row.name or re.match("[-−–]", row.amount)):
            why = "an amount of 0 or more: how much?" if row.name else "of what?"
            self.add(line, "ingredient", lambda _: self.left(why))
        elif key and row.amount and not without(row.amount, amounts(row.amount)):  # known by its whole name
            self.add(line, "ingredient", self._weighed, amounts(row.amount), key, _Name(plain(row.name), (key,)))
        else:
            self._line(line, text)

    def _text(self, line, text):
        """Read a line that may begin with a part's name ("Wash 1 yolk", "Crust - flour 100 g"), or hold several."""
        begins = re.fullmatch(rf"({any_of('part')})(?:\s+[-–—]\s+|\s+(?=\d))(.+)", text, re.I)
        head, rest = (begins or re.fullmatch("(.*?)(?::(.*))?", text)).groups("")
        names = part_kind(head) or not (self._named(head) or plain(head) in words_of("section", "method"))
        whole = line.written
        if self.in_one or (line.row and not self.rows[line.row - 1].text.strip()):
            self.group = line.written.strip() if self.in_one or self._is_again(line.row) else ""
        heading = self._heading(head, marked=True) if names and self._is_weighed(rest) else None
        self.in_one = self._head(Line(f"{head}:", line.row), heading)
        if self.in_one:
            text = whole = rest.strip()
        segments = self._segments(text)
        for segment in segments:
            self._line(Line(segment if len(segments) > 1 else whole, line.row), segment)

    def _read(self, text):
        """Return (the amounts in a text, the _Name of what stands beside them, None where that is not known)."""
        found = amounts(text)
        return found, self._named(without(text, found))

    def _is_weighed(self, text):
        """Whether text is an amount and the name of something known."""
        return all(self._read(in_digits(text.strip())))

    def _is_again(self, at):
        """Whether what is weighed below a blank line names what the dough has already: a part without a heading."""
        group = itertools.takewhile(str.strip, (row.text for row in self.rows[at:]))
        above = [line.written for line in self.lines if line.what == "ingredient" and line.part == self.part]
        read = ([self._read(in_digits(text.strip()))[1] for text in texts] for texts in (above, group))
        keys, again = ({key for name in names if name for key in name.keys} for names in read)
        return self.kind == "dough" and self._is_weighed(self.rows[at].text) and bool(keys & again)

    def _segments(self, text):
        """Return the ingredients that stand in one line: "2 eggs + 1 yolk", "flour 500 g, butter 100 g"."""
        several = text.split(" / ")
        if len(several) > 2 and sum(map(self._is_weighed, several)) > 1:
            return [part.strip() for part in several]
        for mark in _APART:
            several = re.split(mark, text)
            alike = {("%" in part, bool(in_text("cue").search(part))) for part in several}
            if len(several) > 1 and len(alike) == 1 and all(map(self._is_weighed, several)):
                return several
        return [text]

    def _line(self, line, text):
        """Add a line as the first that holds of what it may be: what, how the method stands after it, what holds."""
        first, weighed, said = plain(text).rstrip(":."), in_digits(_ASIDE.sub(" ", text)), _said(text)
        found, name = self._read(weighed)
        weights = [one for one in found if one.kind in ("mass", "volume", "percentage", "ask")]
        known, words = bool(name and not name.unknown), len(first.split())
        leads = weights and not weights[0].start
        exact, bare = bool(found) and known, known and not found and not text.endswith(".")
        verb = in_text("verb").match(first) and first not in words_of("part") and not (exact and found[0].start)
        heads = self._leads(line) and (first in words_of("verb") or not name)
        heading = self._heading(text, name, heads)
        # below a step that no heading announced, another ingredient may stand
        below = self.method == "told" and (found or "all of" in first) and words < 13
        begun = "told" if any(line.what == "ingredient" for line in self.lines) else ""
        rules = (
            ("note", "", first in words_of("section")),
            ("method", "headed", first in words_of("method")),
            ("total", self.method, TOTAL.search(text) and not name),
            ("title", self.method, self._is_title(text, first, name, found, weights, said)),
            ("makes", self.method, said != {} and not exact and self._tells_pieces(text, name, found, weights, said)),
            ("part", "", heads and first in words_of("verb") and heading),
            ("method", self.method or begun, verb),
            ("method", self.method or "told", not weights and self._is_timed(text, name)),
            ("part", "", heading and not amounts(BRACKETS.sub(" ", text))),
            ("method", self.method, self.method and not (exact or bare or (leads and words < 8) or below)),
            ("ingredient", self.method, True),
        )
        what, self.method = next((what, method) for what, method, holds in rules if holds)
        reads = {"title": (self._makes, said), "makes": (self._makes, said), "ingredient": (self._ingredient, weighed)}
        if what == "part":
            self._head(line, heading)
        else:
            self.add(line, what, *reads.get(what, ()))
        part = re.split(r"\d", text)[0].strip(" -–—:(")
        if what == "makes" and said and "count" not in said and part_kind(part) and self._leads(line):
            self._head(Line(part, line.row), self._heading(part, marked=True))

    def _is_title(self, text, first, name, found, weights, said):
        """Whether a line is the recipe's first that says something, and no ingredient, heading or step."""
        heads = first not in words_of("piece") and (text.endswith(":") or first in words_of("part", "verb"))
        begins = re.match(r"\d|(?:makes|yields?|for|für)\b", text, re.I)
        if heads or begins or any(line.what != "note" for line in self.lines):
            return False
        named = name and (len(name.unknown) < 3 if found else not name.unknown)
        return bool(said or not (weights or named))

    def _tells_pieces(self, text, name, found, weights, said):
        """Whether a line that speaks of pieces is not of an ingredient: "eggs 300 g (6)" tells none, nor "eggs 8"."""
        before, told = self._named(re.split(r"\d", text)[0]), _MAKES.match(text)
        counted = found and before and not before.unknown and not told
        weighed = weights and (not weights[0].start or (name and not told))
        return (not name or said is None or "count" in said) and not (counted or weighed)

    def _is_timed(self, text, name):
        """Whether the only numbers of a line are times and temperatures: a step, however it begins."""
        times = list(_TIME.finditer(text))
        if not times or re.match(r"\d", _TIME.sub(" ", _ASIDE.sub(" ", text)).strip()):
            return False
        before = re.search(r"\d", _ASIDE.sub(" ", text[: times[0].start()]))
        return not (name and before) and bool(not name or len(times) > 1 or text.endswith(".") or self.method)

    def _leads(self, line):
        """Whether a line stands above one that is weighed, below a blank one or with a colon, as a heading does."""
        above, below = (self.rows[n].text if 0 <= n < len(self.rows) else "" for n in (line.row - 1, line.row + 1))
        marked = not above.strip() or line.written.strip().endswith(":")
        return marked and bool(re.search(r"\w{3}", line.written)) and self._is_weighed(below)

    def _makes(self, line, said):
        self.told = len(self.lines) if said else self.told
        if said is None:
            counts = re.findall(r"\d+", line.written)
            said = {"count": int(self.ask(line.written, "pieces: how many?", list(dict.fromkeys(counts))))}
        for name, value in said.items():
            if self.said.setdefault(name, value) != value:
                choices = [f"{self.said[name]:g}", f"{value:g}"]
                self.said[name] = type(value)(self.ask(f"pieces {name}", f"{name}: {listing(choices, 'or')}?", choices))
        return line

    # parts

    def _heading(self, text, name=None, marked=False):
        """Return (name, kind) of the part that a line heads, None where it heads none; name: of what it may name."""
        bare = BRACKETS.sub("", text).strip()
        named = re.sub(r"^(?:for|für)\s+(?:the\s+|den\s+|die\s+|das\s+)?", "", bare.rstrip(": "), flags=re.I).strip()
        kind = part_kind(named)
        marked = marked or bare.endswith(":") or (named != bare.rstrip(": ") and not name)
        whole = plain(re.sub(r"[()\[\]]", " ", text.rstrip(": ")))
        itself, above = _ITSELF.sub("", whole).strip(), {plain(line.part) for line in self.lines if line.key}
        if (
            not (kind or marked)
            or (self.method and not marked and plain(named) not in words_of("part"))
            or not named
            or (itself != whole and itself in words_of("part"))  # "sponge, from above", "sponge (all)"
            # its name alone, below its lines, is what is made of them
            or (self.kind == "dough" and kind == "preferment" and not marked and plain(named) in above)
            or len(named.split()) > (3 if name and not marked else 5)
            or re.search(r"\d|\ball\b", named)
        ):
            return None
        return named, kind

    def _head(self, line, heading):
        """Begin the part of a heading, (name, kind), and return whether there is one."""
        if heading:
            (self.part, self.kind), self.method, self.group = heading, "", ""
            self.add(replace(line, part=self.part, kind=self.kind), "part", self._begin)
        return bool(heading)

    def _begin(self, line):
        """Begin a part: one without a kind is asked about, and so is a second one of its kind."""
        if not self.kind:
            self.kind = "left out" if self.answers.get(plain(line.part)) == LEAVE else ""
            self.kind = self.ask(line.part, "which part is it?", _KINDS)
        same = {o.part for o in self.lines if o.key and o.kind == self.kind and plain(o.part) != plain(line.part)}
        if same and self.kind != "preferment":
            words = f"a second {self.kind}: does it go in with the first?"
            self.ask(f"{line.part}: beside", words, ("together with the first", LEAVE))
            self.part = min(same)
        self.parts[self.kind] = self.part
        return replace(line, kind=self.kind, part=self.part)

    # an ingredient

    def _ingredient(self, line, text):
        if self.group:
            line = self._in(line, self.ask(f"{self.group}: group", "a group of its own: which part is it?", _KINDS))
        text, line, passed = self._for_what(line, text)
        self.now = line
        brackets = re.findall(r"[(\[]([^()\[\]]*)", text)
        held = re.match(rf"\s*({NUMBER})\s*[(\[]([^()\[\]]*)[)\]]", text)
        if held and (each := amounts(held[2])) and not without(held[2], each):  # "2 (8 oz) packs"
            text, brackets = f"{held[1].strip()} x {held[2]} {text[held.end() :]}", brackets[1:]
        text = _ABOUT.sub("", BRACKETS.sub(" ", text))
        found = amounts(text)
        name, notes = without(text, found), []
        for text in (_ABOUT.sub("", text) for text in brackets):
            if re.fullmatch(NUMBER, text) and any(one.kind == "mass" for one in found):
                continue  # how many that is
            text = re.sub(rf"^({NUMBER}) (?:{any_of('container')})$", r"\1 packet", text)
            beside = [one for one in amounts(text) if one.unit]
            found += beside
            notes.append(without(text, beside))
        if line.what == "left out":
            return replace(line, taken=passed)
        if itself := self._preferment_itself(line, name, found):
            return itself
        key, what, taken = self._which(*self._one_of_two(name), notes, bool(found))
        if not found:
            self.left("no amount: how much of it?")
        if what.counted and re.match(r"\d{1,2} \d{3}\b", found[0].text):
            self.left(f"{found[0].text}: one number, or two?")
        return self._weighed(replace(line, taken=(*passed, *taken)), found, key, what)

    def _weighed(self, line, found, key, name):
        """Return a line with the grams, or % of flour, that its amounts come to."""
        masses = [one for one in found if one.unit != "%"]
        line = replace(line, key=key)
        if not masses:
            return replace(line, grams=read(self._one_of_range(found[0]), "percentage"), unit="%")
        grams, how = self._agreed(masses, key, name)
        assumed = ["numbers without a unit as g"] if how == "weighed" and not any(one.unit for one in masses) else []
        assumed += [how.partition(", from ")[0]] if " each, from " in how else []
        assumed += [note for note in how.partition("); ")[2:] if note]
        return replace(line, grams=grams, how=how, taken=(*line.taken, *assumed))

    def _in(self, line, kind):
        """Return a line in the part of a kind, by the name that stands above, else by its kind's."""
        return replace(line, part=self.parts.setdefault(kind, kind), kind=kind)

    def _for_what(self, line, text):
        """Return (text without what says what for, the line in the part that says, what was passed over)."""
        at = in_text("cue").search(text)
        if not at:
            return text, line, ()
        more = _MORE.search(text, 0, at.start())
        if more and text[: more.start()].strip() and not self._is_weighed(text[more.end() : at.start()]):
            passed = text[more.start() :].strip(" ,;()")
            if amounts(passed):
                self.ask(f"{line.written}: {passed}", f"{passed!r}: is it beside the formula?", ("beside it",))
            return text[: more.start()], line, (f"{passed!r} passed over",)
        kind, (_, dusted) = means("cue", at[0]), self._read(text[: at.start()])
        if kind == "dusting" and dusted and self.ingredients[dusted.keys[0]].kind not in ("flour", "starch"):
            kind = "topping"  # sugar to roll in is none that is dusted
        text = f"{text[: at.start()].rstrip(' ,;(')} {text[at.end() :].lstrip(' )')}"
        if not amounts(text):
            return text, replace(line, what="left out"), (f"{line.written.strip()!r} left out: no amount",)
        if kind == "topping" != line.kind:
            kinds = ("topping", "dough", "wash", "dusting", LEAVE)
            kind = self.ask(f"{line.written}: part", "which part is it?", kinds)
        return text, self._in(line, kind) if kind and kind != line.kind else line, ()

    def _preferment_itself(self, line, name, found):
        """Return the line when it is a preferment that goes into the dough as a whole; its flour stands above."""
        bare = _ITSELF.sub("", plain(name)).strip()
        kind = words_of("part")[bare].means if bare in words_of("part") else ""
        if kind not in ("preferment", "cooked flour"):
            return None
        whole = sum(old.grams for old in self.lines if old.key and old.kind == kind)
        given = [number(one.text.removesuffix(one.unit)) for one in found if one.measure == "g" or not one.unit]
        near = NEAR_COOKED if kind == "cooked flour" else NEAR_MASS
        if not whole or (found and not any(abs(grams - whole) <= near * whole for grams in given)):
            self.left(f"write the flour and water of the {bare} as lines below a heading of its own")
        return replace(line, what="note", taken=(f"all of the {bare} goes into the dough",))

    # its name

    def _one_of_two(self, name):
        """Return (name, whether it was chosen) where a line names two: "butter or margarine"."""
        several = [part for part in _OR.split(name) if part.strip()]
        if len(several) < 2:
            return re.sub(r"^or\s+", "", name), False
        known = [found.keys[0] for part in several if (found := self._named(part))]
        names = [self.ingredients[key].name for key in dict.fromkeys(known)]
        return self.ask(self.now.written, "which of them?", (*names, LEAVE)), True

    def _named(self, name, notes=()):
        """Return the _Name in a text, its longest known run of words; None when none is known."""
        folded = meant("short", plain(name)).strip(" ,;:.-–—*=…")
        head, *tails = re.split(r"\s*[,;:]\s*|\s+[-–—]\s+", folded)
        tails += [meant("short", plain(note)) for note in notes]
        first, rest = ([word.strip(_EDGES) for part in texts for word in part.split()] for texts in ([head], tails))
        runs = [run for order in (first + rest, rest + first) if (run := self._longest(list(filter(None, order))))]
        if not runs:
            return None
        phrase, left = max(runs, key=lambda run: len(run[0].split()))
        keys = tuple(map(self._brought, self.names[phrase]))
        counted_by = {r.measure for r in table("measures").rows if r.ingredient in keys and not r.ml_per_measure}
        left = " ".join(word for word in left if re.search(r"\w", word))
        if self.ingredients[keys[0]].group == "egg":  # a yolk is counted whatever the egg's size
            left = meant("size", left)
            if "each-European medium" not in counted_by:
                left = left.replace("European medium", "").replace("European large", "")
        sizes = {word for measure in counted_by for word in measure.removeprefix("each").strip("-").split()}
        counts = {*sizes, *words_of("container")}
        counted = [word for word in left.split() if word in counts or word.removesuffix("s") in counts]
        measured = [word for word in left.split() if word in words_of("measure")]
        left = " ".join(word for word in left.split() if word not in (*counted, *measured))
        unknown = in_text("state").sub(" ", left).split()
        second = self._longest(unknown)
        if second and (both := [key for key in keys if key in self.names[second[0]]]):  # "Mehl, Type 550" is one thing
            phrase, keys, unknown = second[0] if len(both) < len(keys) else phrase, tuple(both), second[1]
        return _Name(phrase, keys, tuple(counted), tuple(m for m in measured if m in first), tuple(unknown))

    def _longest(self, words):
        """Return (the longest run of words that names an ingredient, the words beside it), or None."""
        for size in range(min(len(words), 6), 0, -1):
            for start in range(len(words) - size + 1):
                run = " ".join(words[start : start + size])
                for name in (run, run.removesuffix("s"), run.removesuffix("es"), f"{run}s"):
                    if name in self.names:
                        return name, words[:start] + words[start + size :]
        return None

    def _which(self, name, chosen, notes, weighed):
        """Return (key, _Name, what was assumed) of an ingredient's name; what is in doubt about it is asked."""
        found, about, words = self._named(name, notes), self.now.written, ""
        kept = (KEEP,) if weighed and re.search(r"[^\W\d]", name) else ()
        if vague := in_text("vague").search(name):
            self.left(f"{vague[0]!r} is no measure: weigh it")
        if doubt := found and next((word for word in found.unknown if word in words_of("doubt")), None):
            self.ask(f"{about}: {doubt}", f"{doubt!r}: take it as the amount says?", ("as the amount says", LEAVE))
            found = found._replace(unknown=tuple(word for word in found.unknown if word != doubt))
        if not name:
            self.left("of what?")
        if not found:
            near = difflib.get_close_matches(plain(name), self.names, 3, 0.75)
            keys = dict.fromkeys(self._brought(key) for each in near for key in self.names[each])
            if not keys and not kept:
                self.left("not understood: an ingredient, or a note?")
            found, words = _Name(plain(name), tuple(keys)), f"{name!r} is not known"
        elif second := self._longest(list(found.unknown)):
            both = f"{found.phrase!r} and {second[0]!r} in one"
            if _JOINED.search(name):
                self.left(f"{both}: write each with its amount, a + between")
            found, words = found._replace(keys=()), f"{both}: write each as a line of its own"
        elif found.unknown:
            words = f"{listing(map(repr, found.unknown))} {'are' if len(found.unknown) > 1 else 'is'} not known here"
        elif len(found.keys) > 1 or (found.phrase in words_of("ask") and not chosen):
            about = words = found.phrase
            if self.kind not in MIXED:
                about = f"{about} of the {self.part}"
            kept = kept if len(found.keys) == 1 else ()
        names = {self.ingredients[key].name: key for key in found.keys}
        choice = next(iter(names), "")
        if words:
            choice = self.ask(about, f"{words}: {listing(names, 'or')}?" if names else words, (*names, *kept, LEAVE))
        key = self._brought(" ".join(plain(name).split())[:60]) if choice == KEEP else names[choice]
        if not self.ingredients.known[self.ingredients.row(key)].any():
            return key, found, (f"what is in {self.ingredients[key].name} unknown, and its allergens",)
        said = chosen or set(choice.split()) <= {*found.phrase.split(), found.phrase.removesuffix("s")}
        return key, found, () if said else (f"{found.phrase} as {choice}",)

    def _brought(self, name):
        """Return the key of an ingredient by its key, or its name where that is all that is known, brought in here."""
        key, index = re.sub(r"\W+", "_", name).strip("_"), self.ingredients.index
        row = next((row for row in table("add_ins").rows if row.key == key), {"name": name, "kind": "other"})
        place = index.get(key.replace("_", " "), index.get(row["name"]))
        if place is not None:
            return self.ingredients.rows[place].key
        given = {column: text for column, text in row.items() if column not in ("key", "aliases")}
        self.ingredients = self.ingredients.with_rows({key: given}, "the recipe")
        return key

    # its grams

    def _agreed(self, found, key, name):
        """Return (g, how) of the amounts of a line, the most metric of those that agree; else it is asked."""
        found, tried = sorted(found, key=lambda one: self._rank(one, key)), []
        self.trying = True
        for one in found:
            tried.append(None)
            with contextlib.suppress(KitError):
                tried[-1] = self._grams(one, key, name)[0]
        self.trying = False
        ounces = NEAR_MASS if (tried[0] or 0) > SMALL else NEAR_OUNCE
        near = ounces if all(self._rank(one, key) < 2 for one in found) else NEAR
        if tried[0] and any(other and abs(other - tried[0]) > near * tried[0] for other in tried[1:]):
            texts = list(dict.fromkeys(one.text for one in found))
            chosen = self.ask(f"{self.now.written}: amounts", f"{listing(texts, 'or')}: they differ", texts)
            found = [one for one in found if one.text == chosen]
        return self._grams(found[0], key, name)

    def _rank(self, one, key):
        if one.kind == "volume" or self._may_be_fluid(one, key):
            return 1.5 if one.measure in ("mL", "cL", "dL", "L") else 3
        if one.kind == "mass":
            return 1 if one.measure in ("oz", "lb", "stone") else 0
        return 2 if one.unit else 4

    def _may_be_fluid(self, one, key):
        row = self.ingredients[key]
        poured = row.counts_as_liquid == "yes" or row.kind in ("oil", "syrup", "honey")
        return one.measure == "oz" and not one.more and poured  # "1 lb 4 oz" is weighed

    def _one_of_range(self, one):
        """Return the text of an amount, of a range with the end that was chosen, or its middle."""
        if not one.ends:
            return one.text
        low, high = map(number, one.ends)
        values = [f"{round(value, 2):g}" for value in (low, (low + high) / 2, high)]
        chosen = self.ask(f"{self.now.written}: range", f"{one.text}: how much?", values, usual=values[1])
        return f"{one.text[: one.text.index(one.ends[0])]}{chosen} {one.unit}".strip()

    def _grams(self, one, key, name):
        """Return (g, how) of one amount of a line."""
        if one.more:
            sums = [self._grams(each, key, name) for each in one.more]
            return sum(grams for grams, _ in sums), sums[0][1]
        text, of = self._one_of_range(one), self.ingredients[key].name
        if row := words_of("unit").get(plain(one.unit)):
            meanings = row.means.split(";")
            words = f"{one.unit}: {listing(meanings, 'or')}?" + (f" ({row.note})" if row.note else "")
            unit = self.ask(row.words.split(";")[0], words, meanings)
            unit = amount(unit if unit[0].isdigit() else f"1 {unit}")
            text = f"{number(text.removesuffix(one.unit)) * unit.value:.4f} {unit.unit}"
        elif self._may_be_fluid(one, key):
            how = self.ask("oz of what is poured", f"oz of {of}: by weight, or fluid?", ("by weight", "fluid"))
            text = text if how == "by weight" else f"{text.removesuffix(one.unit)} US fl oz"
        elif not one.unit or one.kind == "count":
            text = self._counted(one, text, key, name)
        if one.kind in ("volume", "ask") and (measured := self._measured(text, key, name)):
            return measured
        weighed = weigh(text, key, self.ingredients)
        return weighed.grams, weighed.how

    def _measured(self, text, key, name):
        """Return (g, how) of a volume of what is light or heavy by the spoon, or sifted, packed, chopped; else None."""
        of = self.ingredients[key].name
        if spoon := words_of("spoon").get(name.phrase) or words_of("spoon").get(plain(of)):
            each = [f"{grams} g" for grams in spoon.g_per_tsp.split(";")]
            words = f"what does a level teaspoon of it weigh? ({spoon.note})"
            grams = self.ask(f"{spoon.words.split(';')[0]} by the spoon", words, each)
            return read(grams, "mass") * amount(text).value / amount("1 tsp").value, f"{text}: {grams} a teaspoon"
        if not name.measured:
            return None
        rows = [row for row in table("measures").rows if row.ingredient == key and row.ml_per_measure]
        if own := [row for row in rows if {*name.measured} <= {*f"{row.measure} {row.note}".split()}]:
            per_ml = own[0].grams_per_measure / own[0].ml_per_measure
            how = f"{text}: {figure(per_ml, 3)} g/mL, from the table of measures, {own[0].measure}"
            return amount(text).value * per_ml, how
        grams = f"{figure(weigh(text, key, self.ingredients).grams, 0)} g, as it comes"
        self.ask(f"{self.now.written}: measure", f"{listing(name.measured)}: not in the tables", (grams, LEAVE))
        return None

    def _counted(self, one, text, key, name):
        """Return a count with the size that is said or asked, of packets and sticks; else as grams."""
        rows, kind, words = counted_as(key), self.ingredients[key].kind, " ".join(name.counted)
        each = {m.removeprefix("each-"): f"{grams:g} g" for m, grams in rows.items() if m.startswith("each")}
        value = f"{amount(text).value:g}" if one.unit else text  # dozens counted out
        if one.measure:
            words = f"{words} {one.measure}".strip()
        elif words in words_of("container") and "packet" in rows and words.removesuffix("s") not in rows:
            words = "packet"  # an envelope, a package
        elif not words and each:
            words = next(iter(each))
            if not one.unit and number(value) > 12:
                words = self.ask(f"{self.now.written}: unit", "pieces, or grams?", ("grams", words), usual=words)
            if words != "grams" and len(each) > 1:
                sizes = [f"{size}, {grams}" for size, grams in each.items()]
                words = self.ask(f"{kind} size", f"{kind}: which size?", sizes).partition(",")[0]
        elif not words:
            words = "grams"
            if kind == "other" and number(value) <= 12:
                self.left("weigh it: no measure of it is known")
            elif not self.rows[self.now.row].unit:
                about = "numbers without a unit" if number(value) > 12 else f"{self.now.written}: unit"
                self.ask(about, f"{text} without a unit: grams?", ("grams",))
        if words.removesuffix("s") in ("can", "tin"):
            holds = [f"{rows['can']:g} g"] if "can" in rows else []
            about = f"{self.ingredients[key].name} by the can"
            self.ask(about, "what does a can of it hold? Else write its grams", (*holds, LEAVE))
        return f"{value} {({'grams': 'g', 'each': 'piece'}).get(words, words)}"

    # what all lines say together

    def _percentages(self):
        """Ask of which flour percentages are, where masses or another bowl's flour stand beside them."""
        lines = self.lines

        def asked(line):
            same = on_one_flour(lines, line)
            if any(other.question for other in same):
                return line
            beside = any(other.unit == "g" for other in same)
            weighed, flour = (
                self.ingredients.total([(other.key, other.grams) for other in same if other.unit == unit], "flour")
                for unit in ("g", "%")
            )
            if beside and not (weighed and flour < 100):
                self.left("a percentage beside masses: of which flour?")
            if beside or len({other.part for other in same}) > 1:
                self.ask("percentages", "of all the flour?", ("of all the flour",))
            if beside:
                grams = weighed * line.grams / (100 - flour)
                return replace(line, grams=grams, unit="g", how=f"{line.grams:g} % of the flour")
            if line.kind in MIXED and abs(flour - 100) > 0.05:
                words = f"flour comes to {figure(flour)} %: convert so that it is 100 %?"
                self.ask("flour percentage", words, ("convert all of them",))
            return line

        self.lines = [self.guarded(line, asked) if line.unit == "%" else line for line in lines]

    def _named_in_the_method(self):
        """A step that names a mass of something that no line has may be where that ingredient stands."""
        if any(line.question for line in self.lines):
            return
        keys = {line.key for line in self.lines}

        def only_a_step(line):
            text = _ASIDE.sub(" ", line.written[:TEXT])
            for one in amounts(text):
                after = re.split(r"[,.;()]|\b(?:and|with|until|for|into|to)\b", text[one.end :])[0]
                found = self._named(" ".join(after.split()[:4]))
                if found and one.kind in ("mass", "volume") and not keys & {*found.keys}:
                    words = f"{one.text} of {found.phrase} stands in no other line: an ingredient? Then write it so"
                    self.ask(line.written, words, ("a step only",))
            return line

        self.lines = [self.guarded(line, only_a_step) if line.what == "method" else line for line in self.lines]

    def _made_of_all(self):
        """Ask which holds where so many pieces of a mass take far more, or far less, than is mixed."""
        count, piece = self.said.get("count"), self.said.get("dough")
        mixed = sum(line.grams for line in self.lines if line.key and line.kind in MIXED)
        open_ = any(line.question or line.unit == "%" for line in self.lines)
        if open_ or not (count and piece and mixed) or abs(count * piece / mixed - 1) <= FAR:
            return
        grams, pieces, many = without_zeros(figure(piece)), plural(count, "piece"), int(mixed / piece)
        words = f"{pieces} of {grams} g take {figure(count * piece, 0)} g, and {figure(mixed, 0)} g is mixed"
        meant_by = {
            f"{pieces}, of all that is mixed": {name: value for name, value in self.said.items() if name != "dough"},
            f"{grams} g a piece, which makes {many}": self.said | {"count": many},
            "both as written": self.said,
        }

        def which(line):
            self.said = meant_by[self.ask("pieces and what is mixed", f"{words}: which holds?", meant_by)]
            return line

        self.lines[self.told] = self.guarded(self.lines[self.told], which)


def _said(text):
    """Return what a line says of pieces, {} for nothing, None for two counts."""
    try:
        return pieces_in(text[:TEXT])
    except KitError:
        return None
