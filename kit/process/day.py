"""The day, planned backwards from when the pieces are on sale, in mixes and oven loads."""

import math
import re
from dataclasses import dataclass, field
from typing import Any

from .. import page
from ..errors import AmountError, above, must
from ..formula import Formula
from ..tables import ground, table
from ..units import read_above
from ..words import figure, listing, one_of, plain, plural
from .rise import Rise
from .trays import Trays, trays
from .yields import predict_yield

DAY = 24 * 60
LONGEST = 14 * DAY  # min of work, all loads one after another: beyond it no plan holds


def clock(minutes: float) -> str:
    """Return minutes from midnight of the day of sale [min] as clock time, with the day where it is another.

    >>> clock(425), clock(-95), clock(1500)
    ('07:05', '22:25 the day before', '01:00 the day after')
    """
    minutes = round(minutes)
    day, rest = divmod(minutes, DAY)
    words = {0: "", -1: " the day before", 1: " the day after"}
    when = words.get(day, f" {plural(abs(day), 'day')} {'before' if day < 0 else 'after'}")
    return f"{rest // 60:02d}:{rest % 60:02d}{when}"


@dataclass(frozen=True)
class Stage:
    """One stage of the method: its length and band [min], what that rests on, and which usual stages it holds."""

    name: str
    minutes: float
    low: float
    high: float
    rests_on: str
    holds: tuple = ()


@dataclass(frozen=True)
class Slot:
    """One stage of one load on the clock [min from midnight of the day of sale]."""

    stage: str
    mix: int
    load: int  # oven load, 0 while a mix is still whole
    start: float
    end: float
    start_low: float  # to be sure: nine days in ten are then ready in time
    wait: float = 0.0  # after it, for oven, mixer or hands


@dataclass(frozen=True, eq=False)
class Day(page.Result):
    """A day's plan: stages, slots for a timeline, and the trays; times in min from midnight of the day of sale."""

    on_sale: float
    stages: tuple
    slots: tuple = field(repr=False)
    mixes: int
    trays: Trays = field(repr=False)
    notes: tuple = ()
    columns = ("stage", "minutes", "low", "high", "start", "end", "to be sure", "rests on")
    digits, strong = 0, (0,)

    @property
    def begin(self):
        """When to begin, by the middle of every band [min]."""
        return min(slot.start for slot in self.slots)

    @property
    def begin_by(self):
        """When to begin so that nine days in ten are ready in time [min]."""
        return min(slot.start_low for slot in self.slots)

    def frame_rows(self):
        """Return a row a stage: minutes with band; start, end and when to start to be sure as clock times."""
        for stage in self.stages:
            slots = [slot for slot in self.slots if slot.stage == stage.name]
            first = min(slots, key=lambda slot: slot.start)
            times = first.start, max(slot.end for slot in slots), first.start_low
            yield stage.name, stage.minutes, stage.low, stage.high, *map(clock, times), stage.rests_on

    @property
    def grounds(self):
        """What each stage's minutes rest on."""
        return {stage.name: stage.rests_on for stage in self.stages}

    @property
    def words(self):
        """When to begin for the sale."""
        sale, begin, sure = map(clock, (self.on_sale, self.begin, self.begin_by))
        return f"On sale at {sale}: begin at {begin}, to be sure at {sure}"

    def _repr_html_(self):
        return super()._repr_html_() + page.paragraphs([str(self.trays)])


def day(
    formula: Formula,
    on_sale: str = "07:00",
    minutes: dict | None = None,
    mixer: Any = None,
    oven: int | None = None,
    pieces: int | None = None,
    tray: str = "600 x 400 mm",
    gap: Any = None,
) -> Day:
    """Return the Day of a batch, planned backwards from when it is on sale.

    formula: one Formula
    on_sale: 'HH:MM'
    minutes: {stage: min or any time, (middle, low, high), or a foreseen Rise}, else the formula's own steps, else
        day_defaults.csv
    mixer: the dough it takes [g or any mass]
    oven: how many trays it takes at once [count]
    pieces: [count], else the formula's
    tray, gap: as in `trays`

    A stage starts where the next one starts less its minutes; loads take turns in oven and mixer. Independent stages:
    what they may take longer adds as squares. Raises AmountError, UnknownName, FormulaError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 55}, makes={"piece": 70, "pieces": 48})
    >>> clock(day(bun, minutes={"cool": 30}).begin)
    '03:39'
    """
    sale = _clock(on_sale)
    stages, notes = _stages(formula, minutes or {})
    tins = trays(formula, tray=tray, gap=gap, oven=oven, pieces=pieces)
    made = predict_yield(formula, pieces=tins.pieces)
    mixes = 1
    if mixer is not None:
        holds = read_above(mixer, "mass", "mixer", "say how much dough it kneads at once")
        mixes = max(1, math.ceil(made.dough_mixed / holds - 1e-9))
        if mixes > tins.trays:
            do = f"a mix would not fill one tray of {tins.per_tray}; take a larger one"
            raise AmountError(
                must("mixer", f"at least {figure(made.dough_mixed / tins.trays, 0)} g", f"{holds:g} g", do)
            )
    longest = sum(stage.minutes for stage in stages) * max(mixes, tins.loads)
    if not longest <= LONGEST:
        do = "shorten a stage, or take more trays at once"
        raise AmountError(must("day", f"at most {LONGEST:,} min of work", f"{figure(longest, 0)} min", do))
    slots = _slots(sale, stages, mixes, tins)
    for slot in slots:
        if slot.wait >= 1:
            whose = f"oven load {slot.load}" if slot.load else f"mix {slot.mix}"
            notes.append(f"{whose} waits {figure(slot.wait, 0)} min after {slot.stage}: keep it cool meanwhile")
    if mixes > 1:
        notes.append(f"{mixes} mixes of {figure(made.dough_mixed / mixes, 0)} g dough")
    return Day(sale, tuple(stages), tuple(slots), mixes, tins, tuple(notes))


def _clock(text):
    found = re.fullmatch(r"\s*(\d{1,2})[:.h](\d{2})\s*(am|pm)?\s*", str(text).casefold())
    hours, rest = (int(found[1]), int(found[2])) if found else (99, 99)
    if found and found[3]:
        hours = 99 if not 1 <= hours <= 12 else hours % 12 + 12 * (found[3] == "pm")
    if hours > 23 or rest > 59:
        raise AmountError(must("on_sale", "a time of day from 00:00 to 23:59", repr(text), "write it like 07:00"))
    return 60 * hours + rest


def _stages(formula, given):
    """The stages in order, each from what is given now, the formula's steps and bake, or the defaults; and notes."""
    rows = {row.stage: row for row in table("day_defaults").rows}
    named = {one_of("stage", name, rows): value for name, value in given.items()}
    given = {name: _given(rows[name], value) for name, value in named.items()}
    preferments = [part.name for part in formula.bowls if part.kind == "preferment"]
    missing = {name for name in rows if (name != "top" or formula.has("topping")) and (name != "sponge" or preferments)}
    placed, notes = [], []
    for place, holds, minutes, name in _steps(formula, rows, preferments):
        if now := [held for held in holds if held in given]:
            if len(holds) > 1:
                notes.append(f"the formula's own minutes for {name} give way to those given for {listing(now)}")
            continue
        placed.append((place, _stage(name, minutes, "the formula's own minutes", [rows[held] for held in holds])))
        missing -= set(holds)
    for name in missing | set(given):
        placed.append((list(rows).index(name), given.get(name) or _stage(name, None, "", [rows[name]])))
    return [stage for _, stage in sorted(placed, key=lambda entry: entry[0])], notes


def _stage(name, minutes, whose, usual):
    """Return the Stage of minutes and whose they are, else of the usual ones; its band in proportion the usual one."""
    middle, low, high = (sum(getattr(row, f"{of}minutes") for row in usual) for of in ("", "low_", "high_"))
    own, holds = "; ".join(dict.fromkeys(map(ground, usual))), tuple(row.stage for row in usual)
    if minutes is None:
        return Stage(name, middle, low, high, own, holds)
    if not usual:
        return Stage(name, minutes, minutes, minutes, whose, holds)
    rests_on = f"{whose}, band as wide in proportion as the usual one, {own}"
    return Stage(name, minutes, minutes * low / middle, minutes * high / middle, rests_on, holds)


def _given(row, value):
    """Return the Stage of what is given now: (middle, low, high) or a Rise as they are, or a time."""
    foreseen = isinstance(value, Rise)
    ends, do = (value.minutes, value.low, value.high) if foreseen else value, "say how long it takes"
    if not isinstance(ends, (tuple, list)):
        return _stage(row.stage, read_above(ends, "time", row.stage, do, zero=True), "given here", [row])
    ends = [read_above(end, "time", row.stage, do, zero=True) for end in ends]
    if not (len(ends) == 3 and ends[1] <= ends[0] <= ends[2]):
        be = "(middle, low, high) with the middle between"
        raise AmountError(must(row.stage, be, value, "write the middle first"))
    return Stage(row.stage, *ends, "the rise foreseen" if foreseen else "given here", (row.stage,))


def stages_in(text: str) -> tuple[str, ...]:
    """Return the usual stages that a step's text names, by the words of day_defaults.csv.

    >>> stages_in("Divide, round, rest; press the crust on")
    ('divide', 'shape', 'top')
    """
    return tuple(
        row.stage
        for row in table("day_defaults").rows
        if re.search(rf"\b(?:{row.words.replace(';', '|')})", plain(text))
    )


def _steps(formula, rows, preferments):
    """[[place, usual stages it holds, minutes or None, name]] of the formula's steps; those of one stage add up."""
    found, place, mixed = [], -1.0, False
    for step in formula.steps:
        if step.minutes is not None:
            above(step.do, step.minutes, "a time", "min", "mend the step", zero=True)
        holds = stages_in(step.do)
        own = [name for name in preferments if plain(name) == plain(step.part)]
        if own or ("sponge" in holds and preferments and not mixed and plain(step.part) != "dough"):
            holds, name = ("sponge",), (own or preferments)[0]
        else:
            holds = tuple(held for held in holds if held != "sponge")
            if plain(step.part) == "dough" and (step.speed or "mix" in holds):
                holds = ("mix",)
            name = listing(holds) or step.do
        mixed = mixed or "mix" in holds
        place = list(rows).index(holds[0]) if holds else place + 0.01
        same = next((entry for entry in found if holds and entry[1] == holds and entry[3] == name), None)
        if same is None:
            found.append([place, holds, step.minutes, name])
        elif step.minutes is not None:
            same[2] = (same[2] or 0.0) + step.minutes
    held = {name for _, holds, _, _ in found for name in holds}
    if formula.bake.minutes is not None and "bake" not in held:
        found.append([list(rows).index("bake"), ("bake",), formula.bake.minutes, "bake"])
    return [entry for entry in found if entry[1] or entry[2]]


def _slots(sale, stages, mixes, tins):
    """Every stage of every mix and oven load, from the last to the first, none that excludes another at once."""
    alone = {row.stage for row in table("day_defaults").rows if row.one_at_a_time == "yes"}
    bake = next(n for n, stage in enumerate(stages) if "bake" in stage.holds)
    oven, after = stages[bake].minutes, stages[bake + 1 :]
    out = sale - sum(stage.minutes for stage in after)  # when the last load leaves the oven
    in_load = (tins.per_load or tins.trays) * tins.per_tray
    into = [out - (tins.loads - n) * oven for n in range(tins.loads)]  # when each load goes in
    slots = []

    def add(stage, mix, load, start, waits, first):
        """Add a stage of a load: of a whole mix the first of its loads says how many follow in the oven."""
        later = [s for s in stages[stages.index(stage) + 1 :] if "sponge" not in s.holds]  # which end at the mix
        times = {stages[bake].name: tins.loads - first}  # in the oven from here on, one after the other
        longer = math.hypot(*((s.high - s.minutes) * times.get(s.name, 1) for s in (stage, *later)))
        slots.append(Slot(stage.name, mix, load, start, start + stage.minutes, start - longer, waits))

    free = {}  # stage: when the next mix takes it up
    for mix in range(mixes, 0, -1):
        first, last = ((mix - 1 + end) * tins.pieces / mixes for end in (0, 1))
        loads = [n for n in range(tins.loads) if n * in_load < last - 1e-9 and (n + 1) * in_load > first + 1e-9]
        due = into[loads[0]]
        for stage in reversed(stages[:bake]):
            end = min(due, free.get(stage.name, due)) if alone & set(stage.holds) else due
            start = free[stage.name] = end - stage.minutes
            whole = stage is not stages[bake - 1]  # from the last stage before the oven on each load is on its own
            for load, taken in [(0, due)] if whole else [(load + 1, into[load]) for load in loads]:
                add(stage, mix, load, start, taken - end, loads[0])
            if "sponge" not in stage.holds:  # all preferments end when the mix begins
                due = start
    for load, start in enumerate(into):
        mix = next(m for m in range(mixes, 0, -1) if (m - 1) * tins.pieces / mixes <= load * in_load + 1e-9)
        for stage in stages[bake:]:
            add(stage, mix, load + 1, start, 0.0, load)
            start += stage.minutes
    return sorted(slots, key=lambda slot: (slot.start, slot.mix, slot.load))
