"""Trials planned, bakes laid side by side and decided about, and how much so few tasters can say."""

import functools
import itertools
import math
from pathlib import Path

import ipywidgets as widgets

from .. import page
from ..cautions import FIRST
from ..errors import AmountError, KitError, must, whole
from ..formula.parts import only_one
from ..formula.usual import check_usual
from ..tables import table
from ..trials import TrialBook, TrialError, by_plan, calibrate, plan_trials, repeat_scatter, side_by_side
from ..trials.comparing import described
from ..trials.fields import in_unit, trial_fields
from ..trials.photos import small as smaller
from ..trials.printed import columns, photos_of
from ..trials.records import VERDICTS
from ..trials.statistics import FEWEST
from ..trials.tasting import CHANCE, p_words, tasters_needed, tasting, tasting_power
from ..units import read_above
from ..words import figure, kept, listing, plural
from . import look
from .entry_panel import INVENTED, PAPERS, invented_year
from .live import Live, handle, part
from .panel import ROW, Dial, Panel, WholeDial, button, caution, dropdown, radio, text, tick
from .strips import alert, block, large, small, status, tiles, wrapped
from .trial_charts import ResponseDots, response_of

REPEATS = 400  # newest trials whose repeats tell how far this kitchen's bakes differ by themselves
SHOWN = ("T-001", "T-003")  # of the invented year, to begin with
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
        self.folder, self.result, self._wanted, self._deciding = Path(folder), None, "height", False
        chosen = text("bakes", hint="T-001 T-003: the first is compared with", width="400px")
        year = tick("the invented year, to practise on", trials is None and len(self.own) < 2)
        together, response = tick("repeats of one plan in one column"), dropdown("bake by bake", (), width="330px")
        super().__init__({}, {"trials": chosen, "year": year, "together": together, "response": response})
        self.find = text("find", hint="words, a name, a month", width="230px")
        self.add, self.about = (
            dropdown("add or take away", (), width="330px"),
            dropdown("decide about", (), width="190px"),
        )
        self.verdict, self.why = radio("", VERDICTS, VERDICTS[0]), text("why", hint="in one line", width="460px")
        self.by, self.paper = text("by", hint="your code", width="130px"), dropdown("print on", PAPERS, width="130px")
        decide = button("decide", "Close the trial with this decision", self.decide)
        print_it = button("page", "Write the page to print into the folder", self.write_page)
        acts = {self.find: self._offer, self.add: self._tap, self.why: self._decide_late, self.by: self._decide_late}
        for box, act in acts.items():
            box.observe(lambda _, act=act: act(), "value")
        self._scale, self._opened = PhotoScale(self._keep_scale), {each: widgets.HTML() for each in OPENED}
        self._behind = widgets.Accordion([*self._opened.values(), self._scale], titles=(*OPENED, SCALE))
        self._behind.selected_index = None
        self._behind.observe(lambda _: self._show_behind(), "selected_index")
        above = [chosen, self.find, self.add], [year, together, self.undo_button]
        below = [self.about, self.verdict, self.by], [self.why, decide, self.paper, print_it], [self.written]
        above, below = ([widgets.Box(row, layout=ROW) for row in rows] for rows in (above, below))
        self.children = [*above, self._problem, response, self._live, *below, self._behind, self._cautions]
        self._take_up(self._year if year.value else self.own, trials)
        self._recompute(None)
        self.start = self._state()

    @functools.cached_property
    def _year(self):
        return invented_year()

    # choosing

    def _take_up(self, book, codes=None):
        """Take up a book: some of its bakes, the newest, whose repeats judge, and who entered last."""
        self.book, self._kitchen = book, book.find(most=REPEATS)
        newest = [found.code for found in self._kitchen[:2]][::-1]
        codes = codes or (newest if book is self.own else SHOWN)
        self._silently(lambda: setattr(self.choices["trials"], "value", " ".join(codes)))
        self.by.value = self.by.value or book.kitchen.entered_by

    def _codes(self):
        return self.choices["trials"].value.replace(",", " ").upper().split()

    def _offer(self):
        """Offer what the search finds, to be added or taken away with a tap."""
        codes, found = self._codes(), self.book.find(self.find.value.strip())
        taps = [(f"{'✓' if each.code in codes else '+'} {in_a_list(each)}", each.code) for each in found]

        def act():
            self.add.options = [(f"{len(taps)} found: tap one" if taps else "nothing found", ""), *taps]
            self.add.value = ""

        self._silently(act)

    def _tap(self):
        code, codes = self.add.value, self._codes()
        if code and not self._quiet:
            left = [each for each in codes if each != code] if code in codes else [*codes, code]
            self.choices["trials"].value = " ".join(left)

    def _work_out(self, moving):
        """Return the SideBySide of the bakes chosen. Raises KitError."""
        if moving == "response":
            self._wanted = self.choices["response"].value
        book = self._year if self.choices["year"].value else self.own
        if book is not self.book:
            self._take_up(book)
        if not (codes := self._codes()):
            do = "write codes such as T-001 T-003, or tap some"
            raise TrialError(must("bakes", "one or more", "none", do))
        self._bakes = self.book.trials(codes)
        return side_by_side(by_plan(self._bakes) if self.choices["together"].value else self._bakes, self._kitchen)

    def _move(self):
        self._photos = photos_of(self.result, self.book)
        self._silently(self._follow)
        self._handles = self._draw()
        self._offer()

    def _follow(self):
        """Offer what belongs to the bakes chosen: their responses, which to decide about."""
        response, row = self.choices["response"], response_of(self.result, self._wanted)
        response.options = [(row.what, row.name) for row in self.result.responses]
        response.value = row.name if row else None
        self._has_chart = row is not None and any(len(bakes) > 1 for bakes in row.bakes)
        response.layout.display = None if self._has_chart else "none"
        codes, before = [trial.code for trial in self._bakes], self.about.value
        self.about.options = codes
        self.about.value = before if before in codes else codes[-1]

    # looking

    def _charts(self):
        return [(ResponseDots, self.result, {"response": self._wanted})] * self._has_chart

    def _show(self):
        side, sections = self.result, self.result.sections()
        scales = dict(self.book.kitchen.scales)
        shown = columns(side, sections[:-1] if len(side.names) > 1 else sections, self._photos[:3], scales)
        where = self.book.name if self.book is self.own else f"{INVENTED}: practise here, nothing is kept"
        none = "" if self._photos else "No photo yet: they are added where the bake is entered."
        style = f"font-size:16px;line-height:1.4;color:{look.INK};margin:6px 0"
        self._tell(
            f'<div role="status" style="{style}">{page.unbroken(page.escape(side.words))}</div>',
            f'<div style="overflow-x:auto">{shown}</div>',
            self._marks(),
            "".join(small(words, 12, margin="2px 0") for words in (none, *side.notes, f"The book: {where}.") if words),
        )
        self._cautions.value = caution(*(bake.plan.formula for bake in self._bakes if bake.plan))
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

    def _decide_late(self):
        """Decide where that was pressed before: a click may overtake what was typed before it."""
        if self._deciding:
            self.decide()

    def decide(self):
        """Close the trial with the decision, and show it; what the page sends after the click closes it too."""
        self._deciding = not (self.why.value.strip() and self.by.value.strip())
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
        hint = small("Tap both ends of a ruler, or the piece's edges left and right; arrows move an end.", 12)
        row = widgets.Box([self.photo, self.between, keep], layout=ROW)
        super().__init__([row, widgets.HTML(hint), self.said, self._live])

    def offer(self, side, rows):
        """Offer the photos of bakes side by side, each with its bake's mean diameter [mm]."""
        none = [None] * len(side.names)
        wide = next((row.means for row in side.responses if row.name == "diameter"), none)
        found = {
            f"{name}, {view}": (photo, mean)
            for view, photos in rows
            for name, photo, mean in zip(side.names, photos, wide, strict=True)
            if photo
        }
        if found != self._offered:
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
        about = f'role="group" aria-label="{page.escape(self.photo.value)}"'
        self._live.lay(f"<svg {box} {about}>{picture}{part('ends', 'g')}</svg>")
        self._mark()

    def _mark(self):
        (x, y), (a, b) = self._ends
        line = f'<path d="M{x:.1f},{y:.1f}L{a:.1f},{b:.1f}" stroke='
        marks = f'{line}"white" stroke-width="4"/>{line}"{look.ACCENT}" stroke-width="2"/>'
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
        self.formula, self.folder, self.kinds = formula, Path(folder), tuple(changes)
        names = dict.fromkeys([field, *FIELDS, *(f for f, of in trial_fields().items() if of.group == "measured")])
        self._scatters = {name: None if trials is None else repeat_scatter(trials, name) for name in names}
        names = [name for name in names if name == field or trials is None or self._scatters[name]]
        dials = {}
        for thing, ends in changes.items():
            far = max(REACH.get(thing, 30.0), 1.5 * max(ends))
            for name, value in zip(_ends(thing), ends, strict=True):
                dials[name] = Dial(name, float(value), 0.0, far, 0.5)
        dials["days"] = Dial("days", days, 1, 10, 1, "sessions", "number")
        choices = {f"{thing} changes": tick(f"{thing} changes", n < 1, "132px") for n, thing in enumerate(changes)}
        choices["kind"] = radio("plan", KINDS, kind)
        choices["field"] = dropdown("judge by", [(described(name)[0], name) for name in names], field, "230px")
        super().__init__(dials, choices)
        wall = button("page", "Write the page for the wall into the folder", self.write_page)
        files = button("formulas", "Keep the formula of each bake as a file beside this one", self.keep, 90)
        rows = [[choices[f"{t} changes"], *(dials[name].view for name in _ends(t))] for t in changes]
        last = [dials["days"].view, choices["field"], self.undo_button, self.reset_button, wall, files]
        self._begin(*rows, [choices["kind"]], last)

    def _check_typed(self, name, value):
        if name != "days":
            check_usual(name.rpartition(" ")[0], value)

    @property
    def _changing(self):
        return [thing for thing in self.kinds if self.choices[f"{thing} changes"].value]

    def _work_out(self, moving):
        """Return the Plan that the controls say. Raises KitError."""
        kind, field, days = self.choices["kind"].value, self.choices["field"].value, self.dials["days"].value
        changes = {thing: [self.dials[name].value for name in _ends(thing)] for thing in self._changing}
        if not changes:
            raise AmountError(must("changes", "one or more", "none ticked", "tick what is to change"))
        if kind == "steps" and len(changes) != 1:
            raise AmountError(must("changes", "1 thing for steps", listing(changes), "tick one, or take pairs"))
        steps = {thing: (low, (low + high) / 2, high) for thing, (low, high) in changes.items()}
        pairs = {thing: high for thing, (_, high) in changes.items()}
        days = int(days) if float(days).is_integer() else days
        return plan_trials(self.formula, pairs if kind == "pairs" else steps, days, field, self._scatters[field])

    def _idle(self):
        pairs = self.choices["kind"].value == "pairs"  # of which the one is the formula as it is
        idle = {name for thing in self.kinds if thing not in self._changing for name in _ends(thing)}
        return idle | {_ends(thing)[0] for thing in self.kinds if pairs}

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


def _ends(thing):
    return f"{thing} from", f"{thing} to"


def _by_day(plan):
    """Return the bakes of each day in their order, as HTML."""
    days = []
    for day, bakes in itertools.groupby(plan.bakes, lambda bake: bake.day):
        rows = [[str(bake.turn), str(bake.code), bake.what] for bake in bakes]
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
        value, low, high = (figure(each, 0) for each in seen.share)
        enough = tasters_needed(seen.test, share, risk=seen.risk)
        power = float(tasting_power(seen.test, share, seen.tasters, seen.risk))
        did, would, does = "told them apart", "truly notice", "notice"
        if seen.test == "preference":
            did, would, does = f"prefer {seen.preferred}", "would prefer it", "prefer it"
        entries = [
            (would, f"{value} %", "", f"95 %: {low} to {high} % of such tasters"),
            ("finds it", f"{figure(power, 0)} of 100", "", f"when {share:g} % {does}"),
            ("to find it 80 of 100", f"{enough:,}", "", "tasters needed"),
        ]
        needed = f"{seen.needed} needed" if seen.needed <= seen.tasters else "more tasters needed"
        guessing = f"{'more than' if seen.found else 'no more than may be by'} guessing"
        leads = large(did, f"{seen.most} of {seen.tasters}", f"{guessing}; {needed} at a risk of {seen.risk:g} %")
        numbers = wrapped(("0 0 auto", leads), ("1 1 420px", tiles(entries)))
        self._tell(numbers, status(kept(seen.told())), small(" ".join(seen.notes), margin="0 0 4px"))
        self._show_behind()

    def _behind_html(self):
        return small(f"So many, or more: {p_words(self.result.p)}.")
