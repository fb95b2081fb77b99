"""Bakes of the trial book laid side by side: chosen, looked at, decided about and printed."""

import functools
import math
from pathlib import Path

import ipywidgets as widgets

from .. import page, places
from ..errors import KitError, must
from ..trials import TrialBook, TrialError, by_plan, calibrate, side_by_side, store
from ..trials.fields import in_unit
from ..trials.photos import small as smaller
from ..trials.printed import columns, photos_of, unbroken
from ..trials.records import VERDICTS
from ..units import read_above
from . import look
from .live import Live, handle, part
from .panel import ROW, Panel, button, caution, dropdown, radio, text, tick
from .strips import alert, block, small, status
from .trial_charts import ResponseDots, response_of

REPEATS = 400  # newest trials whose repeats tell how far this kitchen's bakes differ by themselves
INVENTED = "the invented year of Tarnholt Bakehouse"
SHOWN = ("T-001", "T-003")  # of that year, to begin with
SCALE = "The scale of a photo"
OPENED = {  # what stands behind a fold, as HTML
    "The other figures": lambda panel: columns(panel.result, panel.result.sections()[-1:]),
    "Who came from whom": lambda panel: panel.book.lineage()._repr_html_(),
    "What your bakes teach": lambda panel: panel.taught(),
}
WIDE = 520  # px of a photo that is tapped


class SideBySidePanel(Panel):
    """Two to eight bakes of a book side by side: what they say, their photos, what differed, and a decision.

    book: a TrialBook, or the path of its file, made when there is none; while it has fewer than two bakes an invented
    year is shown; trials: codes to begin with, the first compared with, else the newest two; folder: where pages to
    print go, else where the notebook is. Raises FileError, UnknownName.
    """

    def __init__(self, book="our_trials.db", trials=None, folder="."):
        self.own = book if isinstance(book, TrialBook) else TrialBook.open(book)
        self.folder, self.result, self._wanted = Path(folder), None, "height"
        practise = trials is None and len(self.own) < 2
        self.book = self._year if practise else self.own
        codes = SHOWN if practise else trials or [found.code for found in self.book.find(most=2)][::-1]
        self.find = text("find", hint="words, a name, a month", width="230px")
        self.add = dropdown("add or take away", (), width="330px")
        chosen = text("bakes", " ".join(codes), "T-001 T-003: the first is compared with", "400px")
        year = tick("the invented year, to practise on", practise)
        response, together = dropdown("bake by bake", (), width="330px"), tick("repeats of one plan in one column")
        super().__init__({}, {"trials": chosen, "year": year, "together": together, "response": response})
        self.find.observe(lambda _: self._offer(), "value")
        self.add.observe(lambda change: self._tap(change["new"]), "value")
        self.about, self.why = (
            dropdown("decide about", (), width="190px"),
            text("why", hint="in one line", width="460px"),
        )
        self.verdict, self.by = radio("", VERDICTS, VERDICTS[0]), text("by", hint="your code", width="130px")
        self.paper = dropdown("print on", ("A4", "Letter"), width="130px")
        self.page_button = button("page", "Write the page to print into the folder", self.write_page)
        decide = button("decide", "Close the trial with this decision", self.decide)
        self._deciding = False  # pressed, and a box not heard yet: a click may overtake what was typed before it
        for box in (self.why, self.by):
            box.observe(lambda _: self._deciding and self._signed_and_why and self.decide(), "value")
        self._scale, self._opened = PhotoScale(self._keep_scale), {each: widgets.HTML() for each in OPENED}
        self._behind = widgets.Accordion([*self._opened.values(), self._scale], titles=(*OPENED, SCALE))
        self._behind.selected_index = None
        self._behind.observe(lambda _: self._show_behind(), "selected_index")
        rows = [[chosen, self.find, self.add], [year, together, self.undo_button]]
        last = [[self.about, self.verdict, self.by], [self.why, decide, self.paper, self.page_button], [self.written]]
        made = [widgets.Box(row, layout=ROW) for row in (*rows, *last)]
        self.children = [*made[:2], self._problem, response, self._live, *made[2:], self._behind, self._cautions]
        self._read_book()
        self._recompute(None)
        self.start = self._state()

    @functools.cached_property
    def _year(self):
        """The invented year as a book of its own, in memory: what is decided there is for practice."""
        year, place = TrialBook(store.in_memory(), INVENTED), places.notebooks()
        year.import_from(place / "trials" / "crackle_bun_trials.csv", place / "formulas")
        return year

    # choosing

    def _read_book(self):
        """Take up what the book holds: its newest bakes, whose repeats judge, and who entered last."""
        self._kitchen = self.book.find(most=REPEATS)
        self.by.value = self.by.value or self.book.kitchen.entered_by
        self._offer()

    def _codes(self):
        return self.choices["trials"].value.replace(",", " ").upper().split()

    def _offer(self):
        """Offer what the search finds, to be added or taken away with a tap."""
        codes = self._codes()
        found = self.book.find(self.find.value.strip())
        taps = [(f"{'✓' if each.code in codes else '+'} {in_a_list(each)}", each.code) for each in found]
        taps.insert(0, (f"{len(taps)} found: tap one" if taps else "nothing found", ""))

        def act():
            self.add.options = taps
            self.add.value = ""

        self._silently(act)

    def _tap(self, code):
        if code and not self._quiet:
            codes = self._codes()
            left = [each for each in codes if each != code] if code in codes else [*codes, code]
            self.choices["trials"].value = " ".join(left)

    def _update(self, moving):
        if moving == "response":
            self._wanted = self.choices["response"].value
        practise = self.choices["year"].value
        book = self._year if practise else self.own
        if book is not self.book:
            self.book = book
            codes = SHOWN if practise else [found.code for found in book.find(most=2)][::-1]
            self._silently(lambda: setattr(self.choices["trials"], "value", " ".join(codes)))
            self._read_book()
        codes = self._codes()
        if not codes:
            do = "write codes such as T-001 T-003, or tap some"
            raise TrialError(must("bakes", "one or more", "none", do))
        given = self.book.trials(codes)
        self._laid_out = given
        self.result = side_by_side(by_plan(given) if self.choices["together"].value else given, self._kitchen)
        self._photos = photos_of(self.result, self.book)
        self._silently(self._follow)
        self._handles = self._draw() if self._has_chart else ()
        self._offer()
        self._show()

    def _follow(self):
        """Offer what belongs to the bakes chosen: their responses, which to decide about."""
        side, response = self.result, self.choices["response"]
        response.options = [(row.what, row.name) for row in side.responses]
        row = response_of(side, self._wanted)
        response.value = row.name if row else None
        self._has_chart = row is not None and any(len(bakes) > 1 for bakes in row.bakes)
        response.layout.display = None if self._has_chart else "none"
        codes = [trial.code for trial in self._laid_out]
        kept = self.about.value
        self.about.options = codes
        self.about.value = kept if kept in codes else codes[-1]

    # looking

    def _charts(self):
        return [(ResponseDots, self.result, {"response": self._wanted})]

    def _show(self):
        side, sections = self.result, self.result.sections()
        scales = dict(self.book.kitchen.scales)
        shown = columns(side, sections[:-1] if len(side.names) > 1 else sections, self._photos[:3], scales)
        where = self.book.name if self.book is self.own else f"{INVENTED}: practise here, nothing is kept"
        none = "" if self._photos else "No photo yet: they are added where the bake is entered."
        self._tell(
            f'<div role="status" style="font-size:16px;line-height:1.4;color:{look.INK};margin:6px 0">'
            f"{unbroken(side.words)}</div>",
            f'<div style="overflow-x:auto">{shown}</div>',
            self._marks() if self._has_chart else "",
            "".join(small(words, 12, margin="2px 0") for words in (none, *side.notes, f"The book: {where}.") if words),
        )
        self._cautions.value = caution(*(t.plan.formula for t in self._laid_out if t.plan))
        self._scale.offer(side, self._photos)
        self._show_behind()

    def _show_behind(self):
        title = self._behind.selected_index is not None and self._behind.titles[self._behind.selected_index]
        if title in OPENED and self.result:
            self._opened[title].value = block(OPENED[title](self))

    def taught(self):
        """Return what the newest bakes of the book correct, and what is missing of the others, as HTML."""
        try:
            return calibrate(self._kitchen)._repr_html_()
        except KitError as error:
            return small(error)

    def _keep_scale(self, photo, scale):
        """Remember what a pixel of a photo is [mm]."""
        try:
            self.book.remember(scales=dict(self.book.kitchen.scales) | {photo.digest: scale})
        except KitError as error:
            self._say(error)
            return
        self._recompute(None)

    # deciding and printing

    @property
    def _signed_and_why(self):
        return self.why.value.strip() and self.by.value.strip()

    def decide(self):
        """Close the trial with the decision, and show it; what the page sends after the click closes it too."""
        self._deciding = not self._signed_and_why
        try:
            closed = self.book.decide(self.about.value, self.verdict.value, self.why.value, self.by.value)
            self.book.remember(entered_by=self.by.value)
        except KitError as error:
            self._problem.value = alert(f"{error}.")
            return
        self.why.value = ""
        self._recompute(None)
        self.written.value = status(f"{closed.code} is decided. {closed.decision}")

    def write_page(self):
        """Write the page to print into the folder and return its path; say its name, or why not."""

        def made():
            names = ["side_by_side"] * (len(self.result.names) > 1) + list(self.result.names)
            return "_".join(names).replace(" ", "_"), self.result.page(self.book, self.paper.value)

        return self._write(made) if self.result else None


class PhotoScale(widgets.VBox):
    """Two taps on a photo, on the ends of a ruler or across the piece, and how far they are apart."""

    def __init__(self, kept):
        self._kept, self._offered, self._ends, self._turn = kept, {}, [], 0
        self.photo, self.between = dropdown("photo", (), width="260px"), text("apart, mm", width="160px")
        keep = button("keep", "Keep the scale of this photo", self._keep)
        self._live, self.said = Live(self._moved, self._stepped), widgets.HTML()
        self.photo.observe(lambda _: self._begin(), "value")
        hint = widgets.HTML(
            small("Tap both ends of a ruler, or the piece's edges left and right; arrows move an end.", 12)
        )
        super().__init__([widgets.Box([self.photo, self.between, keep], layout=ROW), hint, self.said, self._live])

    def offer(self, side, rows):
        """Offer the photos of bakes side by side, each with its bake's mean diameter [mm]."""
        wide = next((row.means for row in side.responses if row.name == "diameter"), ())
        found = {
            f"{name}, {view}": (photo, wide[n] if n < len(wide) else None)
            for view, photos in rows
            for n, (name, photo) in enumerate(zip(side.names, photos, strict=True))
            if photo
        }
        if [p.digest for p, _ in found.values()] != [p.digest for p, _ in self._offered.values()]:
            self._offered, self.photo.options = found, list(found)
            self.photo.value = next(iter(found), None)
            self._begin()

    def _begin(self):
        if self.photo.value is None:
            self._live.lay(small("No photo of these bakes yet."))
            return
        photo, wide = self._offered[self.photo.value]
        high = WIDE * photo.height / photo.width
        self._ends, self._high = [[0.25 * WIDE, high / 2], [0.75 * WIDE, high / 2]], high
        self.between.value, self.said.value = "" if wide is None else f"{wide:.1f}", ""
        source = page.address(smaller(photo.picture, WIDE), "image/jpeg")
        picture = f'<image href="{source}" width="{WIDE}" height="{high:.0f}" data-tap="photo"/>'
        box = f'viewBox="0 0 {WIDE} {high:.0f}" style="width:100%;max-width:{WIDE}px;touch-action:none"'
        self._live.lay(
            f'<svg {box} role="group" aria-label="{page.escape(self.photo.value)}">{picture}{part("ends", "g")}</svg>'
        )
        self._mark()

    def _mark(self):
        (x, y), (a, b) = self._ends
        line, marks = f"M{x:.1f},{y:.1f}L{a:.1f},{b:.1f}", ""
        for wide, colour in ((4, "white"), (2, look.ACCENT)):
            marks += f'<path d="{line}" stroke="{colour}" stroke-width="{wide}"/>'
        for n, (across, down) in enumerate(self._ends):
            told = f"{across:.0f} across, {down:.0f} down"
            marks += handle(f"{n}", across, down, f"end {n + 1}", told, across, 0, WIDE, arrow=True)
        self._live.show({"ends": marks})

    def _moved(self, name, x, y):
        """Put an end where it was dragged to; a tap on the photo puts the one whose turn it is."""
        if name == "photo":
            name, self._turn = str(self._turn), 1 - self._turn
        self._ends[int(name)] = [min(max(x, 0), WIDE), min(max(y, 0), self._high)]
        self._mark()

    def _stepped(self, name, right, up):
        x, y = self._ends[int(name)]
        self._moved(name, x + right, y - up)

    def _keep(self):
        if self.photo.value is None:
            return
        shown = math.dist(*self._ends)
        try:
            apart = 10 * read_above(in_unit(self.between.value, "mm"), "length", "apart", "measure it on the ruler")
            if shown < 1:
                raise TrialError(must("two taps", "on two places", "one place", "tap the other end"))
        except KitError as error:
            self.said.value = small(error, 13, color=look.WRONG)
            return
        photo, _ = self._offered[self.photo.value]
        self.said.value = small("Kept. Photos of one view that all have a scale are shown to one.", 13)
        self._kept(photo, apart / shown * WIDE / photo.width)


def in_a_list(trial):
    """Return how a trial stands in a list to choose from."""
    decided = trial.decision
    return f"{trial.code}  {trial.date}  {trial.name[:60]}{' · ' * bool(decided)}{decided[:60]}"
