"""Bakes of the trial book laid side by side."""

from pathlib import Path

import ipywidgets as widgets

from .. import page
from ..errors import KitError, must
from ..trials import TrialError, by_plan, side_by_side
from ..trials.comparing import MOST
from ..trials.photos import small as smaller
from .panel import ROW, Panel, button, dropdown, text, tick
from .strips import small, status, wrapped
from .trial_charts import DifferencesChart, ResponseDots, response_of

REPEATS = 400  # newest trials whose repeats tell how far this kitchen's bakes differ by themselves
TOPS = ROW | {"align_items": "flex-start"}  # what is of unlike height begins at one line


class SideBySidePanel(Panel):
    """Two to six trials of a book laid side by side: what was planned differently, what came out different.

    book: a TrialBook; trials: codes to begin with, the first compared with, else the newest two; folder: where the
    page to print goes, else where the notebook is. Raises UnknownName.
    """

    behind = "What came out, in figures"

    def __init__(self, book, trials=None, folder="."):
        self.book, self.folder, self.result = book, Path(folder), None
        self._wanted, self._labels = "height", {}
        self.search, self.found = (
            text("search", hint="words, a name, a baker", width="97%", label="96px"),
            widgets.HTML(),
        )
        codes = [trial.code for trial in book.trials(trials)] if trials else [f.code for f in book.find(most=2)][::-1]
        self._find()
        self._learn(codes)
        wide = {"style": {"description_width": "96px"}, "layout": {"width": "97%"}, "rows": 9}
        chosen = widgets.SelectMultiple(description="side by side", options=self._options(codes), value=codes, **wide)
        first, self.tapped, response = (
            dropdown(words, some, width="97%", label="96px")
            for words, some in (("the first", codes), ("add, remove", ()), ("bake by bake", ()))
        )
        first.value = codes[0] if codes else None
        together = tick("repeats of one plan in one column")
        super().__init__({}, {"trials": chosen, "first": first, "response": response, "together": together})
        self.page_button = button("page", "Write one page to print into the folder", self.write_page)
        self.search.observe(lambda _: self._searched(), "value")
        self.tapped.observe(lambda change: self._tap(change["new"]), "value")
        how = f"2 to {MOST}: hold Ctrl (Cmd on a Mac) to choose several, or tap one by one under add, remove."
        hint = widgets.HTML(small(how, 12, margin="0 0 4px 98px"))
        left = widgets.VBox([self.search, self.found, chosen, hint], layout={"flex": "1 1 400px"})
        buttons = widgets.HBox([self.undo_button, self.reset_button, self.page_button])
        right = [self.tapped, first, response, together, buttons, self.written]
        right = widgets.VBox(right, layout={"flex": "1 1 300px"})
        self.children = [widgets.Box([left, right], layout=TOPS), self._problem, self._live, self._behind]
        self._recompute(None)
        self.start = self._state()

    # choosing

    def _find(self):
        words = self.search.value.strip()
        found = self.book.find(words)
        self.found.value = "" if found or not words else status(f"Nothing found for {words!r}.")
        self._labels |= {f.code: in_a_list(f) for f in found}
        self._found = [f.code for f in found]
        self._kitchen = self.book.trials([f.code for f in self.book.find(most=REPEATS)])

    def _learn(self, codes):
        missing = [code for code in codes if code not in self._labels]
        for trial in self.book.trials(missing) if missing else ():
            self._labels[trial.code] = in_a_list(trial)

    def _options(self, codes):
        """Return the choices: what the search found, and what is chosen whether found or not."""
        kept = [code for code in codes if code not in self._found]
        return [(self._labels[code], code) for code in (*kept, *self._found)]

    def _searched(self):
        try:
            self._find()
        except KitError as error:
            self._say(error)
            return
        chosen = self.choices["trials"]
        codes = chosen.value
        self._silently(lambda: self._offer(codes, self.choices["first"].value))

    def _tap(self, code):
        """Add a trial to those chosen, or take it away: a finger can't hold Ctrl."""
        if not code or self._quiet:
            return
        chosen = self.choices["trials"]
        left = tuple(each for each in chosen.value if each != code)
        chosen.value = left if code in chosen.value else (*left, code)

    def _offer(self, codes, first):
        """Offer what can be chosen, and choose these codes and this first of them."""
        chosen, dropdown = self.choices["trials"], self.choices["first"]
        options = self._options(codes)
        if chosen.options != tuple(options):
            chosen.value = ()  # the page still has the old list when it learns of a choice
            chosen.options = options
        chosen.value = codes
        dropdown.options = sorted(codes)
        dropdown.value = first if first in codes else min(codes, default=None)
        taps = [
            ("tap one", ""),
            *(
                (f"{'✓' if code in codes else '+'} {label}", code)
                for label, code in sorted(options, key=lambda option: option[1] not in codes)
            ),
        ]
        if self.tapped.options != tuple(taps):
            self.tapped.options = taps
        self.tapped.value = ""

    def _restore(self, state):
        def act():
            self._learn(state["trials"])
            self._offer(state["trials"], state["first"])
            self.choices["together"].value = state["together"]

        self._silently(act)
        self._wanted, self._last = state["response"], None
        self._recompute(None)

    def _laid_out(self, state):
        """Return the SideBySide of a choice, the first first. Raises TrialError."""
        codes = sorted(state["trials"], key=lambda code: (code != state["first"], self._labels[code].split()[1], code))
        if len(codes) < 2:
            few = len(self.book) < 2
            got = f"{len(self.book)} in the book" if few else str(len(codes))
            do = "enter a bake" if few else "choose them in the list"
            raise TrialError(must("side by side", f"2 to {MOST} trials", got, do))
        columns = self.book.trials(codes)
        return side_by_side(by_plan(columns) if state["together"] else columns, kitchen=self._kitchen)

    def _offer_responses(self, side):
        """Offer what was measured, and choose what was last asked for, if it was."""
        dropdown, options = self.choices["response"], [(row.what, row.name) for row in side.responses]
        if dropdown.options != tuple(options):
            dropdown.options = options
        found = response_of(side, self._wanted)
        dropdown.value = found.name if found else None

    # showing

    def _charts(self):
        return [(kind, self.result, {"response": self._wanted}) for kind in (DifferencesChart, ResponseDots)]

    def _update(self, moving):
        if moving == "response":
            self._wanted = self.choices["response"].value
        self._silently(lambda: self._offer(self.choices["trials"].value, self.choices["first"].value))
        side = self._laid_out(self._state())
        self._silently(lambda: self._offer_responses(side))
        self.result = side
        self._handles = self._draw()
        row = response_of(side, self._wanted)
        said = list(side.notes)
        if row is not None:
            said = [
                f"{row.what}, {name} against {side.names[0]}: {words}."
                for name, words in zip(side.names[1:], row.words, strict=True)
            ] + said
        tables = [f'<div style="overflow-x:auto">{page.table(*each)}</div>' for each in side.planned_tables()]
        self._tell(*tables, self._marks(), *map(status, said), self._photos())
        self._show_behind()

    def _behind_html(self):
        return f'<div style="overflow-x:auto">{page.table(*self.result.came_out())}</div>' if self.result else ""

    def _photos(self):
        shown = [
            (photo, f"{trial.code or name}, {photo.view}", f", {trial.date}")
            for name, column in zip(self.result.names, self.result.trials, strict=True)
            for trial in column
            for photo in self.book.photos(trial)
        ]
        return photos(shown, 12) if shown else ""

    def write_page(self):
        """Write the page to print into the folder and return its path; say its name, or why not."""

        def made():
            if self.result is None:
                self._laid_out(self._state())
            return f"side by side {' '.join(self.result.names)}".replace(" ", "_"), self.result.page(self.book)

        return self._write(made)


def in_a_list(trial):
    """Return how a trial stands in a list to choose from."""
    return f"{trial.code}  {trial.date}  {trial.name[:60]}"


def photos(shown, size):
    """Return photos beside each other, as HTML: (photo, its words in `size` px, what its image is said to be more)."""
    return wrapped(*(("0 0 208px", _photo(*each, size)) for each in shown))


def _photo(photo, words, more, size):
    source = page.address(smaller(photo.picture, 400), "image/jpeg")
    return (
        f'<figure style="margin:4px 8px 4px 0"><img alt="{page.escape(words + more)}" style="width:100%" '
        f'src="{source}"><figcaption style="font-size:{size}px">{page.escape(words)}</figcaption></figure>'
    )
