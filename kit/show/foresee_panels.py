"""Four small panels on one formula: how the topping fits, how the dough rises, how warm the water, and the day."""

import functools

import numpy as np

from .. import page
from ..process import RiseCauses, recommended_dough_temperatures, rise, topping_fit, water_temperature
from ..process.day import clock, day
from ..process.dome import PATTERNS
from ..process.heat import poured_into
from ..process.topping import STAGES
from ..process.water import dough_aim
from ..tables import table
from ..words import capital, figure, listing, plain, plural
from .drawings import SideView, TopView
from .foresee_charts import RiseBars, RiseChart, Timeline, WaterBars, minutes_in_words
from .panel import Dial, Panel, radio, text, tick
from .strips import large, moved

FOUR_IN_FIVE = "four bakes in five"  # what an 80 % band holds


class _Foresee(Panel):
    """What the four have in common: they foresee something of a formula, and tell what that rests on."""

    behind = "What it rests on"
    dial_width = 380  # two in a row: the names are long

    def __init__(self, formula, dials, choices=None):
        self.formula = formula
        super().__init__(dials, choices)
        buttons = [*self.choices.values(), self.undo_button, self.reset_button]
        self._begin([dial.view for dial in dials.values()], buttons)

    def _behind_html(self):
        grounds = [[plain(name), why] for name, why in dict(self.result.sources()).items()]
        return self.result._repr_html_() + page.table(["figure", "rests on"], grounds)


class ToppingPanel(_Foresee):
    """A piece under its disc of topping, drawn to scale: cover, gaps and thickness follow the dials.

    formula with a topping; calibration with the kitchen's own figures. Raises FormulaError, as `topping_fit`.
    """

    FITS, CUTTER, WEIGHED, ROLLED = "as wide as fits", "my cutter", "weighed", "rolled to"

    def __init__(self, formula, calibration=None):
        self.calibration = calibration
        fit = topping_fit(formula, pattern="arcs", calibration=calibration)
        self._widest = topping_fit(formula, piece=120.0, topping=60.0, calibration=calibration)
        rim = float(table("piece_defaults").row(what="bare_rim")["value"])
        length = {"unit": "mm", "kind": "length", "per": 10}
        dials = {
            "piece": Dial("piece of dough", fit.piece, 10.0, max(120.0, 1.5 * fit.piece), 1.0, "g", "mass"),
            "topping": Dial("topping", fit.topping, 0.0, max(70.0, 1.5 * fit.topping), 0.5, "g", "mass"),
            "thickness": Dial("I roll to", 3.0, 1.0, 10.0, 0.1, **length),
            "disc": Dial("my cutter is", 100.0, 30.0, 160.0, 1.0, **length),
            "bare_rim": Dial("bare rim", 10 * rim, 0.0, 20.0, 0.5, **length),
            "pitch": Dial("from score to score", 10 * fit.pitch, 6.0, 40.0, 0.5, **length),
        }
        choices = {
            "stage": radio("stage", STAGES, "proofed"),
            "pattern": radio("scores", list(PATTERNS), fit.pattern),
            "size": radio("disc", (self.FITS, self.CUTTER), self.FITS),
            "by": radio("topping", (self.WEIGHED, self.ROLLED), self.WEIGHED),
        }
        super().__init__(formula, dials, choices)

    def _idle(self):
        fits, weighed = self.choices["size"].value == self.FITS, self.choices["by"].value == self.WEIGHED
        unscored = ["pitch"] * (not PATTERNS[self.choices["pattern"].value].scored)
        return ["disc" if fits else "bare_rim", "thickness" if weighed else "topping", *unscored]

    def _work_out(self, moving):
        if moving in ("size", "by"):  # what is now asked for begins where the other left it
            name = {"size": "disc", "by": "thickness"}[moving]
            now = round(10 * float(getattr(self.result, name)), 1)
            self._silently(lambda: self.dials[name].show(now))
        idle = self._idle()
        given = {name: self.values[name] for name in ("piece", "disc", "bare_rim", "pitch") if name not in idle}
        given |= {"pattern": self.choices["pattern"].value, "calibration": self.calibration}
        if "topping" not in idle:
            return topping_fit(self.formula, topping=self.values["topping"], **given)
        fit = topping_fit(self.formula, **given)
        return topping_fit(self.formula, topping=fit.topping * self.values["thickness"] / fit.thickness, **given)

    def _charts(self):
        beside = {"stage": self.stage, "widest": self._widest}
        return [(TopView, self.result, beside), (SideView, self.result, beside)]

    @property
    def stage(self):
        """The stage that is looked at."""
        return self.choices["stage"].value

    def _numbers(self):
        fit, stage = self.result, self.stage

        def band(what, per, digits, unit):
            low, high = fit.band(what, stage)
            return f"{figure(per * low, digits)} to {figure(per * high, digits)} {unit}"

        parts = len(fit.section(stage)) > 1  # of one strip there is no gap
        gap = (
            f"{figure(10 * fit.gap(stage))} mm",
            band("gap", 10, 1, "mm"),
            f"scores {figure(10 * fit.pitch, 0)} mm apart",
        )
        wide = f"{figure(fit.disc / fit.shaped.base_diameter, 2)} times the flattened piece"
        masses = f"{figure(fit.topping, 0)} g on {figure(fit.piece, 0)} g"
        return [
            (f"cover, {stage}", f"{figure(fit.cover(stage), 0)} %", band("cover", 1, 0, "%"), "of the dome"),
            (f"gap, {stage}", *(gap if parts else ("none", "", "in one piece"))),
            ("thickness, raw", f"{figure(10 * fit.thickness)} mm", band("thickness", 10, 1, "mm"), "of the disc"),
            ("disc to roll", f"{figure(10 * fit.disc, 0)} mm", "", wide),
            ("topping", masses, figure(fit.ratio, 2), "of the dough"),
        ]

    def _words(self):
        fit, stage = self.result, self.stage
        risen, shows = float(fit.dome(stage).volume / fit.shaped.volume), figure(fit.shows_at, 2)
        if not fit.scored:
            why = f"Scores {figure(10 * fit.pitch, 0)} mm apart part no disc of {figure(10 * fit.disc, 0)} mm"
            why = why if PATTERNS[fit.pattern].scored else "Not scored"
            said = f"{why}: the disc covers {figure(fit.cover(stage), 0)} % and will part where it likes"
        elif stage == STAGES[0]:
            said = f"The dough will show from {shows} times the shaped volume"
        else:
            here = "it shows now" if risen > fit.shows_at else "not yet"
            now = f"{stage.capitalize()} at {figure(risen, 1)} times the shaped volume"
            said = f"{now}; the dough shows from {shows} times: {here}"
        return [f"{said}. Geometry of a round piece, not a verdict on your crust; the ranges hold {FOUR_IN_FIVE}."]


class RisePanel(_Foresee):
    """How long the dough takes to double, with its band, beside that as written, and what each change does to it.

    formula; calibration with the kitchen's own figures. Raises FormulaError without yeast, as `rise`.
    """

    def __init__(self, formula, calibration=None):
        self.calibration = calibration
        self._first = next((part.name for part in formula.bowls if part.kind == "preferment"), None)
        self._as_written = functools.cache(lambda stage: self._foreseen(stage, formula))
        own, sugar, salt = self._as_written("bulk"), formula.of_kind("sugar"), formula.of_kind("salt")
        degrees = {"unit": "°C", "kind": "temperature"}
        dials = {
            "temperature": Dial("dough", own.temperature, 0.0, 42.0, 0.5, **degrees),
            "room": Dial("room", 22.0, 0.0, 42.0, 0.5, **degrees),
            "yeast": Dial("yeast, as fresh", own.yeast, 0.2, 10.0, 0.1),
            "sugar": Dial("sugar", sugar, 0.0, max(35.0, 1.5 * sugar), 0.25),
            "salt": Dial("salt", salt, 0.0, max(4.0, 1.5 * salt), 0.05),
        }
        choices = {
            "stage": radio("stage", ("bulk", "final proof", *["sponge"] * bool(self._first)), "bulk"),
            "keep": tick("dough keeps its temperature", True),
            "tolerant": tick("sugar-tolerant strain"),
        }
        super().__init__(formula, dials, choices)

    def _foreseen(self, stage, formula, **given):
        part = self._first if stage == "sponge" else None
        return rise(formula, stage=stage, part=part, calibration=self.calibration, **given)

    def _idle(self):
        in_sponge = self.choices["stage"].value == "sponge"  # where the dough's sugar and salt are not
        return ["room"] * self.choices["keep"].value + ["sugar", "salt"] * in_sponge

    def _work_out(self, moving):
        stage, idle = self.choices["stage"].value, self._idle()
        own = self._as_written(stage)
        if moving == "stage":  # each stage has its own temperature, and a sponge its own yeast
            for name in ("temperature", "yeast"):
                self._silently(lambda name=name: self.dials[name].show(getattr(own, name)))
        value = self.values
        changes = {name: each for name, each in self.turned(("sugar", "salt")).items() if name not in idle}
        now = self._foreseen(
            stage,
            self.formula.vary(changes) if changes else self.formula,
            temperature=value["temperature"],
            room=None if "room" in idle else value["room"],
            yeast=None if abs(value["yeast"] - own.yeast) < 1e-9 else value["yeast"],
            sugar_tolerant=self.choices["tolerant"].value,
        )
        both = np.isfinite([own.minutes, now.minutes]).all()
        self.before, self.causes = own, now.against(own) if both else RiseCauses(own.minutes, now.minutes, ())
        return now

    def _charts(self):
        return [(RiseChart, self.result, {"before": self.before}), (RiseBars, self.causes, {})]

    def _numbers(self):
        now, words = self.result, minutes_in_words
        total = self.causes.total if np.isfinite(self.causes.total) else 0.0
        kept = "kept" if now.room is None else f"towards a room of {figure(now.room)} °C"
        return [
            (f"{now.stage}, to double", words(now.minutes), f"{words(now.low)} to {words(now.high)}", FOUR_IN_FIVE),
            ("before", words(self.before.minutes), moved(total, 0), "min from it to here" if moved(total, 0) else ""),
            ("dough", f"{figure(now.temperature)} °C", "", kept),
        ]

    def _words(self):
        said, notes = self.causes.words, self.result.notes
        if not np.isfinite(self.causes.total):
            said = f"{'it' if np.isfinite(self.before.minutes) else 'the one before'} does not rise to double"
        return [f"{capital(text)}." for text in (said, "; ".join(notes)) if text]

    def _behind_html(self):
        now = self.result
        rows = [[cause, figure(spread), why] for cause, spread, why in now.to_frame().itertuples()]
        texts = [*now.notes, *(text for text in now.sources())]
        return page.table(["what widens the band", "% of the work", "rests on"], rows) + page.paragraphs(texts)


class WaterPanel(_Foresee):
    """How warm the water must be, or how much of it ice: what to do, the factor rule beside it, and on asking why.

    formula with water or milk in its final dough; calibration with the kitchen's own mixer. Raises FormulaError.
    """

    behind = "Why?"
    charts = (WaterBars,)
    COLD = ("egg", "butter", "milk")  # kinds that may come from the fridge

    def __init__(self, formula, calibration=None):
        self.calibration = calibration
        aim, self._room = float(dough_aim(formula) or 26.0), 22.0
        own, known = water_temperature(formula, aim, self._room, calibration=calibration), formula.ingredients
        self._freezes = poured_into(formula).kind == "water"  # ice stands for water alone, not for milk
        lines = [(known[key].kind, known[key].name) for key in formula.part("dough").keys]
        first = {kind: next((name for its, name in lines if its == kind), own.liquid) for kind in self.COLD}
        self._names = {kind: name for kind, name in first.items() if name != own.liquid}
        labels = {"aim": "dough aimed at", "room": "room", "tap": f"{own.liquid} as it comes", "flour": "flour"}
        labels |= self._names
        if first := [part.name for part in formula.bowls if part.kind != "dough"]:
            labels["preferment"] = listing(first)
        begins, ends = {"aim": aim, "tap": own.tap if self._freezes else self._room}, {"aim": (10.0, 36.0)}
        dials = {
            name: Dial(label, begins.get(name, self._room), *ends.get(name, (0.0, 40.0)), 0.5, "°C", "temperature")
            for name, label in labels.items()
        }
        dials["rise"] = Dial("mixing warms it by", round(own.mixing_rise, 1), 0.0, 20.0, 0.1, "°C", "number")
        super().__init__(formula, dials)

    def _work_out(self, moving):
        value = self.values
        if moving == "room":  # and with it what stands in the room
            for name in ("flour", "preferment", *self._names):
                if name in value and value[name] == self._room:
                    self._silently(lambda name=name: self.dials[name].show(value["room"]))
            value = self.values
        self._room = value["room"]
        return water_temperature(
            self.formula,
            value["aim"],
            value["room"],
            flour=value["flour"],
            preferment=value.get("preferment"),
            ingredients={name: value[kind] for kind, name in self._names.items()},
            mixing_rise=self.turned(("rise",)).get("rise"),
            tap=value["tap"],
            calibration=self.calibration,
        )

    def _marks(self):
        return ""  # the chart opens with the reasons

    def _top(self):
        now = self.result
        rule = _degrees(max(now.rule, 0)) if now.rule > 0 or not self._freezes else "as cold as it comes"
        if now.rule_ice and self._freezes:
            rule += f", {figure(now.rule_ice, 0)} g of it ice"
        beside = f"by the factor rule of the trade: {rule}"
        return large(f"the {now.liquid}", self._to_do(), page.escape(beside)) + super()._top()

    def _to_do(self):
        """Return what to do with the liquid, in a few words."""
        now = self.result
        if now.balance >= now.tap or (now.balance >= 0 and not self._freezes):
            return _degrees(now.balance)
        if not self._freezes:
            return "as cold as can be, and that is not enough"
        if now.ice > now.liquid_mass:
            return "all of it as ice, and that is not enough"
        return f"as it comes, {figure(now.ice, 0)} g of it as ice"

    def _numbers(self):
        now = self.result
        can = [(name, start, to) for name, start, to, enough in now.chill if enough]
        chill = [
            (f"or chill the {name}", _degrees(to), f"from {figure(start, 0)} °C", "and no ice")
            for name, start, to in can
        ]
        reach = f"{figure(now.dough_low, 0)} to {figure(now.dough_high, 0)} °C"
        return [*chill[:1], ("the dough comes out at", reach, FOUR_IN_FIVE, "")]

    def _words(self):
        now = self.result
        degree = f"a degree in the dough asks for {figure(100 / now.water_share, 0)} °C of the {now.liquid}"
        return [f"{capital('; '.join([*now.notes[2:], degree]))}."]  # after what mixing and wetting give

    def _behind_html(self):
        recommended = recommended_dough_temperatures()
        rows = [[row[0], row[3], row[4], row[6]] for row in recommended.itertuples()]
        shown = self.picture()._repr_html_() + page.paragraphs([f"{capital(note)}." for note in self.result.notes])
        doughs = page.table(["dough", "as printed", "source", "note"], rows, "Recommended for finished doughs")
        return shown + self.result._repr_html_() + doughs + page.paragraphs(self.result.sources())


def _degrees(celsius):
    return f"{figure(celsius, 0)} °C ({figure(1.8 * celsius + 32, 0)} °F)"


class DayPanel(_Foresee):
    """The day planned backwards from when it is on sale, in mixes and oven loads, on the clock.

    formula with pieces; tray a row of trays.csv or "58 x 38 cm". Raises FormulaError, AmountError, as `day`.
    """

    charts = (Timeline,)

    def __init__(self, formula, tray="600 x 400 mm"):
        self.tray = tray
        own = day(formula, tray=tray)
        pieces, trays, kilos = own.trays.pieces, own.trays.trays, own.trays.pieces * formula.pieces.dough / 1000
        full, count = round(max(10.0, 1.2 * kilos), 1), {"step": 1.0, "kind": "number"}
        dials = {
            "pieces": Dial("batch", float(pieces), 1.0, max(480.0, 2.0 * pieces), unit="pieces", **count),
            "oven": Dial("oven takes", float(trays), 1.0, max(12.0, trays), unit="trays", **count),
            "mixer": Dial("mixer takes dough", full, 1.0, 60.0, 0.5, "kg", "mass", per=1e-3),
        }
        minutes = {stage.name: stage.minutes for stage in own.stages}
        self._timed = [name for name in ("sponge", "bulk", "proof", "cool") if name in minutes]
        for name in self._timed:
            dials[name] = Dial(name, minutes[name], 0.0, max(180.0, 1.5 * minutes[name]), 5.0, "min", "time")
        super().__init__(formula, dials, {"sale": text("on sale at", "07:00", width="150px")})

    def _work_out(self, moving):
        value, minutes = self.values, self.turned(self._timed)
        batch = {"mixer": value["mixer"], "oven": value["oven"], "pieces": value["pieces"]}
        return day(self.formula, self.choices["sale"].value, minutes=minutes, tray=self.tray, **batch)

    def _numbers(self):
        shown = self.result
        begin, sure = (clock(minutes) for minutes in (shown.begin, shown.begin_by))
        first = min(shown.slots, key=lambda slot: slot.start).stage
        bake = next(stage.name for stage in shown.stages if "bake" in stage.holds)
        out = clock(max(slot.end for slot in shown.slots if slot.stage == bake))
        tins = shown.trays
        return [
            (f"start the {first} at", begin[:5], begin[6:], "as long as each stage usually takes"),
            ("to be sure, at", sure[:5], sure[6:], "nine days in ten are then ready"),
            ("last out of the oven", out[:5], out[6:], f"on sale at {clock(shown.on_sale)}"),
            ("oven loads", str(tins.loads), "", f"{plural(tins.trays, 'tray')} for {plural(tins.pieces, 'piece')}"),
            ("mixes", str(shown.mixes), "", "as the mixer takes"),
        ]

    def _words(self):
        shown = self.result
        said = [f"Start at {clock(shown.begin)}, to be sure at {clock(shown.begin_by)}"]
        waits = [slot for slot in shown.slots if slot.wait >= 1]
        said += [note for note in shown.notes if " waits " not in note or len(waits) <= 2]
        if len(waits) > 2:
            worst = max(waits, key=lambda slot: slot.wait)
            longest = f"the longest {figure(worst.wait, 0)} min after {worst.stage}"
            said.append(f"{len(waits)} waits for oven, mixer or hands, {longest}: keep it cool meanwhile")
        return [f"{'; '.join(said)}.", "Pale: a stage may have to start this early. Hollow: waiting."]
