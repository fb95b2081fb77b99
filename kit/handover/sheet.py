"""The production sheet for the crew: what to weigh, what to make, what to check and write down; one printed page."""

import datetime
import difflib
import math
from dataclasses import dataclass, field
from pathlib import Path
from statistics import NormalDist

from .. import page, tables
from ..cautions import cautions_for
from ..errors import AmountError, FormulaError, KitError, UnknownName, must
from ..formula import Formula
from ..formula.files import parse
from ..process import predict_yield, scaling_scatter, stages_in, topping_fit, trays
from ..words import did_you_mean, listing, plain
from .bench import counted, length, mass, temperature, trimmed
from .printed import print_sheet
from .tasks import dough_aim, facts, pour, tasks
from .weighing import bases_of, lines_of, rounded_away, totals_of

IN_A_MEAN = 10  # pieces weighed together
COVERAGE = 95.0  # % of good bakes that lie between the limits, so that one alarm in twenty is false
WORKINGS = ("metric", "US")
WATER = ("ingredients", "friction", "mixing_rise", "minutes", "hydration", "butter_melts", "tap", "liquid")


@dataclass(frozen=True)
class Check:
    """One thing to measure and write down: what is aimed at, and the limits outside which to act."""

    what: str
    aim: str = ""
    act: str = ""


@dataclass(frozen=True)
class SheetChanges:
    """What is new on a sheet: rows of where, what, before, now."""

    rows: tuple

    def __bool__(self):
        return bool(self.rows)

    def to_frame(self):
        """Return a DataFrame: where, what, before, now."""
        import pandas as pd

        return pd.DataFrame(list(self.rows), columns=["where", "what", "before", "now"])

    def __str__(self):
        said, last = [], ""
        for where, what, before, now in self.rows:
            part, _, item = what.partition(", ") if where == "weigh" else ("", "", what)
            named = f"{part}: {item}" if part and part != last else item  # each part's name once: paper is short
            said.append(f"{named} {before or 'not there'} → {now or 'gone'}")
            last = part
        return "; ".join(said) or "nothing new"

    def _repr_html_(self):
        return page.table(["where", "what", "before", "now"], self.rows, "" if self.rows else "Nothing new")


@dataclass(frozen=True, eq=False)
class ProductionSheet:
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

    @property
    def title(self):
        """The formula's name, marked when invented."""
        return self.formula.name + (" (invented)" if self.formula.invented else "")

    @property
    def version(self):
        """Fingerprint of the formula and revision of the sheet."""
        return f"formula {self.formula.fingerprint}" + (f", revision {self.revision}" if self.revision else "")

    def to_frame(self):
        """Return a DataFrame: part, ingredient, percentage, exact [g], to weigh [g], to weigh [oz], lb and oz, task."""
        import pandas as pd

        rows = [
            (n.part, n.item, n.percentage, n.exact, n.grams, n.ounces, n.american, n.task) for n in self.lines
        ]  # fmt: skip
        columns = ["part", "ingredient", "percentage", "exact, g", "to weigh, g", "to weigh, oz", "lb and oz", "task"]
        return pd.DataFrame(rows, columns=columns).astype({"task": "Int64"})

    def changes_from(self, other):
        """Return the SheetChanges from another sheet to this one: lines, tasks, checks, allergens, batch.

        Amounts and steps are compared as this sheet prints them, in its working column. Raises FormulaError.
        """
        if not (isinstance(other, ProductionSheet) and other.working == self.working):
            got = f"one in {other.working}" if isinstance(other, ProductionSheet) else type(other).__name__
            do = "make one of the older formula with the same working column"
            raise FormulaError(must("other", f"a production sheet in {self.working}", got, do))
        rows = []
        for where, now, before in (
            ("head", self._head(), other._head()),
            ("weigh", self._weigh(), other._weigh()),
            ("check", self._checks(), other._checks()),
        ):
            for what in dict.fromkeys((*now, *before)):
                if now.get(what) != before.get(what):
                    rows.append((where, what, before.get(what, ""), now.get(what, "")))
        now, before = self._steps(), other._steps()
        match = difflib.SequenceMatcher(None, [text for _, text in before], [text for _, text in now], autojunk=False)
        for tag, a, b, c, d in match.get_opcodes():
            for n in range(max(b - a, d - c) if tag != "equal" else 0):
                was = before[a + n] if a + n < b else ("", "")
                new = now[c + n] if c + n < d else ("", "")
                rows.append(("make", new[0] or was[0], was[1], new[1]))
        return SheetChanges(tuple(rows))

    def _head(self):
        return {"name": self.title, "batch": counted(self.pieces, "piece"), "allergens": listing(self.allergens)}

    def _steps(self):
        return [(f"step {n}", text) for n, task in enumerate(self.tasks, 1) for text in (task.do, *task.also)]

    def _weigh(self):
        return {f"{n.part}, {n.item}": n.american if self.working == "US" else f"{n.metric} g" for n in self.lines}

    def _checks(self):
        return {check.what: "; ".join(filter(None, (check.aim, check.act))) for check in self.checks}

    def sources(self):
        """Return what the rounding, losses, scatter, geometry, temperatures and cautions rest on."""
        return dict(self.grounds)

    def page(self, paper=None, since=None):
        """Return the whole printable HTML page, A4 or Letter; since: an older sheet, whose differences are told."""
        return print_sheet(self, paper or self.paper, since and self.changes_from(since), since)

    def _repr_html_(self):
        us, rows = self.working == "US", []
        for n in self.lines:
            rows.append([n.item, n.part, trimmed(n.percentage), n.american, n.metric, n.task or ""])
            if not us:
                rows[-1][3:5] = n.metric, n.american
        for t in self.totals.values():
            rows.append([t.name, "", trimmed(t.percentage), f"{t.rounded} (true {t.true})", t.other, ""])
        heads = ("lb and oz", "g") if us else ("g", "lb and oz")
        strong = range(len(self.lines), len(rows))
        caption = f"{self.title}: {counted(self.pieces, 'piece')}, {self.version}"
        contains = f"Contains {listing(self.allergens).upper()}" if self.allergens else "No allergen known in it"
        html = f"<p><b>{page.escape(contains)}</b>{page.escape(self.say_varies(' '))}</p>"
        html += page.table(["weigh", "part", "%", *heads, "step"], rows, caption, strong)
        items = "".join(f"<li>{page.escape('; '.join((task.do, *task.also)))}</li>" for task in self.tasks)
        html += f'<ol style="font-size:13px;margin:4px 0">{items}</ol>'
        html += page.table(["check and write", "aim", "act if"], [[c.what, c.aim, c.act] for c in self.checks])
        return html + "".join(f"<p>{page.escape(note)}</p>" for note in self.notes)

    def say_varies(self, before=""):
        """Return in words which allergens this has more or fewer than what it varies; nothing when none."""
        said = [f"adds {listing(self.added).upper()}"] * bool(self.added)
        said += [f"without {listing(self.gone).upper()}"] * bool(self.gone)
        return f"{before}Other allergens than {self.varies}: {listing(said)}." if said else ""


def production_sheet(
    formula, pieces=None, flour=None, dough=None, working="metric", made_by="", valid_from=None, revision="",
    calibration=None, room=None, flour_temperature=None, preferment_temperature=None, dough_temperature=None,
    tray="600 x 400 mm", oven=None, fit=None, varies=None, paper="A4", **water,
):  # fmt: skip
    """Return the ProductionSheet of a batch for the crew.

    pieces [count], or flour or dough [g or any mass], else the formula's count; working 'metric' or 'US', the large
    column; made_by, revision: text; valid_from [date or 'YYYY-MM-DD'], else a line to write on; calibration: the
    kitchen's own; room, flour_temperature, preferment_temperature, dough_temperature [degC or text] and others as in
    `water_temperature`, without a room a line to write on; tray and oven as in `trays`; fit: a ToppingFit, else
    `topping_fit`; varies: the Formula this one varies, else the one its file names; paper A4 or Letter. Masses are
    scaled unrounded, then each line is rounded on its own (scale_steps.csv, sheet_steps.csv: common practice). Limits
    hold 95 % of the means of ten pieces. Raises FormulaError, AmountError, UnitError, UnknownName.

    >>> bun = Formula.from_weights("bun", {"flour": 1000, "water": 550, "salt": 18}, pieces={"count": 20, "dough": 60})
    >>> [(line.item, line.metric, line.american) for line in production_sheet(bun).lines]
    [('bread flour', '781', '1 lb 11½ oz'), ('water', '429', '15¼ oz'), ('salt', '14.1', '0.50 oz')]
    """
    if formula.shape:
        raise FormulaError(must("formula", "one formula to be weighed", f"{formula.shape} of them", "choose one"))
    named = {plain(name): name for name in WORKINGS}
    if plain(working) not in named:
        do = did_you_mean(working, named, "say which column is worked in")
        raise UnknownName(must("working", "'metric' or 'US'", repr(working), do))
    working = named[plain(working)]
    for name in water:
        if name not in WATER:
            do = did_you_mean(name.replace("_", " "), WATER)
            raise UnknownName(must("temperature", f"one of {listing(WATER, 'or')}", repr(name), do))
    page.sheet("", "", paper=paper)  # says at once when there is no such paper
    made = predict_yield(formula, flour=flour, dough=dough, pieces=pieces)
    if made.pieces < 1:
        do = f"a piece is {trimmed(formula.pieces.dough, 1)} g: make more"
        raise FormulaError(must("batch", "enough for one piece", f"{trimmed(made.dough_scaled, 1)} g of dough", do))
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
    scatter = scaling_scatter(formula, calibration=calibration, coverage=COVERAGE)
    hazards = cautions_for(formula)
    origin, missing = _origin(formula) if varies is None else (varies, "")
    others = cautions_for(origin).allergens if origin is not None else hazards.allergens
    short = hazards.short()
    grounds |= {
        "rounding": "scale_steps.csv and sheet_steps.csv: common practice",
        **{f"loss, {name}": text for name, text in made.sources().items() if not name.endswith("baking")},
        **{f"scatter, {name}": text for name, text in scatter.sources().items()},
        **({f"topping, {name.replace('_', ' ')}": text for name, text in fit.sources().items()} if fit else {}),
        "trays": tins.sources()[0],
        "limits": f"hold {COVERAGE:g} % of means of {min(IN_A_MEAN, made.pieces)} pieces; normal, from the scatter",
        **{f"caution, {row['key'].replace('_', ' ')}": tables.source(row["source"]) for row in short},
    }  # fmt: skip
    return ProductionSheet(
        formula, working, made.pieces, lines, bases_of(formula, made, working), totals,
        tasks(formula, facts(formula, made, fit, tins, poured, working), working),
        _checks(formula, made, scatter, fit, aim, working),
        allergens=tuple(hazards.allergens), varies=origin.name if origin is not None else "",
        added=tuple(a for a in hazards.allergens if a not in others),
        gone=tuple(a for a in others if a not in hazards.allergens),
        notes=(*rounded_away(lines, totals, working), *_unsaid(formula, made), *([missing] if missing else [])),
        cautions=tuple(row["short"] for row in short), made_by=str(made_by or ""), valid_from=_date(valid_from),
        revision=str(revision or ""), paper=paper, grounds=grounds,
    )  # fmt: skip


def _checks(formula, made, scatter, fit, aim, working):
    """Return the Checks: what is measured, what is aimed at, and the limits for a mean of ten pieces."""
    many = min(IN_A_MEAN, made.pieces)
    z = NormalDist().inv_cdf(0.5 + COVERAGE / 200)

    def limits(middle, spread):
        low, high = (mass(max(middle + sign * z * spread, 0.0), working, 0, alone=True) for sign in (-1, 1))
        return f"under {low}, over {high}"

    raw, together = many * scatter.piece, " together" * (many > 1)
    baked = many * scatter.baked
    rows = [Check("dough temperature", temperature(aim, working) if aim is not None else "")]
    rows += [
        Check("end of bulk, time", f"until {step.until.removeprefix('until ')}" if step.until else "")
        for step in formula.steps if "bulk" in stages_in(step.do)
    ] or [Check("end of bulk, time")]  # fmt: skip
    within = math.sqrt(many) * float(scatter.dough / scatter.kept)
    rows.append(Check(f"{counted(many, 'raw piece')} of dough{together}", mass(raw, working, 0), limits(raw, within)))
    if fit is not None and fit.pattern != "unscored":
        rows.append(Check("gap at the end of proof", f"about {length(fit.gap('proofed'), working)}"))
    when = next(row["when"] for row in tables.table("trial_fields").rows if row["field"] == "baked_mass")
    spread = math.hypot(math.sqrt(many) * float(scatter.within), many * float(scatter.loss))
    rows.append(Check(f"{many} baked{together}, {when}", mass(baked, working, 0), limits(baked, spread)))
    if formula.bake.core is not None:
        rows.append(Check("core of the middle piece", temperature(formula.bake.core, working)))
    return tuple(rows)


def _origin(formula):
    """Return (the formula this one varies or None, what to say when it cannot be read)."""
    try:
        if formula.path and formula.text:
            saved = parse(formula.text, Path(formula.path).name, folder=Path(formula.path).parent)
            if saved.fingerprint != formula.fingerprint:  # varied since it was read
                return saved, ""
        if not formula.parent:
            return None, ""
        for name in (formula.parent, formula.parent.rpartition(" ")[0]):
            beside = Path(formula.path or "").parent / Path(name).name
            if name and beside.is_file():
                return Formula.read(beside), ""
        why = "is not beside it"
    except KitError:
        why = "cannot be read"
    return None, f"Allergens are not compared: {formula.parent or 'the formula it varies'} {why}"


def _unsaid(formula, made):
    """Say what a house has not written down of its own ingredients: unknown is not none."""
    usual = {row["key"] for row in tables.ingredients().rows}
    silent, dry = {}, {}
    for part in formula.parts:
        for key in part.keys:
            row = formula.ingredients[key]
            if key not in usual and not row["allergens"]:
                silent[row["name"]] = None
            known = formula.ingredients.known[formula.ingredients.row(key), tables.COLUMNS.index("water")]
            if not known and any(text.startswith(part.kind) for text in made.capped):
                dry[row["name"]] = None
    said = [f"Allergens of {listing(silent)} are not written down: read the bag's own label"] if silent else []
    return said + ([f"Water in {listing(dry)} is not known: the baked mass is at most what is aimed at"] if dry else [])


def _date(given):
    if given is None or given == "":
        return ""
    if isinstance(given, datetime.date):
        return given.isoformat()[:10]
    try:
        return datetime.date.fromisoformat(str(given).strip()).isoformat()
    except ValueError:
        raise AmountError(must("valid_from", "a date", repr(given), "write it like 2025-03-31")) from None
