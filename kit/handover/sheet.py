"""The production sheet for the crew: what to weigh, what to make, what to check and write down; one printed page."""

import difflib
import math
from dataclasses import dataclass, field
from pathlib import Path

from .. import page, tables
from ..balance.bands import reach
from ..cautions import cautions_for
from ..errors import FormulaError, KitError, must
from ..formula import Bake, Formula
from ..formula.parts import only_one
from ..formula.usual import bake_doubts, check_bake, goods_of, printed
from ..process import predict_yield, stages_in, topping_fit, trays, water_temperature
from ..process.water import constant
from ..units import read, read_date
from ..words import listing, one_of, plain
from .printed import Changes, sheet_page, title_of
from .weighing import (
    bases_of,
    counted,
    grouped,
    left_out,
    length,
    lines_of,
    mass,
    rounded_away,
    taken,
    temperature,
    too_little,
    totals_of,
    trimmed,
)

IN_A_MEAN = 10  # pieces weighed together
COVERAGE = 95.0  # % of good bakes that lie between the limits, so that one alarm in twenty is false
WORKINGS = ("metric", "US")
WATER = ("ingredients", "friction", "mixing_rise", "minutes", "hydration", "butter_melts", "tap", "liquid")


@dataclass(frozen=True)
class Task:
    """One numbered task, with what belongs to it: sizes, temperatures, trays."""

    do: str
    also: tuple = ()


@dataclass(frozen=True)
class Check:
    """One thing to measure and write down: what is aimed at, and the limits outside which to act."""

    what: str
    aim: str = ""
    act: str = ""


@dataclass(frozen=True)
class SheetChanges(Changes):
    """What is new on a sheet: rows of where, what, before, now."""

    columns = ("where", "what", "before", "now")

    @property
    def words(self):
        """What is new, in one line; each part's name once, for paper is short."""
        said, last = [], ""
        for where, what, before, now in self.rows:
            part, _, item = what.partition(", ") if where == "weigh" else ("", "", what)
            named = f"{part}: {item}" if part and part != last else item
            said.append(f"{named} {before or 'not there'} → {now or 'gone'}")
            last = part
        return "; ".join(said) or self.nothing


@dataclass(frozen=True, eq=False)
class ProductionSheet(page.Result):
    """One page for the crew. Lines, totals, tasks and checks are as printed; see `page`."""

    formula: Formula = field(repr=False)
    working: str  # metric or US: the column that is large
    pieces: int
    lines: tuple = field(repr=False)
    bases: dict = field(repr=False)  # part: what its percentages are of, and where it goes
    totals: dict = field(repr=False)  # part it stands under: Total
    tasks: tuple = field(repr=False)
    checks: tuple = field(repr=False)
    allergens: tuple = ()
    varies: str = ""  # name of the formula whose allergens are others
    added: tuple = ()  # allergens that formula has not
    gone: tuple = ()  # allergens that only that formula has
    notes: tuple = ()
    cautions: tuple = field(default=(), repr=False)
    made_by: str = ""
    valid_from: str = ""
    revision: str = ""
    paper: str = "A4"
    grounds: dict = field(default_factory=dict, repr=False)
    to_check: tuple = ()  # what may bring other allergens
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
    def version(self):
        """Fingerprint of the formula and revision of the sheet."""
        return f"formula {self.formula.fingerprint}" + (f", revision {self.revision}" if self.revision else "")

    def frame_rows(self):
        """Return a row a line to weigh."""
        return [(n.part, n.item, n.percentage, n.exact, n.grams, n.ounces, n.american, n.task) for n in self.lines]

    def to_frame(self):
        """Return a DataFrame of the lines; a task is a whole number, or nothing where no step is of the part."""
        return super().to_frame().astype({"task": "Int64"})

    def against(self, other: "ProductionSheet") -> SheetChanges:
        """Return the SheetChanges from another sheet to this one: lines, tasks, checks, allergens, batch.

        Amounts and steps are compared as this sheet prints them, in its working column. Raises FormulaError.
        """
        if not (isinstance(other, ProductionSheet) and other.working == self.working):
            got = f"one in {other.working}" if isinstance(other, ProductionSheet) else type(other).__name__
            do = "make one of the older formula with the same working column"
            raise FormulaError(must("other", f"a production sheet in {self.working}", got, do))
        rows = [
            (where, what, before.get(what, ""), now.get(what, ""))
            for where, now, before in zip(("head", "weigh", "check"), self._told(), other._told(), strict=True)
            for what in dict.fromkeys((*now, *before))
            if now.get(what) != before.get(what)
        ]
        now, before = self._steps(), other._steps()
        match = difflib.SequenceMatcher(None, [text for _, text in before], [text for _, text in now], autojunk=False)
        for tag, a, b, c, d in match.get_opcodes():
            for n in range(max(b - a, d - c) if tag != "equal" else 0):
                was = before[a + n] if a + n < b else ("", "")
                new = now[c + n] if c + n < d else ("", "")
                rows.append(("make", new[0] or was[0], was[1], new[1]))
        return SheetChanges(tuple(rows))

    def _told(self):
        """What head, lines and checks say: {what: text} each."""
        return (
            {
                "name": self.title,
                "batch": counted(self.pieces, "piece"),
                "allergens": listing(self.allergens),
                "to check": listing(self.to_check),
            },
            {f"{n.part}, {n.item}": n.american if self.working == "US" else f"{n.metric} g" for n in self.lines},
            {check.what: "; ".join(filter(None, (check.aim, check.act))) for check in self.checks},
        )

    def _steps(self):
        return [(f"step {n}", text) for n, task in enumerate(self.tasks, 1) for text in (task.do, *task.also)]

    def page(self, paper=None, since=None):
        """Return the whole printable HTML page, A4 or Letter; since: an older sheet, whose differences are told."""
        return sheet_page(self, paper or self.paper, since and self.against(since), since)

    def _repr_html_(self):
        heads = ["lb and oz", "g"] if self.working == "US" else ["g", "lb and oz"]
        rows = [[n.item, n.part, trimmed(n.percentage), *n.shown(self.working), n.task or ""] for n in self.lines]
        strong = range(len(rows), len(rows) + len(self.totals))
        for t in self.totals.values():
            rows.append([t.name, "", trimmed(t.percentage), f"{t.rounded} (true {t.true})", t.other, ""])
        caption = f"{self.title}: {counted(self.pieces, 'piece')}, {self.version}"
        contains = "; ".join(filter(None, self.contains))
        html = f"<p><b>Contains {page.escape(contains)}</b>{page.escape(self.say_varies(' '))}</p>"
        html += page.table(["weigh", "part", "%", *heads, "step"], rows, caption, strong)
        items = page.items("; ".join((task.do, *task.also)) for task in self.tasks)
        html += f'<ol style="font-size:13px;margin:4px 0">{items}</ol>'
        html += page.table(["check and write", "aim", "act if"], [[c.what, c.aim, c.act] for c in self.checks])
        return html + page.paragraphs(self.notes)

    def say_varies(self, before=""):
        """Return in words which allergens this has more or fewer than what it varies; nothing when none."""
        said = [f"adds {listing(self.added).upper()}"] * bool(self.added)
        unless = ", unless what is to check brings it" * bool(self.to_check)
        said += [f"without {listing(self.gone).upper()}{unless}"] * bool(self.gone)
        return f"{before}Other allergens than {self.varies}: {listing(said)}." if said else ""


def production_sheet(
    formula,
    pieces=None,
    flour=None,
    dough=None,
    working="metric",
    made_by="",
    valid_from=None,
    revision="",
    calibration=None,
    room=None,
    flour_temperature=None,
    preferment_temperature=None,
    dough_temperature=None,
    tray="600 x 400 mm",
    oven=None,
    fit=None,
    varies=None,
    paper="A4",
    **water,
):
    """Return the ProductionSheet of a batch for the crew.

    pieces [count], or flour or dough [g or any mass], else the formula's count; working 'metric' or 'US', the large
    column; made_by, revision: text; valid_from [date or 'YYYY-MM-DD'], else a line to write on; calibration: the
    kitchen's own figures; room, flour_temperature, preferment_temperature, dough_temperature [degC or text] and others
    as in `water_temperature`, without a room a line to write on; tray and oven as in `trays`; fit: a ToppingFit, else
    `topping_fit`; varies: the Formula this one varies, else the one its file names; paper A4 or Letter. Masses are
    scaled unrounded, then each line is rounded on its own (scale_steps.csv, sheet_steps.csv). Limits
    hold 95 % of the means of ten pieces. Raises FormulaError, AmountError, UnitError, UnknownName.

    >>> bun = Formula.from_weights("bun", {"flour": 1000, "water": 550, "salt": 18}, pieces={"count": 20, "dough": 60})
    >>> [(line.item, line.metric, line.american) for line in production_sheet(bun).lines]
    [('bread flour', '781', '1 lb 11½ oz'), ('water', '429', '15¼ oz'), ('salt', '14.1', '0.50 oz')]
    """
    only_one(formula, "to be weighed", "choose one")
    bakes = [Bake(oven=step.temperature) for step in formula.steps if "bake" in stages_in(step.do)]
    for bake in (formula.bake, *bakes):
        check_bake(bake)
    working = one_of("working", working, WORKINGS, "say which column is worked in")
    for name in water:
        one_of("temperature", name, WATER)
    page.sheet("", "", paper=paper)  # says at once when there is no such paper
    if not isinstance(varies, Formula | None):
        raise FormulaError(must("varies", "the Formula that this one varies", type(varies).__name__, "read it first"))
    made = predict_yield(formula, flour=flour, dough=dough, pieces=pieces, calibration=calibration)
    if made.pieces < 1:
        raise too_little(formula, made)
    lines = lines_of(formula, made)
    totals = totals_of(formula, lines, working)
    crust = formula.has("topping") and formula.pieces.topping > 0
    fit = (fit or topping_fit(formula, calibration=calibration)) if crust else None
    aim = dough_aim(formula, dough_temperature)
    if room is not None and aim is None:
        raise FormulaError(must("dough temperature", "given, to say how warm the water is", "none", "give it"))
    given = {"room": room, "flour": flour_temperature, "preferment": preferment_temperature, "calibration": calibration}
    poured, grounds = pour(formula, made, aim, given | water, working)
    tins = trays(formula, tray=tray, oven=oven, pieces=made.pieces, calibration=calibration)
    scatter = made.scatter(coverage=COVERAGE)
    hazards = cautions_for(formula)
    origin, missing = _origin(formula) if varies is None else (varies, ())
    others = cautions_for(origin).allergens if origin is not None else hazards.allergens
    short = hazards.short()
    grounds |= {
        "rounding": "scale_steps.csv and sheet_steps.csv: common practice; when sums are told as apart: assumed here",
        **{f"loss, {name}": text for name, text in made.sources().items() if not name.endswith("baking")},
        **{f"scatter, {name}": text for name, text in scatter.sources().items()},
        **({f"topping, {name.replace('_', ' ')}": text for name, text in fit.sources().items()} if fit else {}),
        "trays": tins.sources()[0],
        "core": "; ".join(printed("core", goods_of(formula))[2]),
        "limits": f"hold {COVERAGE:g} % of means of {min(IN_A_MEAN, made.pieces)} pieces; normal, from the scatter",
        **{f"caution, {row['key'].replace('_', ' ')}": tables.ground(row) for row in short},
    }
    return ProductionSheet(
        formula,
        working,
        made.pieces,
        lines,
        bases_of(formula, made, working),
        totals,
        tasks(formula, facts(formula, made, fit, tins, poured, working), working),
        _checks(formula, made, scatter, fit, aim, working),
        allergens=tuple(hazards.allergens),
        varies=origin.name if origin is not None else "",
        added=tuple(a for a in hazards.allergens if a not in others),
        gone=tuple(a for a in others if a not in hazards.allergens),
        notes=(
            *taken(formula),
            *rounded_away(lines, totals, working),
            *left_out(formula),
            *_dry(formula, made),
            *missing,
            *dict.fromkeys(text for bake in (formula.bake, *bakes) for text in bake_doubts(bake, goods_of(formula))),
        ),
        cautions=tuple(row["short"] for row in short),
        made_by=str(made_by or ""),
        valid_from=str(read_date(valid_from, "valid_from") or ""),
        revision=str(revision or ""),
        paper=paper,
        grounds=grounds,
        to_check=hazards.to_check,
    )


def tasks(formula, facts, working):
    """Return the Tasks of a formula: its steps in order, each with the facts {stage: texts} of its stage.

    Facts whose stage no step names become tasks of their own, after the steps.
    """
    waiting, made, fermented = dict(facts), [], False
    for step in formula.steps:
        stages, fermented = _stages(formula, step, fermented)
        also = [text for stage in stages for text in waiting.pop(stage, ())]
        made.append(Task(say_step(step, working), tuple(also)))
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


def say_step(step, working):
    """Return a step of the method in words: what, when, how fast, how long, how warm, until when."""
    said = [step.do]
    if step.at:
        said.append(f"when {step.at}")
    if step.speed:
        said.append(step.speed if "speed" in step.speed.casefold() else f"{step.speed} speed")
    if step.minutes is not None:
        said.append(f"{trimmed(step.minutes)} min")
    if step.temperature is not None:
        said.append(temperature(step.temperature, working, "oven" if "bake" in stages_in(step.do) else "dough"))
    if step.humidity is not None:
        said.append(f"{trimmed(step.humidity)} % RH")
    if step.until:
        said.append(f"until {step.until.removeprefix('until ')}")
    return ", ".join(said)


def facts(formula, made, fit, tins, poured, working):
    """Return {stage: texts} of what a batch needs beside its steps: water, pieces, topping, trays, bake."""
    p, count = formula.pieces, grouped(made.pieces)
    found = {"mix": poured}
    left = f"; {mass(made.dough_left, working, 0)} of dough is left" if made.dough_left >= 1 else ""
    found["divide"] = [f"{count} × {mass(p.dough, working)}{left}"]
    if p.filling and formula.has("filling"):
        found["divide"].append(f"filling {count} × {mass(p.filling, working)}")
    top = []
    if p.wash and formula.has("wash"):
        top.append(f"wash {mass(p.wash, working)} on each")
    if fit is not None:
        disc, thick = length(fit.disc, working), length(fit.thickness, working, "thickness")
        on = f"rounds pressed to {length(2 * fit.shaped.radius, working)}"
        top.append(f"topping {count} × {mass(p.topping, working)}: disc {disc} across, {thick} thick, {on}")
        if fit.pattern != "unscored":
            depth = float(tables.table("piece_defaults").row(what="score_depth")["value"])
            deep = f", {length(depth, working, 'thickness')} deep" if depth < fit.thickness else ""
            top.append(f"score: {fit.pattern}, {length(fit.pitch, working)} apart{deep}")
    last = f" ({tins.on_last} on the last)" if tins.on_last < tins.per_tray and tins.trays > 1 else ""
    loads = f", {counted(tins.loads, 'oven load')}" if tins.loads > 1 else ""
    ways = ", staggered" if tins.packing == "staggered" else ""
    sides = f"{10 * tins.length:g} × {10 * tins.width:g} mm"
    top.append(
        f"{counted(tins.trays, 'tray')} of {sides}, {min(tins.per_tray, tins.pieces)} on each{ways}{last}{loads}"
    )
    found["top"] = top
    if fit is not None and fit.pattern != "unscored":
        found["proof"] = [f"gaps between strips about {length(fit.gap('proofed'), working)}"]
    bake, words = formula.bake, []
    if bake.oven is not None:
        words.append(f"oven {temperature(bake.oven, working, 'oven')}")
    if bake.minutes is not None:
        words.append(f"{trimmed(bake.minutes)} min")
    if bake.core is not None:
        words.append(f"core {temperature(bake.core, working)}")
    words += [f"steam: {bake.steam}"] * bool(bake.steam)
    found["bake"] = [f"Bake: {', '.join(words)}"] if words else []
    return found


def dough_aim(formula, given=None):
    """Return how warm the dough is to come out [degC]: as given, else as the last mixing step says; or None."""
    if given is not None:
        return read(given, "temperature", "dough temperature")
    mixed = [s.temperature for s in formula.steps if plain(s.part) == "dough" and s.temperature is not None]
    bulk = [s.temperature for s in formula.steps if "bulk" in stages_in(s.do) and s.temperature is not None]
    return (mixed or bulk or [None])[-1]


def _liquid(formula):
    """The name of what is poured into the final dough: its water, else the first of its liquids, else nothing."""
    dough = formula.part("dough")
    rows = [formula.ingredients[key] for key in dough.keys if dough.percentage(key) > 0]
    named = [row["name"] for row in rows if row["kind"] == "water"]
    return (named + [row["name"] for row in rows if row["counts_as_liquid"] == "yes"] + [""])[0]


def pour(formula, made, aim, given, working):
    """Return (texts, grounds): how warm the water is poured, with ice where it is needed.

    aim [degC] or None; given: the temperatures of `water_temperature`, a room of None leaves a line to write on.
    """
    if given.get("room") is None:
        out = f", for a dough of {temperature(aim, working)}" if aim is not None else ""
        liquid = _liquid(formula)
        return [f"{liquid}: ______ {'°F' if working == 'US' else '°C'}{out}"] if liquid else [], {}
    grams = made.flour * float(formula.dough_percentages.sum()) / 100
    found = water_temperature(formula, aim, batch=grams, **given)
    kind = formula.ingredients[formula.ingredients.find(found.liquid)]["kind"]
    hottest, goal = constant("warmest water on yeast")[0], f"for a dough of {temperature(aim, working)}"
    chill = [f"{name} chilled to {temperature(to, working)}" for name, _, to, enough in found.chill if enough]
    if found.balance > hottest:
        text = f"at {temperature(hottest, working)}, no hotter; warm the flour or the milk too"
    elif found.balance >= found.tap:
        text = f"at {temperature(found.balance, working)}"
    elif kind == "water" and found.ice <= found.liquid_mass:
        of, rest = mass(found.ice, working, 0), mass(found.liquid_mass - found.ice, working, 0)
        text = f"{of} of it as ice, the other {rest} at {temperature(found.tap, working)}"
        text += f"; or, without ice, {chill[0]}" if chill else ""
    elif kind != "water" and found.balance >= 0:
        text = f"at {temperature(found.balance, working)}"
    else:
        cold = "even all of it as ice" if kind == "water" else "as cold as the refrigerator makes it"
        others = f"chill {listing(name for name, *_ in found.chill) or 'the flour'} too, or mix in a colder room"
        text = f"{cold} is not enough: {listing(chill, 'or') or others}"
    return [f"{found.liquid}: {text}, {goal}"], {"water": "; ".join([*found.sources(), *found.notes[:2]])}


def _checks(formula, made, scatter, fit, aim, working):
    """Return the Checks: what is measured, what is aimed at, and the limits for a mean of ten pieces."""
    many = min(IN_A_MEAN, made.pieces)
    z = reach(COVERAGE)

    def limits(middle, spread):
        low, high = (mass(max(middle + sign * z * spread, 0.0), working, 0, alone=True) for sign in (-1, 1))
        return f"under {low}, over {high}"

    raw, together = many * scatter.piece, " together" * (many > 1)
    baked = many * scatter.baked
    rows = [Check("dough temperature", temperature(aim, working) if aim is not None else "")]
    rows += [
        Check("end of bulk, time", f"until {step.until.removeprefix('until ')}" if step.until else "")
        for step in formula.steps
        if "bulk" in stages_in(step.do)
    ] or [Check("end of bulk, time")]
    within = math.sqrt(many) * float(scatter.dough / scatter.kept)
    rows.append(Check(f"{counted(many, 'raw piece')} of dough{together}", mass(raw, working, 0), limits(raw, within)))
    if fit is not None and fit.pattern != "unscored":
        rows.append(Check("gap at the end of proof", f"about {length(fit.gap('proofed'), working)}"))
    when = tables.table("trial_fields").row(field="baked_mass")["when"]
    spread = math.hypot(math.sqrt(many) * float(scatter.within), many * float(scatter.loss))
    rows.append(Check(f"{many} baked{together}, {when}", mass(baked, working, 0), limits(baked, spread)))
    core, goods = formula.bake.core, goods_of(formula)
    low, high = (temperature(end, working) for end in printed("core", goods)[:2])
    aim = f"usual: {low} to {high}" if core is None else temperature(core, working)
    filled = "; a filling: local codes" * (goods == "filled goods")
    rows.append(Check("core of the middle piece", aim, f"under {low}{filled}"))
    return tuple(rows)


def _origin(formula):
    """Return (the formula this one varies or None, notes when it cannot be read)."""
    try:
        if formula.path and formula.text:
            saved = Formula.parse(formula.text, Path(formula.path).name, folder=Path(formula.path).parent)
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
    held, at = [kind for kind in ("dough", "topping") if any(text.startswith(kind) for text in made.capped)], "water"
    keys = [key for part in formula.parts if part.kind in held for key in part.keys]
    known = formula.ingredients.known[:, tables.COLUMNS.index(at)]
    dry = dict.fromkeys(formula.ingredients[k]["name"] for k in keys if not known[formula.ingredients.row(k)])
    return [f"Water in {listing(dry)} is not known: the baked mass is at most what is aimed at"] if dry else []
