"""The row atop a panel: which formula it shows, a recipe to bring in, and a variant to keep."""

import itertools
from pathlib import Path

import anywidget
import ipywidgets as widgets

from ..errors import KitError
from ..formula.shelf import formulas_folder, marked, put_at_hand, shelf
from ..words import figure
from .name_box import NameBox
from .strips import alert, small, status


class _Seen(anywidget.AnyWidget):
    """Tells when its notebook is looked at again: brought to the front, or its window."""

    _esm = """
    export default { render({ model, el }) {
      const tell = () => model.send({});
      const watch = new IntersectionObserver(seen => seen.some(one => one.isIntersecting) && tell());
      setTimeout(() => el.parentElement && watch.observe(el.parentElement));
      window.addEventListener("focus", tell);
      return () => { watch.disconnect(); window.removeEventListener("focus", tell); };
    } };
    """


class ShelfRow(widgets.VBox):
    """The formula that a panel shows, chosen from the shelf of its folder, brought in, or kept under a name.

    formula; chosen(formula): called when another is chosen or brought in, which is then at hand everywhere; variant():
    returns the formula to keep and its name when none is written, for a panel that has one; folder: else the formula's
    own, or `formulas` beside the notebooks.
    """

    def __init__(self, formula, chosen, variant=None, folder=None):
        super().__init__(layout={"width": "100%"})
        self.formula, self._chosen, self._variant = formula, chosen, variant
        self.folder = Path(folder or (Path(formula.path).parent if formula.path else formulas_folder()))
        self.choice = widgets.Dropdown(
            description="formula",
            layout={"width": "auto", "flex": "1 1 260px", "min_width": "200px"},
            style={"description_width": "52px"},
        )
        self.choice.observe(self._choose, "value")
        self.bring = widgets.ToggleButton(description="bring a recipe", layout={"width": "116px"})
        self.bring.observe(lambda change: self._bring(change["new"]), "value")
        self.name = NameBox("keep as", self.keep, "a name, then Enter")
        self.keep_button = widgets.Button(description="keep", layout={"width": "52px"})
        self.keep_button.on_click(lambda _: self.keep())
        self.said, self.unread, self.door = widgets.HTML(), widgets.HTML(), widgets.VBox(layout={"width": "100%"})
        self._asked, self._seen, self._writing = "", None, False
        keeping = [self.name, self.keep_button] if variant else []
        row = widgets.Box([self.choice, self.bring, *keeping], layout={"flex_flow": "row wrap", "width": "100%"})
        seen = _Seen()
        seen.on_msg(lambda *_: self.look())
        self.children = [row, self.said, self.unread, self.door, seen]
        self._list()
        self._mark = marked(self.folder)

    def _list(self):
        """Bring the list up to date with the folder."""
        self.shelf = shelf(self.folder)
        options = [(row.words, row.path) for row in self.shelf.rows]
        now = self.formula.fingerprint
        same = [row.path for row in self.shelf.rows if row.formula and row.formula.fingerprint == now]
        here = Path(self.formula.path) if self.formula.path else ""
        self.choice.still = f"{self.formula.name}, {figure(self.formula.pieces.dough, 0)} g"
        if here not in same:  # or it has been changed since
            here = ""
            options.insert(0, (f"{self.choice.still}, not in a file", ""))
        self._writing = True
        self.choice.options = options
        self.choice.value = here
        self._writing = False
        self.unread.value = "".join(small(note, 12) for note in self.shelf.notes)
        self._seen = self._stands()

    def _stands(self):
        """When something last changed in the folder."""
        return self.folder.stat().st_mtime_ns if self.folder.is_dir() else None

    def look(self):
        """Take in what was kept, or put at hand, in another notebook meanwhile: at each move, and when seen again."""
        if self._stands() == self._seen:
            return
        self._list()
        if (now := marked(self.folder)) != self._mark:
            self._mark = now
            if row := next((row for row in self.shelf.rows if row.path.name == now), None):
                self.say(f"{row.name} is at hand now, chosen in another notebook; this panel goes on as it is.")

    def say(self, words):
        """Say what came of it."""
        self.said.value = status(words) if words else ""

    def _choose(self, change):
        if self._writing or not change["new"]:
            return
        row = next(row for row in self.shelf.rows if row.path == change["new"])
        if row.formula:
            self._take(row.formula)
            return
        self._list()
        self.bring.value = True
        self.door.children[0].bring(lambda: row.recipe)
        self.say(f"{row.name} asks something first: answer at the marked lines, then take it.")

    def _take(self, formula):
        self.say("")
        try:
            self._chosen(formula)
            self.formula = formula
            put_at_hand(formula)
            self._mark = marked(self.folder)
        except KitError as error:
            self.said.value = alert(error)
        self._list()

    def _bring(self, opened):
        from .recipe_panel import RecipeDoor  # what is not asked for is not loaded

        self.door.children = [RecipeDoor(self.accept)] if opened else []

    def accept(self, formula):
        """Put a recipe that was brought in on the shelf, and go on with it."""
        try:
            self.folder.mkdir(exist_ok=True)
            kept = formula.keep(self._free(formula.name), self.folder)
        except (KitError, OSError) as error:
            self.said.value = alert(error)
            return
        self.bring.value = False
        self._list()
        self._take(kept)
        self.choice.focus()  # what had the keyboard is folded away
        self.say(f"{kept.name} is kept, in the list above, and at hand in every notebook.")

    def _free(self, name):
        """Return the name, or with a number behind it that is not in the list yet."""
        names = itertools.chain((name,), (f"{name} {number}" for number in itertools.count(2)))
        return next(free for free in names if not self.shelf.named_like(free))

    def keep(self):
        """Keep the variant under the name written, at once; a name that is taken asks first. Returns it as kept."""
        variant, otherwise = self._variant()
        name, before, self._asked = self.name.value.strip() or otherwise, self._asked, ""
        try:
            self._list()
            if self.shelf.named_like(name) and before != name:
                self._asked = name
                self.say(f"{name} is in the list already: Enter once more keeps this as {self._free(name)}.")
                return None
            kept = variant.keep(self._free(name), self.folder)
        except (KitError, OSError) as error:
            self.said.value = alert(error)
            return None
        self._list()
        self.name.value = ""
        self.say(f"{kept.name} is kept, in the list above, beneath {self.formula.name}.")
        return kept
