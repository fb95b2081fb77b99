"""A bake entered with floury fingers: begun as the last one, only what differs typed, saved as the typing rests."""

import asyncio
import contextlib
import datetime
import hashlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path

import anywidget
import ipywidgets as widgets
import traitlets

from .. import page
from ..errors import FileError, KitError, UnknownName, must
from ..files import read_bytes, write_whole
from ..formula import at_hand, to_weigh
from ..formula.shelf import shelf
from ..trials import ConflictError, Trial, TrialBook, TrialError, trial_fields
from ..trials.again import LATEST, aims, as_planned, bake_again, due
from ..trials.corrections import WITHDRAWN
from ..trials.fields import OWN, Note, written
from ..trials.photos import INCOMING, must_be_taken, small, taken_at, taken_over, waiting_in
from ..trials.printed import BENCH, bench_page
from ..trials.reading import AskedError
from ..trials.records import mean_of
from ..words import figure, listing, plural
from .entry_boxes import KEYS, Box, aside, press, quiet, row, tick
from .live import Live
from .still import OPENS, still

PAUSE = 1.2  # s without a key after which what was typed is saved
OFFERED = 30  # bakes to bake again
LISTED = 6  # bakes to go on with
INVENTED = "invented year of Tarnholt Bakehouse"
YEAR = "trials/crackle_bun_trials.csv"
VIEWS = ("as taken", "top", "side", "cut face")
TEXTS = {
    "always": (("deviations", "anything dropped, added, gone wrong"), ("notes", "")),
    "name, date": (("name", ""), ("date", ""), ("baker", ""), ("mix", "of that day"), ("tags", "parted by commas")),
    "question": (("question", "what is it to answer?"), ("next change", "one thing, by how much")),
}
PHOTOS = "photos, history"
# what opens below the boxes, and the method that gives its inside
FOLDS = {
    PHOTOS: "_photos",
    "more": "_more",
    "weighed": "_weighed",
    "scores": "_scores",
    "name, date": "_name_date",
    "our fields": "_our_fields",
    "print": "_print",
}
ANOTHER, DUE, MORE, PAPERS = "another bake", "due", "more formulas", ("A4", "Letter")
FORGOTTEN = ("of", "taster", "why", "removed")  # of what stands in boxes beside the bake's, with the next bake
_FILES = Path(__file__).parent
_CHOOSER = (
    '<label class="file">add photos'
    f'<input type="file" accept="image/*" multiple {KEYS} aria-label="add photos"></label>'
)


@dataclass(frozen=True)
class Unsaved:
    """What was typed into an entry of a trial, by whom, and what stood there before."""

    key: str  # of the trial
    entry: str
    text: str
    by: str
    known: str


class UnsavedEntries:
    """What was typed and not saved, of the trials of one book; folder: where its hidden files lie.

    A folder that can't be written, or a file that can't be read, is passed over: the entries themselves are safe in
    the book.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     typed = UnsavedEntries(folder, "trials.db")
    ...     typed.keep(Unsaved("f" * 32, "notes", "ribs sh", "M1", ""))
    ...     print(UnsavedEntries(folder, "trials.db").of("f" * 32, "M1")[0].text)
    ribs sh
    """

    def __init__(self, folder, book):
        self.folder, self._book = Path(folder), hashlib.sha256(str(book).encode()).hexdigest()[:8]

    def keep(self, unsaved):
        """Keep what was typed last into an entry."""
        with contextlib.suppress(KitError):
            path = self._path(unsaved.key, unsaved.entry, unsaved.by)
            write_whole(path, json.dumps(asdict(unsaved)), lambda _: True)

    def drop(self, key, entry, by):
        """Forget what somebody typed into an entry of a trial, by the trial's key."""
        with contextlib.suppress(OSError):
            self._path(key, entry, by).unlink()

    def of(self, key, by):
        """Return [Unsaved] that somebody typed into a trial, by its key, or nobody signed: nobody else's letters."""
        found = []
        with contextlib.suppress(OSError):
            for path in sorted(self.folder.glob(f".typed-{self._book}-{key}-*.json")):
                with contextlib.suppress(OSError, ValueError, TypeError):
                    found.append(Unsaved(**json.loads(path.read_text(encoding="utf-8"))))
        return [each for each in found if each.by in ("", by)]

    def _path(self, key, entry, by):
        which = hashlib.sha256(json.dumps([entry, by]).encode()).hexdigest()[:16]
        return self.folder / f".typed-{self._book}-{key}-{which}.json"


class _Keys(anywidget.AnyWidget):
    """Hears each key and tap in the panel, and says what came of it."""

    _esm = _FILES / "entry.js"
    _css = _FILES / "entry.css"
    book = traitlets.Unicode().tag(sync=True)  # under which a browser keeps what no kernel heard
    most = traitlets.Int(INCOMING).tag(sync=True)  # bytes of a photo
    said = traitlets.Unicode().tag(sync=True)
    wrong = traitlets.Unicode().tag(sync=True)


class EntryPanel(widgets.VBox):
    """Bakes entered: the book, what is due, today's bakes, and the one in hand.

    book: a TrialBook, or the path of its file, made when there is none; trial: the bake to go on with, by its code,
    else today's last; by: who enters, else who did last; formulas: those that may be baked, else those of the shelf.
    What can't be is said under its box and not saved; what two people entered differently is shown, and one of them is
    chosen. Letters that are not saved yet are kept from key to key in files beside the book.
    Raises FileError, UnknownName.
    """

    def __init__(self, book="our_trials.db", trial=None, by="", formulas=()):
        self.own = book if isinstance(book, TrialBook) else TrialBook.open(book)
        self.book, self.entry, self.boxes, self._given = self.own, None, {}, list(formulas)
        self._shelved = bool(formulas)  # whether all that may be baked are read
        self.told = dict.fromkeys((*FORGOTTEN, "find"), "") | {"view": VIEWS[0], "paper": PAPERS[0]}
        self.by, self.fold, self._pieces, self._kept = by or self.own.kitchen.entered_by, "", [], []
        folder = self.own.folder or Path()
        self._typed_before = UnsavedEntries(folder, self.own.name)
        self._keys = _Keys(book=f"kit {folder.absolute()} {self.own.name}")
        self._keys.on_msg(lambda _, content, buffers: self.hear(content, buffers))
        self._live = Live()
        super().__init__(
            [self._keys, self._live],
            layout={"width": "100%", "max_width": "940px", "overflow": "hidden", "padding": "2px 4px"},
        )
        self.add_class("kit-entry")
        left = [one.key for one in self._typed_before.of("*", self.by.strip())]
        today = [found.code for found in self.own.find(since=datetime.date.today(), most=1)]
        self.go_on(trial or next(iter([*self._known(left), *today]), None), fold=DUE)

    def _repr_mimebundle_(self, **kwargs):
        shown = super()._repr_mimebundle_(**kwargs)
        return shown | {"text/plain": OPENS, "text/html": still(self)}

    # what is heard

    def hear(self, content, buffers=()):
        """Take up what the page tells: a key in a box, a tap, a photo, what a browser kept while no kernel heard it."""
        if "photo" not in content:  # of several photos, all are told
            self._keys.wrong, self._kept = "", []
        try:
            if "entry" in content:
                self._key(content["entry"], content["text"], content.get("rests", True))
            elif "press" in content:
                what, _, of = content["press"].partition(" ")
                self._press(what, of)
            elif "photo" in content:
                self._piece(content, bytes(buffers[0]))
            elif "left" in content:
                self._left_in_browser(content["left"])
        except KitError as error:
            self._keys.wrong = str(error)
        if "entry" in content:
            self._keys.send({"had": {content["entry"]: content.get("number", 0)}})

    def _key(self, entry, text, rests):
        """Take up what stands in a box now; rests: whether it has been left."""
        before = self.told.get(entry)
        if entry in self.boxes:
            self._typed(self.boxes[entry], text, rests)
        elif entry == "by":
            self.by = text
            if rests:
                self._signed()
        elif before is not None:
            if entry == "taster" and not rests:
                return
            self._flush()
            self.told[entry] = text.strip()
            if text == MORE:
                self.told[entry] = next(iter(self._formulas()))
                self._lay(entry)
            elif entry == "find":
                self._live.show({"list": self._list()})
            elif entry == "taster" and text.strip() != before:
                self._lay(entry)
        elif entry == "the year":
            self._flush()
            self.book = TrialBook.read(YEAR, "formulas") if text == "true" else self.own
            self.go_on(None, entry)
        elif entry == "formula as planned":
            self._note("planned formula", self._formulas()[text])
        elif entry == "field of our own" and rests and text.strip():
            self._choose(OWN + text.strip(), True, entry)
        elif entry.startswith("note "):
            self._choose(entry.removeprefix("note "), text == "true", entry)

    def _press(self, what, of):
        """Do what a button says."""
        self._flush()
        does = {
            "begin": lambda: self.begin(self.told["of"] or self._sources()[0][0]),
            "again": lambda: self.begin(self.entry.trial.code),
            "open": lambda: self.go_on(of.partition(" ")[0], of.partition(" ")[2]),
            "planned": self._as_planned,
            "weighed": lambda: self._note("weighed formula", self.entry.trial.batch),
            "fold": lambda: self._unfold(of),
            "mine": lambda: self._settle_on(self.boxes[of], True),
            "theirs": lambda: self._settle_on(self.boxes[of], False),
            "means": lambda: self._means(*of.split(" ", 1)),
            "folder": self._take_folder,
            "bench": self._write_bench_page,
            "withdraw": lambda: self._remove(self.own.withdraw, of, why=self.told["why"]),
            "erase": lambda: self._remove(self.own.erase, of, why=self.told["why"]),
            "back": lambda: self._remove(self.own.put_back, of),
        }
        does[what]()

    def _unfold(self, title):
        self.fold = "" if self.fold == title else title
        self.told["why"] = self.told["removed"] = ""
        self._lay("of" if self.fold == ANOTHER else f"fold {title}")

    def _must_sign(self):
        if not self.by.strip():
            raise TrialError(must("entered by", "given", "nothing", "write your code at the top"))
        return self.by.strip()

    def _signed(self):
        """Remember who enters, and save what waited for that."""
        if not self.by.strip():
            return
        self.own.remember(entered_by=self.by)
        if self.entry and not self.only_looked_at:
            self.entry = self.book.entry(self.entry.trial, self.by)
            for box in self.boxes.values():
                if box.unsaved and not box.choices:
                    self._save(box)
            self.go_on(self.entry.trial.code, "by", self.fold)

    # which bake

    @property
    def only_looked_at(self):
        """Whether the book in hand is the invented year."""
        return self.book is not self.own

    def _known(self, keys):
        """Return those of some keys that are bakes of the kitchen's book."""
        with contextlib.suppress(UnknownName):
            return [trial.code for trial in self.own.trials(keys)] if keys else []
        return []

    def go_on(self, trial, focus="", fold=""):
        """Go on with a bake of the book, by its code; with none, none is in hand. Raises UnknownName.

        focus: the box or button that the keyboard goes to; fold: what is open.
        """
        self._flush()
        self.entry = self.book.entry(self.book.trial(trial), self.by) if trial else None
        self.boxes, self.fold, self._keys.said = {}, fold, ""
        self.told |= dict.fromkeys(FORGOTTEN, "")
        self._know()
        left = [] if self.only_looked_at or not trial else self._typed_before.of(self.entry.trial.key, self.by.strip())
        for one in left:
            box = self.boxes[one.entry] = self._box_of(one.entry)
            box.known, box.text, box.by, box.unsaved = one.known, one.text, one.by, True
        self._lay(focus or ("first" if trial else ""))
        told = [self._put_back(self.boxes[one.entry]) for one in left]
        self._keys.said = "; ".join(
            f"{one.entry}: typed before the stop, {how}" for one, how in zip(left, told, strict=True)
        )

    def begin(self, source):
        """Begin a bake of today: a bake of the book again, by its code, or the first of a formula, by its name."""
        today = datetime.date.today()
        if formula := self._named().get(source):
            trial = Trial.of(formula.name, today, formula=formula)
        else:
            trial = bake_again(self.own.trial(source), today)
        self._flush()
        saved, self.book = self.own.save(trial, self._must_sign()), self.own
        self.own.remember(entered_by=self.by)
        self.go_on(saved.code)
        self._keys.said = f"{saved.code} is begun and saved. “As planned” notes times and oven; type what differs."

    def _sources(self):
        """Return [(what is told, its words)] of what a bake may be begun from, the newest bake first."""
        bakes = [(found.code, f"{found.code}  {found.date}, {found.name}") for found in self.own.find(most=OFFERED)]
        if not bakes and not self._given:
            self._given = [at_hand()]
        more = [(MORE, "new: a formula …" if bakes else "another formula …")] * (not self._shelved)
        return [*bakes, *((name, f"new: {name}") for name in self._named()), *more]

    def _named(self):
        """Return {name: formula} of those read so far, the one at hand first."""
        named = {}
        for formula in {each.fingerprint: each for each in self._given}.values():
            named[f"{formula.name}, {formula.fingerprint}" if formula.name in named else formula.name] = formula
        return named

    def _formulas(self):
        """Return {name: formula} of all that may be baked: the shelf is read when it is asked for."""
        if not self._shelved:
            self._given = [at_hand(), *(each.formula for each in shelf().rows if each.formula)]
            self._shelved = True
        return self._named()

    def _as_planned(self):
        self._flush()
        before = self.book.trial(self.entry.trial.key)
        self.entry.trial = self.book.save(as_planned(before), self._must_sign())
        many = len(self.entry.trial.controlled) - len(before.controlled)
        self._lay("first")
        self._keys.said = f"{plural(many, 'figure')} noted as planned; type over what differs."

    def _note(self, entry, value):
        """Save something of the whole batch, and show its lines anew."""
        self._must_sign()
        self._flush()
        self.entry.set(entry, value)
        self._lay(f"fold {self.fold}")
        self._keys.said = f"{entry} saved"

    # what was typed before a stop

    def _left_in_browser(self, left):
        """Keep what a browser kept while no kernel heard it, and go on with its bake."""
        codes = []
        for _, text in left:
            with contextlib.suppress(ValueError, TypeError, AttributeError, KeyError, KitError):
                told = json.loads(text)
                trial = self.own.trial(told["key"])
                stands = Box(told["entry"], "").read(trial)
                goes_on = stands == told.get("stood") or told["text"].startswith(stands)  # from what was heard last
                known = stands if goes_on else ""
                self._typed_before.keep(Unsaved(trial.key, told["entry"], told["text"], told["by"], known))
                codes.append(trial.code)
        self._keys.send({"drop": [name for name, _ in left]})
        if codes:
            self.go_on(codes[0])

    def _put_back(self, box):
        """Save what was typed into a box before a stop where the same still stands, and return what came of it."""
        if not box.by:
            self._say(box, "typed before the stop and never signed: type on to save it, or take it out", wrong=True)
        elif box.read(self.entry.trial) != box.known:
            self._ask(box, self.entry.trial)
        else:
            self._save(box)
        return "not saved, look there" if box.unsaved else "saved now"

    # the page

    def _lay(self, focus=""):
        """Lay the page out as it stands now, with the keyboard in a box or on a button; first: the first empty box."""
        self._know()
        self._unsaved = {entry: box for entry, box in self.boxes.items() if box.unsaved}
        self.boxes = {}
        inside = self._in_hand() if self.entry else ()
        key = self.entry.trial.key if self.entry else ""
        about = f'data-trial="{key}" data-by="{page.escape(self.by.strip())}"'
        self._live.lay(f'<div {about} data-part="sheet">{self._top()}{"".join(inside)}{self._foot()}</div>')
        notes = {box.place: box.note() for box in self.boxes.values()}
        self._live.show({"list": self._list(), **self._head(), **notes})
        top, empty = focus == "first", (box.entry for box in self.boxes.values() if not box.text)
        if focus := next(empty, "") if top else focus:
            self._keys.send({"focus": focus, "top": top})

    def _know(self):
        """Know what the bake in hand aims at, and what was noted of the one it goes back to."""
        self._aims, self._last = aims(self.entry.trial) if self.entry else {}, {}
        with contextlib.suppress(UnknownName):  # a parent may be in another book
            if self.entry and self.entry.trial.parent:
                self._last = self.book.trial(self.entry.trial.parent).noted

    def _top(self):
        """Return what is due, what a bake may be begun from where none is in hand, and the bakes to go on with."""
        find = aside("find", "find a bake", self.told["find"], "words, a day", flex="1 1 130px")
        rows = [find] if self.only_looked_at else []
        if not self.only_looked_at and not (self.entry and self.fold != ANOTHER):
            words = "bake again" if len(self.own) else "first bake"
            begin = press("begin", words, data_first="", **{"class": "lead"})
            source = aside("of", "of", self.told["of"], options=self._sources(), flex="2 1 260px")
            rows = [begin, source, self._who(), find]
        return f'{self._due()}{row(*rows, name="taps")}<div data-part="list"></div>'

    def _who(self):
        return aside("by", "entered by", self.by, "your code", flex="0 1 110px")

    def _foot(self):
        """Return which book is open, and the other."""
        where = f"{INVENTED}, to look at" if self.only_looked_at else f"{self.own.name}, a file beside this page"
        book = f"<span>The book: {page.escape(where)}; {plural(len(self.book), 'bake')}.</span>"
        year = tick("the year", f"look into the {INVENTED}", self.only_looked_at)
        return row(*[self._who()] * bool(self.entry and self.fold != ANOTHER), book, year, name="taps quiet")

    def _due(self):
        """Return what earlier bakes still ask for, told in full when the book is opened."""
        today = datetime.date.today()
        some = [found.code for found in self.own.find(since=today - datetime.timedelta(days=LATEST), most=OFFERED)]
        asked = due(self.own.trials(some), self.noted, today) if some else []
        taps = [press(f"open {each.trial.code} {each.entries[0]}", each.words) for each in asked]
        if many := len(self._waiting()):
            taps.append(press("folder", f"take over {plural(many, 'new photo')} of the folder photos"))
        if self.entry and self.fold != DUE:
            taps = [press(f"fold {DUE}", plural(len(taps), "bake"), aria_expanded="false")] * bool(taps)
        inside = row("<b>Due</b>", *taps, name="taps")
        return f'<div class="due" role="group" aria-label="due">{inside}</div>' if taps else ""

    def _list(self):
        """Return today's bakes to go on with, or what is found."""
        today, asked = datetime.date.today(), self.told["find"]
        found = self.book.find(asked, most=LISTED) if asked else self.book.find(since=today, most=LISTED)
        found = found or ([] if asked else self.book.find(most=LISTED if self.only_looked_at else 1))
        title = "Found" if asked else "Today" if found and found[0].date == today else "Last"
        if asked and not found:
            with contextlib.suppress(UnknownName):  # a withdrawn one comes by its code alone, to be put back
                found, title = [self.book.trial(asked.upper())], "Withdrawn"
        code = self.entry.trial.code if self.entry else ""
        words = [(f.code, f"{f.code} {f.name[:40]}" + f", {f.date}" * (f.date != today)) for f in found]
        taps = [press(f"open {each}", said, aria_pressed=str(each == code).lower()) for each, said in words]
        more = [
            press("fold another bake", "another bake", aria_expanded=str(self.fold == ANOTHER).lower(), data_first="")
        ]
        more *= bool(self.entry and not self.only_looked_at)
        return row(f"<b>{title}</b>", *taps, *more, name="taps") if taps else quiet("Nothing found." if asked else "")

    def _head(self):
        """Return the parts of the page that say how the bake in hand stands."""
        if not self.entry:
            return {}
        trial = self.entry.trial
        recipe = trial.recipe
        marked = " (invented)" if trial.invented else ""
        formula = recipe.name if recipe else "no formula noted"
        about = f"{trial.date}{marked}" + f", {formula}" * (formula != trial.name)
        doubts = "".join(map(quiet, trial.doubts))
        head = f'<h3 style="margin:0">{page.escape(f"{trial.code} {trial.name}")}</h3>{quiet(about)}{doubts}'
        return {"head": head}

    def _in_hand(self):
        """Give the pieces of the bake in hand: its boxes, those that wait to be saved, and what opens below them."""
        taps = [press("planned", "as planned"), press("again", "bake this again"), _CHOOSER]
        head = '<div data-part="head" style="flex:1 1 180px"></div>'
        yield row(head, *taps * (not self.only_looked_at), name="taps")
        yield self._drawn([self._of(note) for note in self._asked()])
        yield self._drawn(self._texts("always", 2))
        inside = getattr(self, FOLDS[self.fold])() if self.fold in FOLDS else []
        here = {*self.boxes, *(each.entry for each in inside if isinstance(each, Box))}
        yield self._drawn([box for entry, box in self._unsaved.items() if entry not in here])
        folds = [press(f"fold {name}", name, aria_expanded=str(name == self.fold).lower()) for name in FOLDS]
        yield row(*folds, name="taps after")
        yield self._drawn(inside)

    def _drawn(self, made):
        """Return boxes and pieces of HTML as a row; a box that waits to be saved stays as it is."""
        pieces = []
        for each in made:
            if isinstance(each, Box):
                each = self._unsaved.get(each.entry, each)
                if not each.unsaved:
                    each.known = each.text = each.read(self.entry.trial)
                each.place = f"note{len(self.boxes)}"
                self.boxes[each.entry] = each
                each = each.html(self.only_looked_at)
            pieces.append(each)
        return row(*pieces)

    # what it asks for

    @property
    def noted(self):
        """The entries that this kitchen notes of each bake."""
        return self.own.kitchen.fields or BENCH

    def _asked(self):
        """Return the notes that stand above: of later days those whose day has come, or that are noted."""
        trial, today = self.entry.trial, datetime.date.today()
        notes = [Note.of(entry) for entry in self.noted]
        shown = [n for n in notes if n.day is None or n in trial.noted or n.day <= (today - trial.date).days]
        asked = [Note.of(entry) for each in due([trial], self.noted, today) for entry in each.entries]
        return list(dict.fromkeys((*shown, *asked)))

    def _box_of(self, entry):
        """Return the box of any entry."""
        if entry.startswith("weighed "):
            return next(each for each in self._weighed() if isinstance(each, Box) and each.entry == entry)
        with contextlib.suppress(UnknownName):
            return self._of(Note.of(entry))
        return Box(entry, entry, rows=1 if entry in dict(TEXTS["name, date"]) else 2)

    def _of(self, note):
        """Return the box of a note; while it is empty it says what is planned, or what it was the last time."""
        target = note.field
        unit = "" if target.unit == "text" else target.unit
        label = str(note).removeprefix(OWN).removesuffix(f" by {note.taster}").removesuffix(f", {unit}")
        aim = None if note.day is not None or note.taster else self._aims.get(note.name)
        hint = f"{target.readings} readings" if target.readings > 1 else target.instrument
        if aim is not None:
            hint = f"{written(aim)} planned"
        elif note.taster:
            hint = f"{target.low:g} {target.ends[0]} – {target.high:g} {target.ends[1]}"
        elif note.day is None and (last := self._last.get(note)) is not None:
            hint = f"last {last if isinstance(last, str) else figure(mean_of(last), target.digits)}"
        return Box(str(note), label + f", {unit}" * bool(unit), "" if " to " in unit else unit, hint, note, planned=aim)

    def _texts(self, which, rows=1):
        return [Box(name, name, hint=hint, rows=rows) for name, hint in TEXTS[which]]

    def _remove(self, act, digest, **why):
        """Withdraw, put back or erase the bake or a photo of it."""
        trial = self.entry.trial
        photo = next((each for each in self.own.photos(trial, withdrawn=True) if each.digest == digest), None)
        said = act(trial, **why, by=self._must_sign(), photo=photo) or "done; it stands in the history"
        self.told["removed"] = said  # beside what was tapped: the page may be scrolled away from its top
        self._lay(f"fold {self.fold}")
        self._keys.said = said

    def _print(self):
        paper = aside("paper", "paper", self.told["paper"], options=[(each, each) for each in PAPERS])
        return [paper, press("bench", "write the page for the bench")]

    def _write_bench_page(self):
        path = (self.own.folder or Path()) / f"{self.entry.trial.code}_bench.html"
        write_whole(path, bench_page(self.entry.trial, self.noted, self.told["paper"]), page.is_sheet)
        self._keys.said = f"Written: {path.name}, beside the book."

    def _name_date(self):
        return [*self._texts("name, date"), *self._texts("question", 2)]

    def _more(self):
        return [self._of(note) for note in _every() if note not in self._asked()]

    def _scores(self):
        who = dict.fromkeys(note.taster for note in sorted(self.entry.trial.noted) if note.taster)
        said = f"Scored so far: {listing(who)}." if who else "Write the taster's code, then the scores."
        taster = self.told["taster"]
        boxes = [self._of(Note(each.name, taster=taster)) for each in _fields("sensory")] if taster else []
        return [aside("taster", "taster's code", taster, "P1"), quiet(said), *boxes]

    def _weighed(self):
        """Return the boxes of what was weighed, line by line, with what was to be weighed."""
        trial, names = self.entry.trial, self._formulas()
        recipe = trial.planned_formula
        own = next((n for n, formula in names.items() if recipe and formula.fingerprint == recipe.fingerprint), "")
        own = own or (f"{recipe.name}, as this bake has it" if recipe else "none yet")
        options = [(own, own), *((name, name) for name in names if name != own)]
        head = [aside("formula as planned", "formula as planned", own, options=options, flex="1 1 100%")]
        try:
            batch = trial.batch
            planned = recipe.formula.scale(flour=batch.flour).grams if recipe else {}
        except KitError as error:
            return [*head, quiet(str(error))]
        made = [*head, press("weighed", "all weighed as planned")]
        for part, key in dict.fromkeys((*planned, *batch.grams)):
            kept = recipe if recipe and key in recipe.lines.get(part, {}) else trial.weighed_formula
            item, grams = kept.named(key), planned.get((part, key))
            shown = None if grams is None else to_weigh(float(grams), item["kind"])
            given = {"hint": f"{shown} planned", "planned": shown.grams} if shown else {}
            name, line = f"{part} {item['name']}", (part, key, grams)
            made.append(Box(f"weighed {name}", f"{part}: {item['name']}, g", "g", line=line, **given))
        return made

    def _our_fields(self):
        """Return what this kitchen notes of each bake, to be ticked."""
        every = dict.fromkeys([*map(str, _every()), *self.noted])
        ticks = [tick(f"note {entry}", entry.removeprefix(OWN), entry in self.noted) for entry in every]
        own = aside("field of our own", "a field of our own", "", "its name, its unit")
        return [own, quiet("What is ticked stands above, and on the page for the bench."), *ticks]

    def _choose(self, entry, wanted, focus):
        """Note an entry of each bake from now on, or no more."""
        order = [*map(str, _every()), *self.noted, entry]
        fields = {*self.noted, entry} if wanted else {*self.noted} - {entry}
        kept = self.own.remember(fields=sorted(fields, key=order.index))
        self._flush()
        self._lay(focus)
        self._keys.said = f"{len(kept.fields)} fields are noted of each bake."

    # photos

    def _photos(self):
        """Return the photos, and what was corrected, withdrawn and erased of the bake, with what does so."""
        trial = self.entry.trial
        shown, every, told = self.own.photos(trial), self.own.photos(trial, withdrawn=True), self.own.corrections(trial)
        view = aside("view", "the next ones show", self.told["view"], options=[(each, each) for each in VIEWS])
        why = aside("why", "why it is withdrawn or erased", self.told["why"], flex="2 1 300px")
        gone = [each.what for each in self.own.removals(trial) if not each.digest][-1:] == [WITHDRAWN]
        tap = press("back", "put this bake back") if gone else press("withdraw", "withdraw this bake")
        rows = [f'<div style="flex:1 1 100%">{page.table(*each)}</div>' for each in told.tables()]
        figures = [_figure(each, each in shown) for each in every]
        return [view, why, quiet(f"{told.words} {self.told['removed']}"), *rows, *figures, tap]

    def _piece(self, about, data):
        """Take up a piece of a photo; the last one makes it whole."""
        name = str(about["photo"])
        self._pieces.append(data)
        if not about["ends"]:
            return
        picture, self._pieces = b"".join(self._pieces), []
        try:
            must_be_taken(name, about["size"])  # of what is larger the page sends nothing
            self._keep_photo(name, picture, about["taken"] / 1000)
        except KitError as error:
            self._keys.wrong += f" {name} is not saved: {error}."
        self._keys.send({"photo": name})
        if not about["left"] and self.entry:
            self.fold = PHOTOS
            self._lay(f"fold {PHOTOS}")

    def _keep_photo(self, name, picture, written_at):
        """Keep a photo with the bake of its time and say with which; written_at: its file [s since 1970]."""
        taken = taken_at(picture, name, datetime.datetime.fromtimestamp(written_at))
        mine = [self.entry.trial.code] if self.entry and not self.only_looked_at else []
        near = self.own.baked_before(taken)
        codes = [code for code in mine if code in near] + [*near, *mine]
        if not codes:
            do = "begin its bake first"
            raise TrialError(must(name, "of a day on which something was baked", f"{taken:%Y-%m-%d}", do))
        trial = self.own.trial(codes[0])
        view = next((each for each in VIEWS[1:] if each.split()[0] in name.casefold()), self.told["view"])
        self.own.add_photo(trial, picture, f"{taken:%d %b %H:%M}" if view == VIEWS[0] else view, self._must_sign())
        self._kept.append(f"{name}, taken {taken:%d %b %H:%M}, is kept with {trial.code} {trial.name}.")
        self._keys.said = " ".join(self._kept)

    def _waiting(self):
        return [] if self.only_looked_at or not self.own.folder else waiting_in(self.own.folder / "photos")

    def _take_folder(self):
        """Keep the photos of the folder; one that is no picture is told, and not offered again."""
        self._must_sign()
        for path in self._waiting():
            try:
                self._keep_photo(path.name, read_bytes(path, INCOMING), path.stat().st_mtime)
            except KitError as error:
                self._keys.wrong += f" {path.name} is not saved: {error}."
                if not isinstance(error, FileError):  # its bake may still be begun
                    continue
            taken_over(path)
        self._lay("first")

    # saving

    def _typed(self, box, text, rests):
        """Keep every letter at once; save when the typing rests, or the box is left."""
        box.stop()
        same, box.text = text == box.text, text
        if text.strip() == box.known:  # put back to what stands; the box itself is left to who types
            if box.unsaved:
                self._settle(box)
                self._say(box)
            return
        if same and box.choices:  # it was left with its question open
            return
        key, before, box.by, box.unsaved = self.entry.trial.key, box.by, self.by.strip(), True
        if before != box.by:  # somebody else types on
            self._typed_before.drop(key, box.entry, before)
        self._typed_before.keep(Unsaved(key, box.entry, text, box.by, box.known))
        if rests:
            self._save(box)
            return
        try:
            box.waits = asyncio.get_running_loop().call_later(PAUSE, self._save, box)
        except RuntimeError:  # nothing that could wait
            self._save(box)

    def _flush(self):
        """Save at once what waits for the typing to rest."""
        for box in self.boxes.values():
            if box.waits is not None:
                self._save(box)

    def _settle(self, box):
        """Nothing of a box waits any more: to be saved, nor to be chosen."""
        self._typed_before.drop(self.entry.trial.key, box.entry, box.by)
        box.unsaved, box.choices = False, ()

    def _save(self, box):
        box.stop()
        box.unsaved, box.choices = True, ()
        try:
            self._must_sign()
            trial = self.entry.set(box.entry, box.text)
        except ConflictError as conflict:
            self._ask(box, conflict.theirs)
            return
        except AskedError as asked:
            box.asking = asked.asking
            box.choices = tuple((f"means {n}", label) for n, label in enumerate(box.asking.labels))
            self._say(box, box.asking.words, wrong=True)
            self._keys.wrong = f"{box.label} is not saved: {box.asking.words}"
            return
        except KitError as error:
            self._say(box, f"not saved: {error}", wrong=True)
            self._keys.wrong = f"{box.label} is not saved."
            return
        self._settle(box)
        box.known = box.read(trial)  # what is typed stays as it is: another key may follow
        self._say(box, box.said_of(trial))
        self._keys.said = f"{box.label} saved"
        self._refresh()
        self._live.show(self._head())

    def _ask(self, box, theirs):
        """Show both values of an entry that two people changed; theirs: the trial that stands."""
        who = next(v.by for v in self.book.history(theirs) if v.number == theirs.version)
        other, own = box.read(theirs) or "nothing", box.text.strip() or "nothing"
        box.choices = (("theirs", f"{who}: {other[:40]}"), ("mine", f"mine: {own[:40]}"))
        self._say(box, f"{who} entered {other} meanwhile, you {own}. Which holds?", wrong=True)

    def _settle_on(self, box, mine):
        """Take one of two values of an entry."""
        self.entry.trial = self.book.trial(self.entry.trial.key)
        if mine:
            self._save(box)
        else:
            self._settle(box)
            self._write(box)
            self._say(box, f"kept {box.known or 'nothing'}; yours stays in the history, set aside")
            self._refresh()
        self._keys.send({"focus": box.entry})

    def _means(self, number, entry):
        """Take one meaning of what was typed; the book asks no more about the like."""
        box = self.boxes[entry]
        box.text = self.entry.answered(entry, box.asking, box.asking.choices[int(number)][0]) or box.known
        self._keys.send({"write": {entry: box.text}, "focus": entry})
        self._save(box)

    def _write(self, box):
        """Write into a box what stands in the book."""
        box.known = box.text = box.read(self.entry.trial)
        self._keys.send({"write": {box.entry: box.text}})
        self._say(box)

    def _refresh(self):
        """Show what others entered meanwhile, and leave alone what waits for an answer."""
        for box in self.boxes.values():
            if not box.unsaved and box.read(self.entry.trial) != box.known:
                self._write(box)

    def _say(self, box, words="", wrong=False):
        """Say a line beneath a box."""
        box.said, box.wrong = words, wrong
        self._live.show({box.place: box.note()})


def _fields(*groups):
    return [each for each in trial_fields().values() if each.group in groups]


def _every():
    """Return the notes of all fields that one bake may have, in the order they are read off."""
    series = [Note(each.name, day=day) for day in (0, 1, 2) for each in _fields("series")]
    return [*(Note(each.name) for each in _fields("lot", "controlled", "measured")), *series]


def _figure(photo, shown):
    """Return a photo with what withdraws or erases it; of one that is withdrawn, what puts it back."""
    words, source = page.escape(photo.view), page.address(small(photo.picture, 400), "image/jpeg")
    picture = f'<img alt="{words}" src="{source}" style="width:100%">' if shown else "withdrawn: "
    does = [("withdraw", "withdraw") if shown else ("back", "put back"), ("erase", "erase for good")]
    taps = "".join(press(f"{what} {photo.digest}", said, aria_label=f"{said}, {photo.view}") for what, said in does)
    return f'<figure style="flex:0 0 200px;margin:0">{picture}<figcaption>{words}</figcaption>{taps}</figure>'
