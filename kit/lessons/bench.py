"""From the page to the bench: one thing to weigh at the end of each lesson; predict, do, enter, compare."""

from dataclasses import dataclass, field

from .. import page, places
from ..balance import measure
from ..cautions import FIRST
from ..formula import Formula
from ..process import predict_yield
from ..tables import Row, ground, table
from ..units import read_above
from ..words import figure
from .kinds import holds, lesson_named
from .steps import n

FLOUR, BUTTER, TRAY = 500, 100, 12  # g of flour, g of butter, buns: as bench_tasks.csv puts it


@dataclass(frozen=True)
class BenchTask(page.Result):
    """What to weigh at the end of a lesson, and what the kit expects there."""

    title: str
    predict: str  # the question
    do: str
    measure: str
    why: str  # it comes out otherwise
    expected: float  # what the scale should show [g]
    row: Row = field(repr=False)

    @property
    def words(self):
        """What to predict, what to do, and what to measure."""
        return f"{self.title}. Predict: {self.predict} Do: {self.do} Measure: {self.measure}."

    @property
    def cautions(self):
        """The cautions, local codes first."""
        rows = (row for row in table("cautions").rows if row.key in self.row.cautions.split())
        return [FIRST, *(row.short or f"{row.hazard} {row.control}" for row in rows)]

    @property
    def notes(self):
        """The cautions, and what the task rests on."""
        return [*self.cautions, f"Task: {ground(self.row)}."]

    def weighed(self, predicted, measured):
        """Return in words how prediction, scale and kit lie to each other; both [g or any mass]. Raises AmountError."""
        told, shown = (
            read_above(each, "mass", name) for each, name in ((predicted, "predicted"), (measured, "measured"))
        )
        off, beside = (100 * (shown / each - 1) for each in (told, self.expected))
        more, beyond = (f"{figure(abs(each))} % {'more' if each > 0 else 'less'}" for each in (off, beside))
        said = (
            f"You predicted {n(told, 1)} g, the scale shows {n(shown, 1)} g: {more}. "
            f"The kit works out {n(self.expected, 1)} g; the scale shows {beyond} than that"
        )
        if self.row.low_percent <= beside <= self.row.high_percent:
            return f"{said}, as is usual. {self.why}"
        return f"{said}: further off than is usual. {self.why} Weigh again, the empty vessel too."


def bench_task(lesson, formula=None):
    """Return the BenchTask of a lesson, by its name or number, for a formula or the demo bun. Raises FormulaError.

    >>> task = bench_task("hidden water and fat")
    >>> round(task.expected, 1)
    17.9
    """
    row = table("bench_tasks").row(lesson=lesson_named(lesson))
    formula = formula or Formula.read(places.notebooks() / "formulas" / "crackle_bun.toml")
    if row.task == "dough":
        given = measure(formula, "total_percentage")
        expected = FLOUR * given / 100
    elif row.task == "butter":
        given, expected = BUTTER, BUTTER * holds("unsalted butter", "water") / 100
    else:
        made = predict_yield(formula, pieces=TRAY)
        given, expected = made.raw_piece, TRAY * made.baked_piece
    words = (
        row[name].format(given=n(given), name=formula.name) for name in ("title", "predict", "do", "measure", "why")
    )
    return BenchTask(*words, expected=float(expected), row=row)
