"""The production sheet for the crew: what to weigh, what to make, what to check and write down; one printed page."""

import functools
import inspect
import itertools
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from .. import page, tables
from ..balance.accounts import lines_of as sums_over
from ..balance.accounts import unknown_in
from ..balance.bands import reach
from ..cautions import cautions_for
from ..errors import FormulaError, KitError, must
from ..formula import Bake, Formula
from ..formula.parts import only_one
from ..formula.usual import bake_doubts, check_bake, goods_of, printed
from ..process import ToppingFit, stages_in, topping_fit, trays, water_temperature
from ..process.heat import constant, poured_into
from ..process.water import WAYS, dough_aim
from ..tables import told
from ..units import read, read_date
from ..words import capital, listing, one_of, plain
from .printed import Changes, sheet_page, title_of
from .weighing import (
    Bench,
    Line,
    Total,
    bases_of,
    counted,
    grouped,
    left_out,
    lines_of,
    made_of,
    rounded_away,
    taken,
    totals_of,
    trimmed,
)

IN_A_MEAN = 10  # pieces weighed together
COVERAGE = 95.0  # % of good bakes that lie between the limits, so that one alarm in twenty is false
WORKINGS = ("metric", "US")
ASKED = (*list(inspect.signature(water_temperature).parameters)[1:-1], *WAYS)  # what `water` may say
LAID = ("tray", "oven")  # what `trays` is told
ROUNDED = "scale_steps.csv and sheet_steps.csv: common practice; when a line is told as apart: assumed here"


@dataclass(frozen=True)
class Task:
    """One numbered task, with what belongs to it: sizes, temperatures, trays."""

    do: str
    also: tuple[str, ...] = ()

    @property
    def texts(self):
        """What is done, and what belongs to it."""
        return (self.do, *self.also)


@dataclass(frozen=True)
class Check:
    """One thing to measure and write down: what is aimed at, and the limits outside which to act."""

    what: str
    aim: str = ""
    act: str = ""


@dataclass(frozen=True, eq=False)
class ProductionSheet(page.Result):
    """One page for the crew. Lines, totals, tasks and checks are as printed; see `page`."""

    formula: Formula = field(repr=False)
    working: str  # metric or US: the column that is large
    pieces: int
    lines: tuple[Line, ...] = field(repr=False)
    bases: dict[str, str] = field(repr=False)  # part: what its percentages are of, and where it goes
    totals: dict[str, Total] = field(repr=False)  # part it stands under: Total
    tasks: tuple[Task, ...] = field(repr=False)
    checks: tuple[Check, ...] = field(repr=False)
    allergens: tuple[str, ...] = ()
    to_check: tuple[str, ...] = ()  # what may bring other allergens
    varies: str = ""  # name of the formula whose allergens are others
    added: tuple[str, ...] = ()  # allergens that formula has not
    gone: tuple[str, ...] = ()  # allergens that only that formula has
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = field(default=(), repr=False)
    made_by: str = ""
    valid_from: str = ""
    revision: str = ""
    grounds: dict[str, str] = field(default_factory=dict, repr=False)
    columns = ("part", "ingredient", "percentage", "exact, g", "to weigh, g", "to weigh, oz", "lb and oz", "task")
    named = False

    @property
    def title(self):
        """The formula's name, marked when invented."""
        return title_of(self.formula)

    @property
    def contains(self):
        """What the box says: the allergens known, and what is to be checked for others."""
        known = ", ".join(self.allergens).upper() or "no allergen known"
        return known, f"to check: {listing(self.to_check)}" * bool(self.to_check)

    @property
    def other_allergens(self):
        """Which allergens this has more or fewer than what it varies, in words; nothing when none."""
        said = [f"adds {listing(self.added).upper()}"] * bool(self.added)
        unless = ", unless what is to check brings it" * bool(self.to_check)
        said += [f"without {listing(self.gone).upper()}{unless}"] * bool(self.gone)
        return f"Other allergens than {self.varies}: {listing(said)}." if said else ""

    @property
    def version(self):
        """Fingerprint of the formula and revision of the sheet."""
        return f"formula {self.formula.fingerprint}" + (f", revision {self.revision}" if self.revision else "")

    @property
    def words(self):
        """What it is of, and what it contains."""
        of = f"{self.title}: {counted(self.pieces, 'piece')}, {self.version}."
        return f"{of} Contains {'; '.join(filter(None, self.contains))}. {self.other_allergens}".strip()

    def frame_rows(self):
        """Return a row a line to weigh."""
        return [(n.part, n.item, n.percentage, n.exact, n.grams, n.ounces, n.american, n.task) for n in self.lines]

    def to_frame(self):
        """Return a DataFrame of the lines; a task is a whole number, or nothing where no step is of the part."""
        return super().to_frame().astype({"task": "Int64"})

    def tables(self):
        """Return what to weigh, to make and to check as tables."""
        heads = ("1 Weigh", "%", *(("lb and oz", "g") if self.working == "US" else ("g", "lb and oz")), "step")
        rows, strong = [], []
        for part in dict.fromkeys(line.part for line in self.lines):
            strong.append(len(rows))
            rows.append([f"{capital(part)}: {self.bases[part]}"])
            of_part = (n for n in self.lines if n.part == part)
            rows += [[f"☐ {n.named}", trimmed(n.percentage), *n.shown(self.working), n.task or ""] for n in of_part]
            if t := self.totals.get(part):
                strong.append(len(rows))
                rows.append([f"{t.name} (true {t.true})", trimmed(t.percentage), t.rounded, t.other, ""])
        made = [[n, "; ".join(task.texts)] for n, task in enumerate(self.tasks, 1)]
        checked = [[capital(c.what), "", c.aim, c.act] for c in self.checks]
        heads_of_checks = ("3 Check and write", "measured", "aim", "act if")
        return [(heads, rows, "", strong), (("", "2 Make"), made), (heads_of_checks, checked)]

    def against(self, other: "ProductionSheet") -> Changes:
        """Return the Changes from another sheet to this one: allergens, batch, tasks, checks, lines.

        Lines stand with those first that move the most [g]. Amounts and steps are compared as this sheet prints them,
        in its working column. Raises FormulaError.
        """
        if other.working != self.working:
            do = "make one of the older formula with the same working column"
            raise FormulaError(must("other", f"a production sheet in {self.working}", f"one in {other.working}", do))
        now, before = self._told(), other._told()
        rows = [(*what, before.get(what, ("",))[0], now.get(what, ("",))[0]) for what in dict.fromkeys((*now, *before))]
        new, old = self._steps(), other._steps()  # {text: its step}: a step put between two leaves the others alone
        gone, come = ([text for text in these if text not in those] for these, those in ((old, new), (new, old)))
        for gone_, text in itertools.zip_longest(gone, come, fillvalue=""):
            rows.append(("make", new.get(text) or old[gone_], gone_, text))

        def matters(row):
            exact, was = (told.get(row[:2], ("", 0.0))[-1] for told in (now, before))
            return ("head", "make", "check", "weigh").index(row[0]), -abs(exact - was) if row[0] == "weigh" else 0

        changed = tuple(sorted((row for row in rows if row[2] != row[3]), key=matters))
        return Changes(changed, ("where", "what", "before", "now"))

    def _told(self):
        """What head, lines and checks say: {(where, what): (text, g of a line)}."""
        said = [("head", "allergens", listing(self.allergens)), ("head", "to check", listing(self.to_check))]
        said += [("head", "batch", counted(self.pieces, "piece")), ("head", "name", self.title)]
        said += [("check", check.what, "; ".join(filter(None, (check.aim, check.act)))) for check in self.checks]
        told = {(where, what): (text, 0.0) for where, what, text in said}
        unit = " g" * (self.working != "US")
        return told | {("weigh", f"{n.part}, {n.item}"): (n.shown(self.working)[0] + unit, n.exact) for n in self.lines}

    def _steps(self):
        return {text: f"step {n}" for n, task in enumerate(self.tasks, 1) for text in task.texts}

    def page(self, paper: str = "A4", since: "ProductionSheet | None" = None) -> str:
        """Return the whole printable HTML page, A4 or Letter; since: an older sheet, whose differences are told."""
        return sheet_page(self, paper, since and self.against(since), since)


def production_sheet(
    formula: Formula,
    pieces: int | str | None = None,
    flour: float | str | None = None,
    dough: float | str | None = None,
    working: str = "metric",
    water: dict[str, Any] | None = None,
    made_by: str = "",
    valid_from: Any = None,
    revision: str | int = "",
    calibration: Any = None,
    fit: ToppingFit | None = None,
    **laid: Any,
) -> ProductionSheet:
    """Return the ProductionSheet of a formula: what to weigh, to make, to check and to write down, for one A4 page.

    pieces, flour, dough: how much is made [count; g or any mass], one of them; else the formula's own count.
    working: metric or US, the column that is printed large.
    water: what `water_temperature` takes, such as {"room": 20, "flour": 18} [degC or text]; without a room there is a
        line to write on. The dough's own temperature is that of its steps unless it stands here too.
    made_by, valid_from, revision: who made the sheet, from which day it holds (2025-03-14), which one it is.
    calibration: with the kitchen's own losses and scatter.
    fit: what `topping_fit` returns, where the disc is another than the usual.
    laid: tray, its sides, and oven, how many trays it takes at once [count], as in `trays`.

    Masses are scaled unrounded, then each line is rounded on its own (scale_steps.csv, sheet_steps.csv). Limits hold
    95 % of the means of ten pieces. Raises FormulaError, AmountError, UnitError, UnknownName.

    >>> bun = Formula.from_weights("bun", {"flour": 1000, "water": 550, "salt": 18}, makes={"pieces": 20, "piece": 60})
    >>> [(line.item, line.metric, line.american) for line in production_sheet(bun).lines]
    [('bread flour', '781', '1 lb 11½ oz'), ('water', '429', '15¼ oz'), ('salt', '14.1', '0.50 oz')]
    """
    only_one(formula, "to be weighed", "choose one")
    bakes = [formula.bake, *(Bake(oven=step.temperature) for step in formula.steps if "bake" in stages_in(step.do))]
    for bake in bakes:
        check_bake(bake)
    bench = Bench(one_of("working", working, WORKINGS, "say which column is worked in"))
    made = made_of(formula, flour, dough, pieces, calibration)
    lines = lines_of(formula, made)
    crust = formula.has("topping") and formula.pieces.topping > 0
    fit = (fit or topping_fit(formula, calibration=calibration)) if crust else None
    aim, poured, grounds = pour(formula, made, water or {}, calibration, bench)
    laid = {one_of("argument", name, LAID): value for name, value in laid.items()}
    tins = trays(formula, pieces=made.pieces, calibration=calibration, **laid)
    scatter = made.scatter(coverage=COVERAGE)
    hazards = cautions_for(formula)
    origin, missing = _origin(formula)
    allergens = tuple(hazards.allergens)
    others = allergens if origin is None else tuple(cautions_for(origin).allergens)
    goods = goods_of(formula)
    for what, rests_on in {"loss": made, "scatter": scatter, **({"topping": fit} if fit else {})}.items():
        grounds |= {f"{what}, {name.replace('_', ' ')}": text for name, text in rests_on.sources().items()}
    grounds |= {f"caution, {row.key.replace('_', ' ')}": tables.ground(row) for row in hazards.short()}
    return ProductionSheet(
        formula,
        bench.working,
        made.pieces,
        lines,
        bases_of(formula, made, bench),
        totals_of(formula, lines, bench),
        tasks(formula, facts(formula, made, fit, tins, poured, bench), bench),
        _checks(formula, made, scatter, fit, aim, bench),
        allergens,
        hazards.to_check,
        origin.name if origin is not None else "",
        tuple(word for word in allergens if word not in others),
        tuple(word for word in others if word not in allergens),
        (
            *taken(formula),
            *rounded_away(lines, bench),
            *left_out(formula),
            *_dry(formula, made),
            *missing,
            *dict.fromkeys(text for bake in bakes for text in bake_doubts(bake, goods)),
        ),
        tuple(row.short for row in hazards.short()),
        str(made_by or ""),
        str(read_date(valid_from, "valid_from") or ""),
        str(revision or ""),
        grounds | {"rounding": ROUNDED, "trays": tins.sources()["trays"], "core": "; ".join(printed("core", goods)[2])},
    )


def tasks(formula, facts, bench):
    """Return the Tasks of a formula: its steps in order, each with the facts {stage: texts} of its stage.

    Facts whose stage no step names become tasks of their own, after the steps.
    """
    waiting, made, fermented = dict(facts), [], False
    for step in formula.steps:
        stages, fermented = _stages(formula, step, fermented)
        also = [text for stage in stages for text in waiting.pop(stage, ())]
        made.append(Task(say_step(step, bench), tuple(also)))
    made += [Task(texts[0], tuple(texts[1:])) for texts in waiting.values() if texts]
    return tuple(made)


def _stages(formula, step, fermented):
    """Return the stages whose facts a step takes, and whether the preferments' own step has gone by."""
    held, part = stages_in(step.do), plain(step.part)
    first = [p.name for p in formula.bowls if p.kind != "dough"]
    if part in map(plain, first) or ("sponge" in held and first and not fermented and part != "dough"):
        return (), True
    if part == "dough" and (step.speed or "mix" in held):
        return ("mix",), True
    return tuple("divide" if stage == "shape" else stage for stage in held), fermented or "mix" in held


def say_step(step, bench):
    """Return a step of the method in words: what, when, how fast, how long, how warm, until when."""
    what = "oven" if "bake" in stages_in(step.do) else "dough"
    figures = vars(step) | {
        "speed": step.speed if "speed" in step.speed.casefold() else step.speed and f"{step.speed} speed",
        "minutes": known(trimmed, step.minutes),
        "warmth": known(bench.temperature, step.temperature, what),
        "humidity": known(trimmed, step.humidity),
        "until": step.until.removeprefix("until "),
    }
    return ", ".join(told("paper_words", figures, paper="sheet", what="step"))


def known(words, value, *how):
    """Return the words of a value, none where it is not known."""
    return "" if value is None else words(value, *how)


def facts(formula, made, fit, tins, poured, bench):
    """Return {stage: texts} of what a batch needs beside its steps: water, pieces, topping, trays, bake."""
    p, bake = formula.pieces, formula.bake
    left = f"; {bench.mass(made.dough_left, 0)} of dough is left" if made.dough_left >= 1 else ""
    figures = {
        "count": grouped(made.pieces),
        "piece": f"{bench.mass(p.dough)}{left}",
        "filling": formula.has("filling") and p.filling and bench.mass(p.filling),
        "wash": formula.has("wash") and p.wash and bench.mass(p.wash),
        "tins": tins.words.partition(": ")[2].replace(" x ", " × "),
        "oven": known(bench.temperature, bake.oven, "oven"),
        "minutes": known(trimmed, bake.minutes),
        "core": known(bench.temperature, bake.core),
        "steam": bake.steam,
    }
    if fit is not None:
        figures |= {"topping": bench.mass(p.topping), "disc": bench.length(fit.disc)}
        figures |= {"thickness": bench.length(fit.thickness, "thickness")}
        figures |= {"round": bench.length(2 * fit.shaped.radius)}
    if fit is not None and fit.scored:
        depth = tables.table("piece_defaults").row(what="score_depth").value
        deep = f", {bench.length(depth, 'thickness')} deep" if depth < fit.thickness else ""
        figures |= {"pattern": fit.pattern, "pitch": f"{bench.length(fit.pitch)} apart{deep}"}
        figures |= {"gap": bench.length(fit.gap("proofed"))}
    said = {each: told("paper_words", figures, paper="sheet", what=each) for each in ("divide", "top", "proof", "bake")}
    return {"mix": poured} | said | {"bake": [f"Bake: {', '.join(said['bake'])}"] if said["bake"] else []}


def pour(formula, made, given, calibration, bench):
    """Return (how warm the dough is to be [degC] or None, texts, grounds): how warm the water is poured, with ice.

    given: what `water_temperature` takes; without a room there is a line to write on.
    """
    given = {one_of("water", name, ASKED): value for name, value in given.items()}
    aim = given.pop("dough_temperature", None)
    aim = dough_aim(formula) if aim is None else read(aim, "temperature", "dough temperature")
    goal = "" if aim is None else f", for a dough of {bench.temperature(aim)}"
    liquid = poured_into(formula)
    if given.get("room") is None:
        return aim, [f"{liquid.name}: ______ {'°F' if bench.working == 'US' else '°C'}{goal}"] if liquid else [], {}
    if aim is None:
        raise FormulaError(must("dough temperature", "given, to say how warm the water is", "none", "give it"))
    grams = made.flour * float(formula.dough_percentages.sum()) / 100
    found = water_temperature(formula, aim, **{"batch": grams, "calibration": calibration} | given)
    frozen, hottest = liquid.kind == "water", constant("warmest water on yeast")[0]
    text = f"at {bench.temperature(found.balance)}"
    if found.balance > hottest:
        text = f"at {bench.temperature(hottest)}, no hotter; warm the flour or the milk too"
    elif frozen and found.balance < found.tap and found.ice <= found.liquid_mass:
        of, rest = bench.mass(found.ice, 0), bench.mass(found.liquid_mass - found.ice, 0)
        text = f"{of} of it as ice, the other {rest} at {bench.temperature(found.tap)}"
    elif found.balance < 0 or (frozen and found.balance < found.tap):
        cold = "even all of it as ice" if frozen else "as cold as the refrigerator makes it"
        others = listing(name for name, *_ in found.chill) or "the flour"
        text = f"{cold} is not enough: chill {others} too, or mix in a colder room"
    return aim, [f"{found.liquid}: {text}{goal}"], {"water": "; ".join([*found.sources(), *found.notes[:2]])}


def _checks(formula, made, scatter, fit, aim, bench):
    """Return the Checks: what is measured, what is aimed at, and the limits for a mean of ten pieces."""
    many = min(IN_A_MEAN, made.pieces)
    root, together = math.sqrt(many), " together" * (many > 1)

    def weighed(what, middle, spread):
        ends = [max(middle + sign * reach(COVERAGE) * spread, 0.0) for sign in (-1, 1)]
        low, high = (bench.mass(end, 0, alone=True) for end in ends)
        return Check(what, bench.mass(middle, 0), f"under {low}, over {high}")

    bulk = [step.until for step in formula.steps if "bulk" in stages_in(step.do)] or [""]
    core, goods = formula.bake.core, goods_of(formula)
    low, high = (bench.temperature(end) for end in printed("core", goods)[:2])
    filled = "; a filling: local codes" * (goods == "filled goods")
    when = tables.table("trial_fields").row(field="baked_mass").when
    spread = math.hypot(root * float(scatter.within), many * float(scatter.loss))
    rows = [Check("dough temperature", known(bench.temperature, aim))]
    rows += [Check("end of bulk, time", until and f"until {until.removeprefix('until ')}") for until in bulk]
    raw = f"{counted(many, 'raw piece')} of dough{together}"
    rows.append(weighed(raw, many * scatter.piece, root * float(scatter.dough / scatter.kept)))
    if fit is not None and fit.scored:
        rows.append(Check("gap at the end of proof", f"about {bench.length(fit.gap('proofed'))}"))
    rows.append(weighed(f"{many} baked{together}, {when}", many * scatter.baked, spread))
    aim = f"usual: {low} to {high}" if core is None else bench.temperature(core)
    return (*rows, Check("core of the middle piece", aim, f"under {low}{filled}"))


@functools.lru_cache(maxsize=8)  # a dial that is moved asks for the same one each time
def _saved(text, path, ingredients):
    """Return the Formula that a file's text holds; read anew where the house's ingredients were."""
    return Formula.parse(text, path.name, folder=path.parent)


def _origin(formula):
    """Return (the formula this one varies or None, notes when it cannot be read)."""
    try:
        if formula.path and formula.text:
            saved = _saved(formula.text, Path(formula.path), formula.ingredients)
            if saved.fingerprint != formula.fingerprint:  # varied since it was read
                return saved, ()
        if not formula.parent:
            return None, ()
        for name in (formula.parent, formula.parent.rpartition(" ")[0]):
            beside = Path(formula.path or "").parent / Path(name).name
            if name and beside.is_file():
                return Formula.read(beside), ()
        why = "is not beside it"
    except KitError:
        why = "cannot be read"
    return None, (f"Allergens are not compared: {formula.parent or 'the formula it varies'} {why}",)


def _dry(formula, made):
    """Say of what the water is not known where a baking loss was held to it: unknown is not none."""
    held = [kind for kind in ("dough", "topping") if any(text.startswith(kind) for text in made.capped)]
    dry = dict.fromkeys(name for kind in held for name, _ in unknown_in(formula, sums_over(formula, kind), "water"))
    return [f"Water in {listing(dry)} is not known: the baked mass is at most what is aimed at"] if dry else []
