"""The door for a recipe as it stands on paper: typed, pasted or chosen, read line by line, asked about, then taken."""

import ipywidgets as widgets

from .. import page
from ..errors import KitError
from ..formula import Formula
from ..formula.recipe import LEAVE, read_file, read_recipe
from ..words import figure, listing, plural, without_zeros
from . import look
from .name_box import NameBox
from .panel import button, dropdown, text
from .strips import alert, small, status

FLEX = ("35 1 130px", "27 1 100px", "10 1 46px", "10 1 42px", "18 1 54px")  # they wrap on a page enlarged twice
DOUBTFUL = (FLEX[0], "47 1 208px", FLEX[4])
BREAKS = "overflow-wrap:anywhere"
WIDE = {"width": "100%"}
WRAPS = WIDE | {"flex_flow": "row wrap"}
ASKED = {"width": "auto", "margin": "0 0 6px 35%"}
READ_AS = {"part": "heading", "method": "step", "makes": "pieces", "note": ""}
HEADS = ("as written", "read as", "g", "% of flour", "bowl")
HINT = """One ingredient a line, as it stands on paper:

4 cups bread flour
2 eggs
4 oz butter
pinch of salt
makes 16"""


class RecipeDoor(widgets.VBox):
    """A recipe brought in: lines pasted or a file chosen come back as read, with a question where one is in doubt.

    accepted(formula): called with the formula when it is taken; nothing is changed before.
    """

    def __init__(self, accepted):
        super().__init__(layout=WIDE)
        self._accepted, self.recipe, self.formula, self._rows = accepted, None, None, []
        self.text = widgets.Textarea(
            placeholder=HINT,
            description="recipe",
            continuous_update=False,
            layout={"width": "auto", "height": "150px", "flex": "1 1 420px"},
            style={"description_width": "52px"},
        )
        self.upload = widgets.FileUpload(
            accept=".csv,.xlsx,.toml,.txt,.tsv", description="or a file", tooltip="CSV, XLSX, TOML or text"
        )
        self.upload.observe(lambda change: self._uploaded(change["new"]), "value")
        read_button = button("read it", "Read the recipe's lines", self.read, None)
        self.name = NameBox("its name", self.take, width="64px")
        self.take_button = button("take it", "Put it on the shelf and go on with it", self.take, None)
        self.lines = widgets.VBox(layout=WIDE)
        self.said, self.problem = widgets.HTML(), widgets.HTML()
        top = widgets.Box([self.text, widgets.VBox([read_button, self.upload], layout={"width": "auto"})], layout=WRAPS)
        self._end = widgets.Box([self.name, self.take_button], layout={"flex_flow": "row wrap", "display": "none"})
        self.children = [top, self.problem, self.lines, self.said, self._end]

    # what is brought

    def read(self):
        """Read the lines that were typed or pasted."""
        lines = self.text.value.split("\n")
        before = [row.written for row in self.recipe.rows] if self.recipe else []
        same = 2 * len({*lines} & {*before}) > len(lines)  # else it is another recipe, and other answers hold
        self.bring(lambda: read_recipe(self.text.value, self.recipe.answers if same else None))

    def _uploaded(self, files):
        if files:
            name, raw = str(files[0]["name"]), bytes(files[0]["content"])
            own = name.casefold().endswith(".toml")  # a formula of the kit's own
            self.bring(lambda: Formula.parse(raw.decode("utf-8-sig", "replace"), name) if own else read_file(name, raw))
            self.upload.value = ()

    def _tried(self, act):
        """Return what act() gives, None where it refuses; why stands above the lines."""
        try:
            made, self.problem.value = act(), ""
        except KitError as error:
            made, self.problem.value = None, alert(error)
        return made

    def bring(self, reads):
        """Show the Recipe, or the Formula, that reads() gives, or why it gives none."""
        if not (brought := self._tried(reads)):
            return
        self._rows = []
        self.recipe, self.formula = (None, brought) if isinstance(brought, Formula) else (brought, None)
        self.name.value = brought.name if self.formula else brought.title
        if self.recipe:
            self.text.value = "\n".join(row.written for row in brought.rows)
        self._show()

    # what was read of it

    def _show(self):
        """Show every line as read; the controls of one that was asked about stay where they are."""
        self._end.layout.display = ""
        if self.formula:
            self.lines.children = [widgets.HTML(self.formula._repr_html_())]
            self.said.value = status("A formula of the kit's own, as it is.")
            return
        lines = [line for line in self.recipe.lines if line.written.strip()]
        if len(lines) != len(self._rows):
            self._rows = [_Line(self) for _ in lines]
            self.lines.children = [widgets.HTML(_cells(HEADS, f"font-weight:600;color:{look.QUIET}")), *self._rows]
        asked = set()
        for row, line in zip(self._rows, lines, strict=True):
            row.show(line, asked)
        said = [status(_standing(self.recipe)), small(self.recipe.words)] if lines else [status("No line to read yet.")]
        self.said.value = "".join(said)
        self.take_button.disabled = bool(self.recipe.open)

    def answer(self, question, choice):
        """Take an answer, wherever that is asked, and read the lines anew."""
        self._change(lambda: self.recipe.answer(question, choice))

    def mend(self, line, text):
        """Take a line written anew."""
        self._change(lambda: self.recipe.mend(line, text), anew=True)

    def _change(self, makes, anew=False):
        if not (recipe := self._tried(makes)):
            return
        self.recipe = recipe
        if anew:
            self._rows = []
            self.text.value = "\n".join(row.written for row in recipe.rows)
        self._show()

    def take(self):
        """Hand the formula on."""
        name = self.name.value.strip() or None
        if made := self._tried(lambda: self.recipe.formula(name) if self.recipe else self.formula):
            self._accepted(made)


class _Line(widgets.VBox):
    """A line of the recipe: its cells, and below them what is asked of it."""

    def __init__(self, door):
        self.door, self.line, self._about = door, None, []
        self.said, self.asks = widgets.HTML(layout=WIDE | {"margin": "0"}), widgets.Box(layout=WRAPS)
        super().__init__([self.said, self.asks], layout=WIDE)

    def show(self, line, asked):
        """Show the line as read; asked: what is asked already, further up."""
        self.line, question = line, line.question
        asked |= set(self._about)
        if question and question.about not in asked:
            self._about.append(question.about)
            asked.add(question.about)
            self.asks.children += tuple(self._asking(question))
        if question:
            above = "" if question.about in self._about else " Asked above."
            self.said.value = _cells((line.written, question.words + above, line.part))
        else:
            read_as, *figures = self.door.recipe.cells(line)
            self.said.value = _cells((line.written, READ_AS.get(read_as, read_as), *figures, line.part))

    def _asking(self, question):
        """Return what takes an answer: a line that is not read is written anew, or left out; else one is chosen."""
        if self.line.left:
            box = text(question.words, self.line.written.strip(), label="0")
            box.layout = ASKED | {"flex": "0 1 40%"}
            box.observe(lambda change: self.door.mend(self.line, change["new"]), "value")
            return [box, button(LEAVE, "", lambda: self.door.answer(question, LEAVE), 110)]
        choices = [("choose", ""), *((choice, choice) for choice in question.choices)]
        box = dropdown(question.words, choices, label="0")
        box.layout = ASKED | {"max_width": "65%"}
        box.observe(lambda change: change["new"] and self.door.answer(question, change["new"]), "value")
        return [box]


def _cells(cells, look_of=f"color:{look.INK}"):
    """Return a line's cells as HTML, at the width of those above; of three, the middle one is a question."""
    doubtful = len(cells) == 3
    inside = "".join(
        f'<span style="flex:{each};min-width:0;{"text-align:right" if each in FLEX[2:4] else BREAKS}">'
        f"{page.escape(cell)}</span>"
        for each, cell in zip(DOUBTFUL if doubtful else FLEX, cells, strict=True)
    )
    rule = f"border-left:4px solid {look.WRONG}"
    if not doubtful:
        rule = "border-bottom:1px solid #ddd;border-left:4px solid transparent"
    return (
        f'<div style="display:flex;flex-wrap:wrap;gap:0 10px;padding:2px 6px;font-size:13px;'
        f'line-height:1.4;{rule};{look_of}">{inside}</div>'
    )


def _standing(recipe):
    """Return what is still to do, in a sentence."""
    count = recipe.pieces.get("count")
    masses = [f"{without_zeros(figure(grams))} g of {part}" for part, grams in recipe.pieces.items() if part != "count"]
    makes = f" It makes {plural(count, 'piece')}" + (f" of {listing(masses)}." if masses else ".") if count else ""
    if recipe.open:
        return f"{plural(recipe.questions, 'question')} open, at the marked lines; nothing counts before.{makes}"
    return f"Every line is read: look them over, then take it.{makes}"
