"""Plan trials with your hands: what changes, from where to where, on how many days, judged by what."""

from pathlib import Path

from .. import page
from ..errors import AmountError, KitError, must, whole
from ..formula.parts import only_one
from ..formula.usual import check_usual
from ..trials import plan_trials, repeat_scatter, trial_fields
from ..trials.comparing import described
from ..trials.statistics import FEWEST
from ..words import listing, plural
from .panel import Dial, Panel, button, dropdown, radio, tick
from .strips import status, tiles, wrapped

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
        self.formula, self.folder = formula, Path(folder)
        names = dict.fromkeys([field, *FIELDS, *(f for f, of in trial_fields().items() if of.group == "measured")])
        self._scatters = {name: None if trials is None else repeat_scatter(trials, name) for name in names}
        names = [name for name in names if name == field or trials is None or self._scatters[name]]
        dials = {}
        for thing, ends in changes.items():
            far = max(REACH.get(thing, 30.0), 1.5 * max(ends))
            for word, value in zip(("from", "to"), ends, strict=True):
                dials[f"{thing} {word}"] = Dial(f"{thing} {word}", float(value), 0.0, far, 0.5)
        dials["days"] = Dial("days", days, 1, 10, 1, "sessions", "number")
        self.kinds = tuple(changes)
        choices = {f"{thing} changes": tick(f"{thing} changes", n < 1, "132px") for n, thing in enumerate(changes)}
        choices["kind"] = radio("plan", KINDS, kind)
        choices["field"] = dropdown("judge by", [(described(name)[0], name) for name in names], field, "230px")
        super().__init__(dials, choices)
        self.page_button = button("page", "Write the page for the wall into the folder", self.write_page)
        self.keep_button = button("formulas", "Keep the formula of each bake as a file beside this one", self.keep, 90)
        rows = [[choices[f"{t} changes"], dials[f"{t} from"].view, dials[f"{t} to"].view] for t in changes]
        buttons = [dials["days"].view, choices["field"], self.undo_button, self.reset_button]
        buttons += [self.page_button, self.keep_button]
        self._begin(*rows, [choices["kind"]], buttons)

    def _check_typed(self, name, value):
        if name != "days":
            check_usual(name.rpartition(" ")[0], value)

    def _work_out(self, moving):
        """Return the Plan that the controls say. Raises KitError."""
        kind, changing = self.choices["kind"].value, [t for t in self.kinds if self.choices[f"{t} changes"].value]
        if not changing:
            raise AmountError(must("changes", "one or more", "none ticked", "tick what is to change"))
        ends = {t: tuple(self.dials[f"{t} {word}"].value for word in ("from", "to")) for t in changing}
        if kind == "steps" and len(ends) != 1:
            raise AmountError(must("changes", "1 thing for steps", listing(ends), "tick one, or take pairs"))
        changes = {
            thing: high if kind == "pairs" else (low, (low + high) / 2, high) for thing, (low, high) in ends.items()
        }
        days, field = self.dials["days"].value, self.choices["field"].value
        days = int(days) if float(days).is_integer() else days
        return plan_trials(self.formula, changes, days, field, self._scatters[field])

    def _idle(self):
        pairs = self.choices["kind"].value == "pairs"  # of which the one is the formula as it is
        still = [t for t in self.kinds if not self.choices[f"{t} changes"].value]
        return {f"{t} from" for t in (self.kinds if pairs else still)} | {f"{t} to" for t in still}

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


def _by_day(plan):
    """Return the bakes of each day in their order, as HTML."""
    days = []
    for day in range(1, plan.days + 1):
        rows = [[str(b.turn), str(b.code), b.what] for b in plan.bakes if b.day == day]
        days.append(("0 1 auto", page.table(["turn", "code", "bake"], rows, f"Day {day}")))
    return wrapped(*days, gap="0 36px")
