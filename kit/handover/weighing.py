"""What the crew weighs: each line as scaled and as the scale shows it, and what rounding does to the sums."""

from dataclasses import dataclass

from ..formula import Batch, round_to_scale
from ..formula.formula import DOUGH, KINDS
from ..words import figure, listing
from .bench import grouped, in_grams, in_ounces, mass, pounds_and_ounces, step_of
from .tasks import task_of


@dataclass(frozen=True)
class Line:
    """One thing to weigh: as scaled, and rounded to the scale's step in g and in oz."""

    part: str
    item: str
    percentage: float
    exact: float  # [g]
    grams: float  # to weigh [g]
    grams_step: float
    ounces: float  # to weigh [oz]
    ounces_step: float
    task: int | None = None  # number of the task in which it goes in

    @property
    def metric(self):
        """The mass to weigh in g, as text."""
        return grouped(self.grams, 0 if self.grams_step >= 1 else 1)

    @property
    def american(self):
        """The mass to weigh in lb and oz, as text."""
        return pounds_and_ounces(self.ounces, self.ounces_step)


@dataclass(frozen=True)
class Total:
    """What lines add up to: as rounded, and as scaled without rounding [g, or oz on an American sheet]."""

    name: str
    percentage: float
    exact: float  # [g]
    rounded: str
    true: str
    other: str  # in the column that is not worked in
    apart: float  # rounded - true [% of true]


def _batch(formula, made):
    """The Batch of a yield: dough for its flour, topping with its own loss made good, wash and filling on pieces."""
    grams = {}
    for part in sorted(formula.parts, key=lambda part: KINDS.index(part.kind)):  # as the bench comes to them
        if part.kind in (*DOUGH, "inclusion", "dusting"):
            whole = made.flour
        elif part.kind == "topping":
            whole = made.topping_to_mix / (part.mass / 100)
        else:
            whole = made.pieces * getattr(formula.pieces, part.kind) / (part.mass / 100)
        lines = [(key, float(value) * whole / 100) for key, value in zip(part.keys, part.percentages, strict=True)]
        lines.sort(key=lambda line, part=part: task_of(formula, part, line[0]) or 0)
        grams |= {(part.name, key): value for key, value in lines if value > 0}
    return Batch(formula, made.flour, grams)


def lines_of(formula, made):
    """Return the Lines of a Yield, in the order in which the bench comes to them."""
    batch, lines = _batch(formula, made), []
    for (part, key), row in zip(batch.grams, round_to_scale(batch).itertuples(index=False), strict=True):
        bowl, kind = formula.part(part), formula.ingredients[key]["kind"]
        _, item, exact, grams, _, step = row
        percentage, task = float(bowl.percentage(key)), task_of(formula, bowl, key)
        lines.append(Line(part, item, percentage, exact, grams, step, *in_ounces(exact, kind), task))
    return tuple(lines)


def rounded_away(lines, totals, working):
    """Return in words which lines and sums rounding moves further than sheet_steps.csv allows."""
    said, most = [], step_of("line apart", "%")
    for line in lines:
        text, weighed = f"{line.metric} g", line.grams
        if working == "US":
            text, weighed = line.american, line.ounces * in_grams()
        off = 100 * (weighed / line.exact - 1)
        if abs(off) > most:
            far = f"{figure(abs(off), 0)} % too {'much' if off > 0 else 'little'}"
            said.append(f"{line.part}, {line.item}: {text} is {far}: take a finer scale, or make more")
    most = step_of("sum apart", "%")
    for total in totals.values():
        if abs(total.apart) > most:
            far = f"{figure(abs(total.apart), 2)} % {'over' if total.apart > 0 else 'under'} the true sum"
            said.append(f"{total.name}: the rounded lines are {far}: take a finer scale, or make more")
    return said


def totals_of(formula, lines, working):
    """Return {part it stands under: Total}: the dough with all its bowls, and each other part of several lines."""
    groups = {}
    for line in lines:
        kind = formula.part(line.part).kind
        groups.setdefault("dough" if kind in (*DOUGH, "inclusion") else line.part, []).append(line)
    found = {}
    for name, some in groups.items():
        if len(some) < 2:
            continue
        exact = sum(line.exact for line in some)
        us = working == "US"
        rounded = sum(line.ounces for line in some) if us else sum(line.grams for line in some)
        true = exact / in_grams() if us else exact
        say = pounds_and_ounces if us else lambda grams: grouped(grams, 1)
        other = f"{grouped(exact)}" if us else pounds_and_ounces(*in_ounces(exact))
        whole = sum(line.percentage for line in some)
        found[some[-1].part] = Total(
            f"Total {name}", whole, exact, say(rounded), say(true), other, 100 * (rounded / true - 1)
        )
    return found


def bases_of(formula, made, working):
    """Return {part: what is said beside its name}: what its percentages are of, and where it goes."""
    said, count = {}, grouped(made.pieces)
    first = [part.name for part in formula.bowls if part.kind != "dough"]
    for part in formula.parts:
        said[part.name] = f"% of {formula.base_words(part).replace(f'the {part.name}', 'its')}".replace("its's", "its")
        if part.kind == "dough" and first:
            said[part.name] += f"; into the mixer with all of the {listing(first)}"
        if part.kind in ("topping", "filling", "wash"):
            each = mass(getattr(formula.pieces, part.kind), working, alone=True)
            loss = " and what is lost on the way" if made.topping_to_mix > made.topping_needed * 1.0001 else ""
            said[part.name] += f"; {count} × {each}{loss if part.kind == 'topping' else ''}"
    return said
