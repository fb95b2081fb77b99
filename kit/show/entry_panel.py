"""A bake entered with floury fingers: begun as the last one, only what differs typed, saved as the typing rests."""

import asyncio
import contextlib
import datetime
import json
from collections import defaultdict
from functools import partial
from pathlib import Path

import anywidget
import ipywidgets as widgets
import traitlets

from .. import page, places
from ..errors import FileError, KitError, UnknownName, must
from ..files import read_bytes, write_whole
from ..formula import at_hand, to_weigh
from ..formula.shelf import shelf
from ..trials import AskedError, ConflictError, Trial, TrialBook, TrialError, store, trial_fields
from ..trials.again import LATEST, aims, as_planned, bake_again, due
from ..trials.corrections import WITHDRAWN
from ..trials.fields import OWN, Note, written
from ..trials.photos import INCOMING, must_be_taken, small, taken_at, taken_over, waiting_in
from ..trials.printed import BENCH, bench_page
from ..trials.records import mean_of
from ..words import figure, listing, plural
from .entry_boxes import KEYS, Box, Typed, UnsavedEntries, boxed, press, quiet, row, tick
from .live import Live, part
from .still import OPENS, still

PAUSE = 1.2  # s without a key after which what was typed is saved
OFFERED = 30  # bakes to bake again
LISTED = 6  # bakes to go on with
INVENTED = "the invented year of Tarnholt Bakehouse"
VIEWS, PAPERS = ("as taken", "top", "side", "cut face"), ("A4", "Letter")
# what is written about a bake in words: what an empty box says, how many rows it has
ALWAYS = {"deviations": ("anything dropped, added, gone wrong", 2), "notes": ("", 2)}
NAMED = {
    **{"name": ("", 1), "date": ("", 1), "baker": ("", 1), "mix": ("of that day", 1), "tags": ("parted by commas", 1)},
    **{"question": ("what is it to answer?", 2), "next change": ("one thing, by how much", 2)},
}
PHOTOS, ANOTHER, DUE, MORE = "photos, history", "another bake", "due", "more formulas"
FOLDS = {  # what opens below the boxes, and what gives its inside: boxes, and HTML
    PHOTOS: lambda panel: panel._photos(),
    "more": lambda panel: [panel._of(note) for note in _every() if str(note) not in panel.boxes],
    "weighed": lambda panel: panel._weighed(),
    "scores": lambda panel: panel._scores(),
    "name, date": lambda panel: map(_text, NAMED),
    "our fields": lambda panel: panel._our_fields(),
    "print": lambda panel: [panel._aside("paper", options=PAPERS), press("bench", "write the page for the bench")],
}
TOLD = {  # what follows when something is told beside the bake's boxes
    "by": lambda panel, text: panel._sign(),
    "find": lambda panel, text: panel._live.show({"list": panel._list()}),
    "of": lambda panel, text: text == MORE and panel._show_shelf(),
    "taster": lambda panel, text: panel._lay("taster"),
    "the year": lambda panel, text: panel.go_on(
        None, "the year", book=invented_year() if text == "true" else panel.own
    ),
    "formula as planned": lambda panel, text: panel._set("planned formula", panel._formulas()[text]),
    "field of our own": lambda panel, text: text and panel._ask_for(OWN + text, True, "field of our own"),
}
PRESSED = {  # what follows when a button is pressed, by its first word; the others say of what
    "begin": lambda panel, of: panel.begin(panel.told["of"] or next(iter(panel._sources()))),
    "again": lambda panel, of: panel.begin(panel.entry.trial.code),
    "open": lambda panel, of: panel.go_on(*of.split(" ", 1)),
    "planned": lambda panel, of: panel._as_planned(),
    "weighed": lambda panel, of: panel._set("weighed formula", panel.entry.trial.batch),
    "fold": lambda panel, of: panel._unfold(of),
    "mine": lambda panel, of: panel._take(of, "mine"),
    "theirs": lambda panel, of: panel._take(of, "theirs"),
    "means": lambda panel, of: panel._take(of.partition(" ")[2], int(of.partition(" ")[0])),
    "folder": lambda panel, of: panel._take_folder(),
    "bench": lambda panel, of: panel._write_bench_page(),
    "withdraw": lambda panel, of: panel._remove(panel.own.withdraw, of, why=panel.told["why"]),
    "erase": lambda panel, of: panel._remove(panel.own.erase, of, why=panel.told["why"]),
    "back": lambda panel, of: panel._remove(panel.own.put_back, of),
}
FORGOTTEN = ("of", "taster", "why", "removed")  # of what is told beside the bake's boxes, with the next bake
_CHOOSER = (
    '<label class="file">add photos'
    f'<input type="file" accept="image/*" multiple {KEYS} aria-label="add photos"></label>'
)


class _Keys(anywidget.AnyWidget):
    """Hears each key and tap in the panel, and says what came of it."""

    _esm = Path(__file__).with_name("entry.js")
    _css = Path(__file__).with_name("entry.css")
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
        self.own = self.book = book if isinstance(book, TrialBook) else TrialBook.open(book)
        self.entry, self.boxes, self.fold = None, {}, ""
        self._given, self._shelved = list(formulas), bool(formulas)  # whether all that may be baked are read
        self._pieces, self._kept = [], []  # of a photo on its way, and what is said of those that came
        by = (by or self.own.kitchen.entered_by).strip()
        self.told = defaultdict(str, by=by, view=VIEWS[0], paper=PAPERS[0])  # beside the bake's boxes
        folder = self.own.folder or Path()
        self._unsaved = UnsavedEntries(folder, self.own.name)
        self._keys, self._live = _Keys(book=f"kit {folder.absolute()} {self.own.name}"), Live()
        self._keys.on_msg(lambda _, content, buffers: self.hear(content, buffers))
        layout = {"width": "100%", "max_width": "940px", "overflow": "hidden", "padding": "2px 4px"}
        super().__init__([self._keys, self._live], layout=layout)
        self.add_class("kit-entry")
        bakes = self.own.find(since=datetime.date.today(), most=1)
        with contextlib.suppress(UnknownName):  # letters may be left of a bake in another book of that name
            bakes = self.own.trials(left.key for left in self._unsaved.of("*", self.by)) + bakes
        self.go_on(trial or next((bake.code for bake in bakes), None), fold=DUE)

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
                self._flush()
                what, _, of = content["press"].partition(" ")
                PRESSED[what](self, of)
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
        if entry in self.boxes:
            self._type(self.boxes[entry], text, rests)
            return
        self._flush()
        self.told[entry] = text.strip()
        if entry.startswith("note "):
            self._ask_for(entry.removeprefix("note "), text == "true", entry)
        elif entry in TOLD and (rests or entry == "find"):
            TOLD[entry](self, text.strip())

    @property
    def by(self):
        """Who enters."""
        return self.told["by"]

    def _must_sign(self):
        if not self.by:
            raise TrialError(must("entered by", "given", "nothing", "write your code at the top"))
        return self.by

    def _sign(self):
        """Remember who enters, and save what waited for that."""
        if not self.by:
            return
        self.own.remember(entered_by=self.by)
        if self.entry and self.book is self.own:
            self.entry = self.book.entry(self.entry.trial, self.by)
            for box in self.boxes.values():
                if box.typed and not box.choices:
                    self._save(box)
            self.go_on(self.entry.trial.code, "by", self.fold)

    def _unfold(self, title):
        self.fold = "" if self.fold == title else title
        self.told["why"] = self.told["removed"] = ""
        self._lay("of" if self.fold == ANOTHER else f"fold {title}")

    # which bake

    def go_on(self, trial, focus="", fold="", book=None):
        """Go on with a bake of the book, by its code; with none, none is in hand. Raises UnknownName.

        focus: the box or button that the keyboard goes to; fold: what is open; book: else the one in hand.
        """
        self._flush()
        self.book = self.book if book is None else book
        self.entry = self.book.entry(self.book.trial(trial), self.by) if trial else None
        self.boxes, self.fold = {}, fold
        self.told |= dict.fromkeys(FORGOTTEN, "")
        left = list(self._unsaved.of(self.entry.trial.key, self.by)) if trial and self.book is self.own else []
        self._lay(focus or ("first" if trial else ""), left=left)
        self._keys.said = "; ".join([self._put_back(self._open[typed.entry]) for typed in left])

    def begin(self, source):
        """Begin a bake of today: a bake of the book again, by its code, or the first of a formula, by its name."""
        today, formula = datetime.date.today(), self._named().get(source)
        trial = Trial.of(formula.name, today, formula=formula) if formula else bake_again(self.own.trial(source), today)
        saved = self.own.save(trial, self._must_sign())
        self.own.remember(entered_by=self.by)
        self.go_on(saved.code, book=self.own)
        self._keys.said = f"{saved.code} is begun and saved. “As planned” notes times and oven; type what differs."

    def _sources(self):
        """Return {what is told: its words} of what a bake may be begun from, the newest bake first."""
        bakes = {found.code: f"{found.code}  {found.date}, {found.name}" for found in self.own.find(most=OFFERED)}
        if not bakes and not self._given:
            self._given = [at_hand()]
        more = {} if self._shelved else {MORE: "new: a formula …" if bakes else "another formula …"}
        return bakes | {name: f"new: {name}" for name in self._named()} | more

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

    def _show_shelf(self):
        self.told["of"] = next(iter(self._formulas()))
        self._lay("of")

    # what is noted of the whole bake

    def _as_planned(self):
        before = self.book.trial(self.entry.trial.key)
        self.entry.trial = self.book.save(as_planned(before), self._must_sign())
        many = len(self.entry.trial.controlled) - len(before.controlled)
        self._lay("first", f"{plural(many, 'figure')} noted as planned; type over what differs.")

    def _set(self, entry, value):
        """Save something of the whole batch, and show its lines anew."""
        self._must_sign()
        self.entry.set(entry, value)
        self._lay(f"fold {self.fold}", f"{entry} saved")

    def _remove(self, act, digest, **why):
        """Withdraw, put back or erase the bake or a photo of it."""
        trial = self.entry.trial
        photo = next((each for each in self.own.photos(trial, withdrawn=True) if each.digest == digest), None)
        # told beside what was tapped too: the page may be scrolled away from its top
        self.told["removed"] = act(trial, **why, by=self._must_sign(), photo=photo) or "done; it stands in the history"
        self._lay(f"fold {self.fold}", self.told["removed"])

    def _ask_for(self, entry, wanted, focus):
        """Note an entry of each bake from now on, or no more."""
        order = [*map(str, _every()), *self.noted, entry]
        fields = {*self.noted, entry} if wanted else {*self.noted} - {entry}
        kept = self.own.remember(fields=sorted(fields, key=order.index))
        self._lay(focus, f"{len(kept.fields)} fields are noted of each bake.")

    def _write_bench_page(self):
        path = (self.own.folder or Path()) / f"{self.entry.trial.code}_bench.html"
        write_whole(path, bench_page(self.entry.trial, self.noted, self.told["paper"]), page.is_sheet)
        self._keys.said = f"Written: {path.name}, beside the book."

    # what was typed before a stop

    def _left_in_browser(self, left):
        """Keep what a browser kept while no kernel heard it, and go on with its bake."""
        for _, text in left:
            with contextlib.suppress(ValueError, TypeError, AttributeError, KeyError, KitError):
                told = json.loads(text)
                stood, typed = told.pop("stood", None), Typed(**told, known="")
                self.go_on(typed.key)
                stands = self._box_of(typed.entry).read(self.entry.trial)
                goes_on = stands == stood or typed.text.startswith(stands)  # from what was heard last
                self._unsaved.keep(typed._replace(known=stands if goes_on else ""))
        self._keys.send({"drop": [name for name, _ in left]})
        if self.entry:
            self.go_on(self.entry.trial.code)

    def _put_back(self, box):
        """Save what was typed into a box before a stop where the same still stands, and return what came of it."""
        if not box.typed.by:
            self._say(box, "typed before the stop and never signed: type on to save it, or take it out")
        elif box.read(self.entry.trial) != box.known:
            self._ask(box, self.entry.trial)
        else:
            self._save(box)
        return f"{box.entry}: typed before the stop, {'not saved, look there' if box.typed else 'saved now'}"

    # the page

    def _lay(self, focus="", said=None, left=()):
        """Lay the page out as it stands now, with the keyboard in a box or on a button; first: the first empty box.

        said: what came of it; left: what was Typed before a stop.
        """
        trial = self.entry and self.entry.trial
        self._aims, self._last = aims(trial) if trial else {}, {}
        with contextlib.suppress(UnknownName):  # a parent may be in another book
            self._last = self.book.trial(trial.parent).noted if trial and trial.parent else {}
        self._open, self.boxes = {entry: box for entry, box in self.boxes.items() if box.typed}, {}
        for typed in left:
            box = self._open[typed.entry] = self._box_of(typed.entry)
            box.known, box.text, box.typed = typed.known, typed.text, typed
        about = f'data-trial="{trial.key if trial else ""}" data-by="{page.escape(self.by)}"'
        self._live.lay(f'<div {about} data-part="sheet">{"".join(self._page())}</div>')
        notes = {box.place: box.note() for box in self.boxes.values()}
        self._live.show({"list": self._list(), **self._head(), **notes})
        if top := focus == "first":
            focus = next((box.entry for box in self.boxes.values() if not box.text), "")
        if focus:
            self._keys.send({"focus": focus, "top": top})
        if said is not None:
            self._keys.said = said

    def _page(self):
        """Give the rows of the page: what is due, the bakes, the one in hand, and which book is open."""
        mine, in_hand = self.book is self.own, bool(self.entry) and self.fold != ANOTHER
        who = self._aside("by", "entered by", "your code", flex="0 1 110px")
        yield self._due()
        if not (mine and in_hand):
            words = "bake again" if len(self.own) else "first bake"
            taps = [press("begin", words, data_first="", **{"class": "lead"})] * mine
            taps += [self._aside("of", options=self._sources(), flex="2 1 260px"), who] if mine else []
            yield row(*taps, self._aside("find", "find a bake", "words, a day", flex="1 1 130px"), name="taps")
        yield part("list")
        if self.entry:
            taps = [press("planned", "as planned"), press("again", "bake this again"), _CHOOSER]
            yield row(part("head", style="flex:1 1 180px"), *taps * mine, name="taps")
            yield self._drawn(map(self._of, self._asked()))
            yield self._drawn(map(_text, ALWAYS))
            below = self._drawn(FOLDS[self.fold](self) if self.fold in FOLDS else ())
            yield self._drawn([box for entry, box in self._open.items() if entry not in self.boxes])
            folds = [press(f"fold {name}", name, aria_expanded=name == self.fold) for name in FOLDS]
            yield row(*folds, name="taps after") + below
        where = f"{self.own.name}, a file beside this page" if mine else f"{INVENTED}, to look at"
        book = f"<span>The book: {page.escape(where)}; {plural(len(self.book), 'bake')}.</span>"
        yield row(*[who] * in_hand, book, tick("the year", f"look into {INVENTED}", not mine), name="taps quiet")

    def _aside(self, entry, label="", hint="", **more):
        return boxed(entry, label or entry, self.told[entry], hint, **more)

    def _due(self):
        """Return what earlier bakes still ask for, told in full when the book is opened."""
        today = datetime.date.today()
        bakes = self.own.find(since=today - datetime.timedelta(days=LATEST), most=OFFERED)
        taps = [
            press(f"open {each.trial.code} {each.entries[0]}", each.words) for each in due(bakes, self.noted, today)
        ]
        if many := len(self._waiting()):
            taps.append(press("folder", f"take over {plural(many, 'new photo')} of the folder photos"))
        if taps and self.entry and self.fold != DUE:
            taps = [press(f"fold {DUE}", plural(len(taps), "bake"), aria_expanded=False)]
        inside = row("<b>Due</b>", *taps, name="taps")
        return f'<div class="due" role="group" aria-label="due">{inside}</div>' * bool(taps)

    def _list(self):
        """Return today's bakes to go on with, or what is found."""
        today, asked, mine = datetime.date.today(), self.told["find"], self.book is self.own
        found = self.book.find(asked, since=None if asked else today, most=LISTED)
        title = "Found" if asked else "Today" if found else "Last"
        if not found and not asked:
            found = self.book.find(most=1 if mine else LISTED)
        elif not found:
            with contextlib.suppress(UnknownName):  # a withdrawn one comes by its code alone, to be put back
                found, title = [self.book.trial(asked.upper())], "Withdrawn"
        if not found:
            return quiet("Nothing found." if asked else "")
        words = {each.code: f"{each.code} {each.name[:40]}" + f", {each.date}" * (each.date != today) for each in found}
        code = self.entry and self.entry.trial.code
        taps = [press(f"open {each}", said, aria_pressed=each == code) for each, said in words.items()]
        if self.entry and mine:
            taps.append(press(f"fold {ANOTHER}", ANOTHER, aria_expanded=self.fold == ANOTHER, data_first=""))
        return row(f"<b>{title}</b>", *taps, name="taps")

    def _head(self):
        """Return the parts of the page that say how the bake in hand stands."""
        if not self.entry:
            return {}
        trial = self.entry.trial
        formula = trial.recipe.name if trial.recipe else "no formula noted"
        about = f"{trial.date}{' (invented)' * trial.invented}" + f", {formula}" * (formula != trial.name)
        title = f'<h3 style="margin:0">{page.escape(f"{trial.code} {trial.name}")}</h3>'
        return {"head": title + "".join(map(quiet, (about, *trial.doubts)))}

    def _drawn(self, made):
        """Return boxes and pieces of HTML as a row."""
        return row(*(self._placed(each) if isinstance(each, Box) else each for each in made))

    def _placed(self, box):
        """Return the HTML of a box at its place; one that waits to be saved stays as it is."""
        box = self._open.get(box.entry, box)
        if not box.typed:
            box.known = box.text = box.read(self.entry.trial)
        box.place = f"note{len(self.boxes)}"
        self.boxes[box.entry] = box
        off = self.book is not self.own
        return boxed(box.entry, box.label, box.text, box.hint, rows=box.rows, place=box.place, off=off)

    # what it asks for

    @property
    def noted(self):
        """The entries that this kitchen notes of each bake."""
        return self.own.kitchen.fields or BENCH

    def _asked(self):
        """Return the notes that stand above: of later days those whose day has come, or that are noted."""
        trial, today = self.entry.trial, datetime.date.today()
        notes = map(Note.of, self.noted)
        shown = [n for n in notes if n.day is None or n in trial.noted or n.day <= (today - trial.date).days]
        asked = [Note.of(entry) for each in due([trial], self.noted, today) for entry in each.entries]
        return list(dict.fromkeys((*shown, *asked)))

    def _box_of(self, entry):
        """Return the box of any entry."""
        with contextlib.suppress(UnknownName):
            return self._of(Note.of(entry))
        lines = self._weighed() if entry.startswith("weighed ") else ()
        return next((each for each in lines if isinstance(each, Box) and each.entry == entry), _text(entry))

    def _of(self, note):
        """Return the box of a note; while it is empty it says what is planned, or what it was the last time."""
        target, aim = note.field, self._aims.get(note.name)
        hint = f"{target.readings} readings" if target.readings > 1 else target.instrument
        if aim is not None:
            hint = f"{written(aim)} planned"
        elif note.taster:
            hint = f"{target.low:g} {target.ends[0]} – {target.high:g} {target.ends[1]}"
        elif note.day is None and (last := self._last.get(note)) is not None:
            hint = f"last {last if isinstance(last, str) else figure(mean_of(last), target.digits)}"
        return Box(str(note), note, note.label, "" if target.is_score else target.spoken_unit, hint, planned=aim)

    def _scores(self):
        who = dict.fromkeys(note.taster for note in sorted(self.entry.trial.noted) if note.taster)
        yield self._aside("taster", "taster's code", "P1")
        yield quiet(f"Scored so far: {listing(who)}." if who else "Write the taster's code, then the scores.")
        if taster := self.told["taster"]:
            yield from (self._of(Note(each.name, taster=taster)) for each in _fields("sensory"))

    def _weighed(self):
        """Give the boxes of what was weighed, line by line, with what was to be weighed."""
        trial, names = self.entry.trial, self._formulas()
        recipe, known = trial.planned_formula, {formula.fingerprint: name for name, formula in names.items()}
        own = known.get(recipe.fingerprint, f"{recipe.name}, as this bake has it") if recipe else "none yet"
        yield boxed(
            "formula as planned", "formula as planned", own, options=[*dict.fromkeys((own, *names))], flex="1 1 100%"
        )
        try:
            batch = trial.batch
            planned = recipe.formula.scale(flour=batch.flour).grams if recipe else {}
        except KitError as error:
            yield quiet(str(error))
            return
        yield press("weighed", "all weighed as planned")
        for line in dict.fromkeys((*planned, *batch.grams)):
            grams = planned.get(line)
            item = (trial.weighed_formula if grams is None else recipe).named(line[1])
            aim = None if grams is None else to_weigh(float(grams), item["kind"])
            more = {"hint": f"{aim} planned", "planned": aim.grams} if aim else {}
            entry, label = f"weighed {line[0]} {item['name']}", f"{line[0]}: {item['name']}, g"
            yield Box(entry, entry, label, "g", line=(*line, grams), **more)

    def _our_fields(self):
        """Give what this kitchen notes of each bake, to be ticked."""
        yield boxed("field of our own", "a field of our own", hint="its name, its unit")
        yield quiet("What is ticked stands above, and on the page for the bench.")
        for entry in dict.fromkeys([*map(str, _every()), *self.noted]):
            yield tick(f"note {entry}", entry.removeprefix(OWN), entry in self.noted)

    # photos

    def _photos(self):
        """Give the photos, and what was corrected, withdrawn and erased of the bake, with what does so."""
        trial = self.entry.trial
        shown, corrected = self.own.photos(trial), self.own.corrections(trial)
        yield self._aside("view", "the next ones show", options=VIEWS)
        yield self._aside("why", "why it is withdrawn or erased", flex="2 1 300px")
        yield quiet(f"{corrected.words} {self.told['removed']}")
        yield from (f'<div style="flex:1 1 100%">{page.table(*each)}</div>' for each in corrected.tables())
        yield from (_figure(each, each in shown) for each in self.own.photos(trial, withdrawn=True))
        gone = [each.what for each in self.own.removals(trial) if not each.digest][-1:] == [WITHDRAWN]
        yield press("back", "put this bake back") if gone else press("withdraw", "withdraw this bake")

    def _piece(self, about, data):
        """Take up a piece of a photo; the last one makes it whole."""
        name = str(about["photo"])
        self._pieces.append(data)
        if not about["ends"]:
            return
        picture, self._pieces = b"".join(self._pieces), []
        # of what is larger than is taken the page sends nothing
        self._keep_photo(name, about["taken"] / 1000, lambda: must_be_taken(name, about["size"]) or picture)
        self._keys.send({"photo": name})
        if not about["left"] and self.entry:
            self.fold = PHOTOS
            self._lay(f"fold {PHOTOS}")

    def _keep_photo(self, name, written_at, read):
        """Keep a photo with the bake of its time, and say with which, or why not; return whether it is done with.

        written_at: its file [s since 1970]; read(): returns its bytes.
        """
        code = self.entry.trial.code if self.entry and self.book is self.own else ""
        try:
            picture = read()
            taken = taken_at(picture, name, datetime.datetime.fromtimestamp(written_at))
            near = self.own.baked_before(taken)
            code = code if code in near or not near else near[0]
            if not code:
                be, do = "of a day on which something was baked", "begin its bake first"
                raise TrialError(must(name, be, f"{taken:%Y-%m-%d}", do))
            view = next((each for each in VIEWS[1:] if each.split()[0] in name.casefold()), self.told["view"])
            view = f"{taken:%d %b %H:%M}" if view == VIEWS[0] else view
            self.own.add_photo(code, picture, view, self._must_sign())
        except KitError as error:
            self._keys.wrong += f" {name} is not saved: {error}."
            return isinstance(error, FileError)  # of another its bake may still be begun
        self._kept.append(f"{name}, taken {taken:%d %b %H:%M}, is kept with {code} {self.own.trial(code).name}.")
        self._keys.said = " ".join(self._kept)
        return True

    def _waiting(self):
        return waiting_in(self.own.folder / "photos") if self.book is self.own and self.own.folder else []

    def _take_folder(self):
        """Keep the photos of the folder; one that is no picture is told, and not offered again."""
        self._must_sign()
        for path in self._waiting():
            if self._keep_photo(path.name, path.stat().st_mtime, partial(read_bytes, path, INCOMING)):
                taken_over(path)
        self._lay("first")

    # saving

    def _type(self, box, text, rests):
        """Keep every letter at once; save when the typing rests, or the box is left."""
        same, box.text = text == box.text, text
        if text.strip() == box.known:  # put back to what stands; the box itself is left to who types
            if box.typed:
                self._settle(box)
            return
        if same and box.choices:  # it was left with its question open
            return
        if box.typed and box.typed.by != self.by:  # somebody else types on
            self._unsaved.drop(box.typed)
        box.typed, box.waits = Typed(self.entry.trial.key, box.entry, text, self.by, box.known), True
        self._unsaved.keep(box.typed)
        if rests:
            self._save(box)
        else:
            asyncio.get_running_loop().call_later(PAUSE, self._flush, box.typed)

    def _flush(self, typed=None):
        """Save at once what waits for the typing to rest; typed: that alone, where nothing came after it."""
        for box in self.boxes.values():
            if box.waits and typed in (None, box.typed):
                self._save(box)

    def _settle(self, box, said=""):
        """Nothing of a box waits any more: to be saved, nor to be chosen."""
        self._unsaved.drop(box.typed)
        box.typed, box.waits, box.choices = None, False, ()
        self._say(box, said)

    def _save(self, box):
        box.waits, box.choices = False, ()
        try:
            self._must_sign()
            trial = self.entry.set(box.entry, box.text)
        except ConflictError as conflict:
            self._ask(box, conflict.theirs)
        except AskedError as asked:
            box.asking, words = asked.asking, asked.asking.words
            box.choices = tuple((f"means {n}", label) for n, label in enumerate(box.asking.labels))
            self._say(box, words)
            self._keys.wrong = f"{box.label} is not saved: {words}"
        except KitError as error:
            self._say(box, f"not saved: {error}")
            self._keys.wrong = f"{box.label} is not saved."
        else:
            box.known = box.read(trial)  # what is typed stays as it is: another key may follow
            self._settle(box, box.said_of(trial))
            self._keys.said = f"{box.label} saved"
            self._refresh()
            self._live.show(self._head())

    def _ask(self, box, theirs):
        """Show both values of an entry that two people changed; theirs: the trial that stands."""
        who = next(v.by for v in self.book.history(theirs) if v.number == theirs.version)
        other, own = box.read(theirs) or "nothing", box.text.strip() or "nothing"
        box.choices = (("theirs", f"{who}: {other[:40]}"), ("mine", f"mine: {own[:40]}"))
        self._say(box, f"{who} entered {other} meanwhile, you {own}. Which holds?")

    def _take(self, entry, answer):
        """Take theirs or mine of two values of an entry, or one meaning of what was typed, by its number."""
        box = self.boxes[entry]
        if answer in ("theirs", "mine"):
            self.entry.trial = self.book.trial(self.entry.trial.key)
            box.known = box.read(self.entry.trial)
            box.text = box.known if answer == "theirs" else box.text
        else:  # the book asks no more about the like
            box.text = self.entry.answered(entry, box.asking, box.asking.choices[answer][0]) or box.known
        self._keys.send({"write": {entry: box.text}, "focus": entry})
        if answer == "theirs":
            self._settle(box, f"kept {box.known or 'nothing'}; yours stays in the history, set aside")
            self._refresh()
        else:
            self._save(box)

    def _refresh(self):
        """Show what others entered meanwhile, and leave alone what waits for an answer."""
        for box in self.boxes.values():
            if not box.typed and (stands := box.read(self.entry.trial)) != box.known:
                box.known = box.text = stands
                self._keys.send({"write": {box.entry: stands}})
                self._say(box)

    def _say(self, box, words=""):
        """Say a line beneath a box."""
        box.said = words
        self._live.show({box.place: box.note()})


def invented_year():
    """Return the invented year as a book of its own, in memory: what is written into it is for practice."""
    year, place = TrialBook(store.in_memory(), INVENTED), places.notebooks()
    year.import_from(place / "trials" / "crackle_bun_trials.csv", place / "formulas")
    return year


def _text(entry):
    """Return the box of an entry in words."""
    hint, rows = (ALWAYS | NAMED).get(entry, ("", 2))
    return Box(entry, entry.replace(" ", "_"), entry, hint=hint, rows=rows)


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
