"""Trials planned, bakes laid side by side and decided about, and how much so few tasters can say."""

import functools
import math
from pathlib import Path

import ipywidgets as widgets

from .. import page, places
from ..cautions import FIRST
from ..errors import AmountError, KitError, must, whole
from ..formula.parts import only_one
from ..formula.usual import check_usual
from ..tables import table
from ..trials import TrialBook, TrialError, by_plan, calibrate, plan_trials, repeat_scatter, side_by_side, store
from ..trials.comparing import described
from ..trials.fields import in_unit, trial_fields
from ..trials.photos import small as smaller
from ..trials.printed import columns, photos_of, unbroken
from ..trials.records import VERDICTS
from ..trials.statistics import FEWEST
from ..trials.tasting import CHANCE, p_words, tasters_needed, tasting, tasting_power
from ..units import read_above
from ..words import figure, kept, listing, plural
from . import look
from .live import Live, handle, part
from .panel import ROW, Dial, Panel, WholeDial, button, caution, dropdown, radio, text, tick
from .strips import alert, block, large, small, status, tiles, wrapped
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


# before the bake

REACH = {"butter": 55.0, "sugar": 32.0, "egg": 60.0, "milk": 70.0, "water": 70.0}  # of a slider [% of flour]
KINDS = ("pairs", "steps")
FIELDS = ("height", "diameter", "baked_mass", "cover", "gap_width", "crumb dent day 1", "crispness day 1", "liking")


class PlanPanel(Panel):
    """One or two things to change, each from low to high, and the plan that tells what they do, as it is baked.

    formula: the control; changes {kind: (low, high)} [% of flour] of one to three kinds, the first of which is ticked;
    kind: pairs, or steps (low, halfway and high of one); days; field: to judge by; trials: whose repeats tell what the
    plan can see; folder: where the page goes. Raises FormulaError, AmountError, UnknownName.
    """

    def __init__(self, formula, changes, kind="pairs", days=FEWEST, field="height", trials=None, folder="."):
        only_one(formula, "for the panel")
        do = "write it like {'butter': (18, 25), 'sugar': (16, 20)}"
        whole("changes", len(changes), 1, 3, of="things", do=do)
        self.formula, self.folder = formula, Path(folder)
        names = dict.fromkeys([field, *FIELDS, *(f for f, of in trial_fields().items() if of.group == "measured")])
        self._scatters = {name: None if trials is None else repeat_scatter(trials, name) for name in names}
        names = [name for name in names if name == field or trials is None or self._scatters[name]]
        dials = {}
        for thing, ends in changes.items():
            far = max(REACH.get(thing, 30.0), 1.5 * max(ends))
            for word, value in zip(("from", "to"), ends, strict=True):
                dials[f"{thing} {word}"] = Dial(f"{thing} {word}", float(value), 0.0, far, 0.5)
        dials["days"] = Dial("days", days, 1, 10, 1, "sessions", "number")
        self.kinds = tuple(changes)
        choices = {f"{thing} changes": tick(f"{thing} changes", n < 1, "132px") for n, thing in enumerate(changes)}
        choices["kind"] = radio("plan", KINDS, kind)
        choices["field"] = dropdown("judge by", [(described(name)[0], name) for name in names], field, "230px")
        super().__init__(dials, choices)
        self.page_button = button("page", "Write the page for the wall into the folder", self.write_page)
        self.keep_button = button("formulas", "Keep the formula of each bake as a file beside this one", self.keep, 90)
        rows = [[choices[f"{t} changes"], dials[f"{t} from"].view, dials[f"{t} to"].view] for t in changes]
        buttons = [dials["days"].view, choices["field"], self.undo_button, self.reset_button]
        buttons += [self.page_button, self.keep_button]
        self._begin(*rows, [choices["kind"]], buttons)

    def _check_typed(self, name, value):
        if name != "days":
            check_usual(name.rpartition(" ")[0], value)

    def _work_out(self, moving):
        """Return the Plan that the controls say. Raises KitError."""
        kind, changing = self.choices["kind"].value, [t for t in self.kinds if self.choices[f"{t} changes"].value]
        if not changing:
            raise AmountError(must("changes", "one or more", "none ticked", "tick what is to change"))
        ends = {t: tuple(self.dials[f"{t} {word}"].value for word in ("from", "to")) for t in changing}
        if kind == "steps" and len(ends) != 1:
            raise AmountError(must("changes", "1 thing for steps", listing(ends), "tick one, or take pairs"))
        changes = {
            thing: high if kind == "pairs" else (low, (low + high) / 2, high) for thing, (low, high) in ends.items()
        }
        days, field = self.dials["days"].value, self.choices["field"].value
        days = int(days) if float(days).is_integer() else days
        return plan_trials(self.formula, changes, days, field, self._scatters[field])

    def _idle(self):
        pairs = self.choices["kind"].value == "pairs"  # of which the one is the formula as it is
        still = [t for t in self.kinds if not self.choices[f"{t} changes"].value]
        return {f"{t} from" for t in (self.kinds if pairs else still)} | {f"{t} to" for t in still}

    def _numbers(self):
        plan = self.result
        bakes = ("bakes", str(len(plan.bakes)), "", f"on {plural(plan.days, 'day')}")
        return [bakes, ("smallest difference seen", plan.seen, "", f"of {described(plan.field)[0]}")]

    def _show(self):
        first, *notes = self.result.notes
        said = f'<ul style="margin:2px 0;padding-left:20px;font-size:13.5px">{page.items(notes)}</ul>'
        self._tell(tiles(self._numbers()), status(f"{self.result.question} {first}"), _by_day(self.result), said)

    def write_page(self):
        """Write the page for the wall into the folder and return its path; say its name, or why not."""

        def made():
            things = "_".join(f.name.replace(" ", "_") for f in self._work_out(None).factors)
            return f"plan_{things}", self.result.page()

        return self._write(made)

    def keep(self):
        """Keep the formula of each bake as a file and return the paths; say their names, or why not."""
        try:
            paths = self.result.keep()
        except KitError as error:
            self._say(error)
            return ()
        self.written.value = status(f"Kept: {listing(path.name for path in paths)}")
        return paths


def _by_day(plan):
    """Return the bakes of each day in their order, as HTML."""
    days = []
    for day in range(1, plan.days + 1):
        rows = [[str(b.turn), str(b.code), b.what] for b in plan.bakes if b.day == day]
        days.append(("0 1 auto", page.table(["turn", "code", "bake"], rows, f"Day {day}")))
    return wrapped(*days, gap="0 36px")


# at the table

MOST = 60  # tasters that the dials reach


class TastingPanel(Panel):
    """Test, tasters, right answers and a share who notice: what is needed, what it says, and what would go unseen.

    seen: the Tasting to begin with, else a triangle. Raises AmountError for more tasters than the dials reach.
    """

    dial_width = 290
    behind = "how likely by guessing alone"

    def __init__(self, seen=None):
        self.baseline = seen = seen or tasting("triangle", 13, 24, ("the one", "the other"))
        dials = {
            "tasters": WholeDial("how many", seen.tasters, 2.0, float(MOST), 1.0, "tasters", "number"),
            "right": WholeDial("right", seen.right, 0.0, float(MOST), 1.0, "answers", "number"),
            "share": Dial("truly notice", 30.0, 5.0, 95.0, 1.0, "% of such tasters"),
        }
        super().__init__(dials, {"test": radio("test", CHANCE, seen.test)})
        self._check_typed("tasters", seen.tasters)
        cautions = " ".join(row.control for row in table("cautions").rows if row.arises_when == "tasting")
        self._cautions.value = small(f"{FIRST} {cautions}", color="inherit")
        self._begin([self.choices["test"], self.undo_button, self.reset_button], [d.view for d in dials.values()])

    @property
    def share(self):
        """The share of such tasters who truly notice [%]."""
        return self.dials["share"].value

    def _check_typed(self, name, value):
        if name == "tasters" and value > MOST:
            raise AmountError(must("tasters", f"{MOST} or fewer here", f"{value:g}", "a serving plan takes more"))
        if name == "share" and value > self.dials["share"].high:
            raise AmountError(must("truly notice", "5 to 95 %", f"{value:g} %", "of all who notice none is left out"))

    def _work_out(self, moving):
        tasters, right = (int(self.dials[name].value) for name in ("tasters", "right"))
        if moving == "tasters" and right > tasters:  # fewer tasters than were right: then all are right
            right = self.dials["right"].value = tasters
            self._silently(self.dials["right"].write)  # not its slider: a browser sends back late what it was set to
        seen = self.baseline
        return tasting(self.choices["test"].value, right, tasters, seen.names, 0, seen.risk)

    def _show(self):
        seen, share = self.result, self.share
        needed = f"{seen.needed} needed" if seen.needed <= seen.tasters else "more tasters needed"
        found, of = f"{seen.most} of {seen.tasters}", "more than" if seen.found else "no more than may be by"
        low, high = (figure(each, 0) for each in seen.share[1:])
        such = f"95 %: {low} to {high} % of such tasters"
        enough = tasters_needed(seen.test, share, risk=seen.risk)
        power = float(tasting_power(seen.test, share, seen.tasters, seen.risk))
        did, would, does = "told them apart", "truly notice", "notice"
        if seen.test == "preference":
            did, would, does = f"prefer {seen.preferred}", "would prefer it", "prefer it"
        entries = [
            (would, f"{figure(seen.share[0], 0)} %", "", such),
            ("finds it", f"{figure(power, 0)} of 100", "", f"when {share:g} % {does}"),
            ("to find it 80 of 100", f"{enough:,}", "", "tasters needed"),
        ]
        leads = large(did, found, f"{of} guessing; {needed} at a risk of {seen.risk:g} %")
        notes = small(" ".join(seen.notes), margin="0 0 4px")
        numbers = wrapped(("0 0 auto", leads), ("1 1 420px", tiles(entries)))
        self._tell(numbers, status(kept(seen.told())), notes)
        self._show_behind()

    def _behind_html(self):
        return small(f"So many, or more: {p_words(self.result.p)}.")
