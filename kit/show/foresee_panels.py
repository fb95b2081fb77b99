"""Four small panels on one formula: how the topping fits, how the dough rises, how warm the water, and the day."""

import ipywidgets as widgets
import numpy as np

from .. import page
from ..formula.parts import only_one
from ..process import (
    RiseCauses,
    recommended_dough_temperatures,
    rise,
    topping_fit,
    water_temperature,
)
from ..process.day import clock, day
from ..process.dome import PATTERNS
from ..process.topping import STAGES
from ..tables import table
from ..words import figure, listing, plain, plural, signed
from . import drawings, foresee_charts, look
from .panel import Dial, Panel, caution, radio, tick


class _Foresee(Panel):
    """What the four have in common: they foresee something of a formula, and tell what that rests on."""

    behind = "What it rests on"
    dial_width = 380  # two in a row: the names are long
    cautious = False  # whether its step raises cautions

    def __init__(self, formula, dials, choices=None):
        self.formula = formula
        super().__init__(dials, choices)
        if self.cautious:
            self._cautions.value = caution(formula)
        views = [dial.view for dial in self.dials.values()]
        self._begin(views, [*self.choices.values(), self.undo_button, self.reset_button])


# the topping


class ToppingPanel(_Foresee):
    """A piece under its disc of topping, drawn to scale: cover, gaps and thickness follow the dials.

    formula with a topping; calibration with the kitchen's own figures. Raises FormulaError, as `topping_fit`.
    """

    cautious = True

    def __init__(self, formula, calibration=None):
        only_one(formula, "for the panel")
        self.calibration = calibration
        self.baseline = fit = topping_fit(formula, pattern="arcs", calibration=calibration)
        rim = float(table("piece_defaults").row(what="bare_rim")["value"])
        proofed, flat = fit.figures["density_proofed"][0], fit.figures["height_over_diameter_proofed"][0]
        dials = {
            "piece": Dial("piece of dough", fit.piece, 10.0, max(120.0, 1.5 * fit.piece), 1.0, "g", "mass"),
            "topping": Dial("topping", fit.topping, 0.0, max(70.0, 1.5 * fit.topping), 0.5, "g", "mass"),
            "density_proofed": Dial("proofed density", proofed, 0.25, 0.7, 0.005, "g per mL", "number"),
            "height_over_diameter_proofed": Dial("proofed height", flat, 0.2, 0.65, 0.005, "of diameter", "number"),
            "bare_rim": Dial("bare rim", 10 * rim, 0.0, 20.0, 0.5, "mm", "length", per=10),
            "pitch": Dial("pitch of the scores", 10 * fit.pitch, 6.0, 40.0, 0.5, "mm", "length", per=10),
        }
        choices = {
            "stage": radio("stage", STAGES, "proofed"),
            "pattern": radio("scores", PATTERNS, fit.pattern),
        }
        super().__init__(formula, dials, choices)

    def _work_out(self, moving):
        value = {name: dial.value for name, dial in self.dials.items()}
        return topping_fit(
            self.formula,
            piece=value["piece"],
            topping=value["topping"],
            bare_rim=value["bare_rim"] / 10,
            pitch=value["pitch"] / 10,
            pattern=self.choices["pattern"].value,
            calibration=self.calibration,
            **self.turned(("density_proofed", "height_over_diameter_proofed")),
        )

    @property
    def stage(self):
        """The stage that is looked at."""
        return self.choices["stage"].value

    def _move(self):
        top, section, ratio = self._handles
        top.update(self.result, self.stage)
        section.update(self.result, self.stage)
        ratio.update(self.result, self.baseline)

    def _draw(self):
        largest = self.dials["piece"].high
        widest = topping_fit(self.formula, piece=largest, topping=largest / 2, calibration=self.calibration)
        reach = 5 * widest.baked.width * 1.06
        high = 10 * (widest.baked.height + widest.thickness) * 1.2
        left, right = look.figure(430, 440), look.figure(416, 440)
        side = 430 * 0.865
        top = left.add_axes([0.115, 1 - (side + 26) / 440, 0.865, side / 440])
        across = side / 416  # as many pixels a mm as from above
        cut = side * high * 1.03 / (2 * reach)
        section = right.add_axes([0.095, 1 - (cut + 26) / 440, across, cut / 440])
        ratio = right.add_axes([0.125, 0.105, 0.835, (440 - cut - 26 - 46 - 75) / 440])
        handles = [
            drawings.TopView(top, self.result, self.stage, reach),
            drawings.SideView(section, self.result, self.stage, reach, high),
            foresee_charts.RatioChart(ratio, self.result, self.baseline, largest),
        ]
        self._lay((left, right))
        return handles

    def _numbers(self):
        fit, stage = self.result, self.stage

        def band(what, per, digits, unit):
            low, high = fit.band(what, stage)
            return f"{figure(per * low, digits)} to {figure(per * high, digits)} {unit}"

        parts = len(fit.section(stage)) > 1  # of one strip there is no gap
        return [
            (f"cover, {stage}", f"{figure(fit.cover(stage), 0)} %", band("cover", 1, 0, "%"), "of the dome"),
            (
                f"gap, {stage}",
                f"{figure(10 * fit.gap(stage))} mm" if parts else "none",
                band("gap", 10, 1, "mm") if parts else "",
                f"pitch {figure(10 * fit.pitch, 0)} mm" if fit.pattern != "unscored" else "not scored",
            ),
            ("thickness, raw", f"{figure(10 * fit.thickness)} mm", band("thickness", 10, 1, "mm"), "of the disc"),
            (
                "disc to roll",
                f"{figure(10 * fit.disc, 0)} mm",
                "",
                f"{figure(fit.disc / fit.shaped.base_diameter, 2)} times the flattened piece",
            ),
            ("topping to dough", figure(fit.ratio, 2), "", f"g per g; {figure(fit.topping)} on {figure(fit.piece)} g"),
        ]

    def _words(self):
        fit, stage = self.result, self.stage
        risen = float(fit.volume_ratio(stage))
        names = ("density_proofed", "height_over_diameter_proofed", "crust_creep")
        basis = " and ".join(dict.fromkeys(fit.figures[name][2] for name in names))
        said = [f"80 % bands rest on {basis}; geometry of a round piece, not a verdict on your crust"]
        if fit.pattern == "unscored":
            said.insert(0, f"Not scored: the disc covers {figure(fit.cover(stage), 0)} % and will part where it likes")
        elif stage == STAGES[0]:
            said.insert(0, f"The dough will show from {figure(fit.shows_at, 2)} times the shaped volume")
        else:
            here = "it shows now" if risen > fit.shows_at else "not yet"
            said.insert(
                0,
                f"{stage.capitalize()} at {figure(risen, 1)} times the shaped volume; the dough shows from "
                f"{figure(fit.shows_at, 2)} times: {here}",
            )
        return [". ".join(said) + "."]

    @property
    def alt(self):
        """The two figures in words."""
        top, section, ratio = (handle.alt for handle in self._handles)
        return top, f"{section[:-1]}; below, {ratio}"

    def _behind_html(self):
        rows = [[plain(name), why] for name, why in self.result.sources().items()]
        return self.result._repr_html_() + page.table(["figure", "rests on"], rows)


# the rise


class RisePanel(_Foresee):
    """How long the dough takes to double, with its band, beside the baseline, and what each change does to it.

    formula; baseline: what it is compared with, else the formula as it stands; calibration with the kitchen's own
    figures. Raises FormulaError without yeast, as `rise`.
    """

    def __init__(self, formula, baseline=None, calibration=None):
        only_one(formula, "for the panel")
        self.baseline, self.calibration = baseline or formula, calibration
        self._own = {}
        first = [part.name for part in formula.bowls if part.kind == "preferment"]
        self._part = first[0] if first else None
        own, _ = self._as_written("bulk", formula)
        sugar, salt = formula.of_kind("sugar"), formula.of_kind("salt")
        dials = {
            "temperature": Dial("dough", own.temperature, 0.0, 42.0, 0.5, "degC", "temperature"),
            "room": Dial("room", 22.0, 0.0, 42.0, 0.5, "degC", "temperature"),
            "yeast": Dial("yeast, as fresh", own.yeast, 0.2, 10.0, 0.1),
            "sugar": Dial("sugar", sugar, 0.0, max(35.0, 1.5 * sugar), 0.25),
            "salt": Dial("salt", salt, 0.0, max(4.0, 1.5 * salt), 0.05),
        }
        choices = {
            "stage": radio("stage", ("bulk", "final proof", *(["sponge"] if first else [])), "bulk"),
            "keep": tick("dough keeps its temperature", True),
            "tolerant": tick("sugar-tolerant strain"),
        }
        super().__init__(formula, dials, choices)

    def _as_written(self, stage, formula):
        """Return (Rise of the formula as written, Rise of the baseline) at a stage."""
        if stage not in self._own:
            part = self._part if stage == "sponge" else None
            both = [rise(f, stage=stage, part=part, calibration=self.calibration) for f in (formula, self.baseline)]
            self._own[stage] = both
        return self._own[stage]

    def _work_out(self, moving):
        stage = self.choices["stage"].value
        own, before = self._as_written(stage, self.formula)
        if moving == "stage":  # each stage has its own temperature, and a sponge its own yeast
            for name in ("temperature", "yeast"):
                self._silently(lambda name=name: self.dials[name].show(getattr(own, name)))
        value = {name: dial.value for name, dial in self.dials.items()}
        changes = self.turned(("sugar", "salt"))
        formula = self.formula.vary(changes) if changes and stage != "sponge" else self.formula
        now = rise(
            formula,
            value["temperature"],
            room=None if self.choices["keep"].value else value["room"],
            yeast=None if abs(value["yeast"] - own.yeast) < 1e-9 else value["yeast"],
            stage=stage,
            sugar_tolerant=self.choices["tolerant"].value,
            calibration=self.calibration,
            part=self._part if stage == "sponge" else None,
        )
        both = np.isfinite([before.minutes, now.minutes]).all()
        self.before = before
        self.causes = now.against(before) if both else RiseCauses(before.minutes, now.minutes, ())
        return now

    def _move(self):
        curve, bars = self._handles
        curve.update(self.result, self.before)
        bars.update(self.causes)

    def _draw(self):
        left, right = look.figure(430, 400), look.figure(416, 400)
        curve = left.add_axes([0.12, 0.14, 0.845, 0.795])
        bars = right.add_axes([0.03, 0.0, 0.965, 0.935])
        handles = [
            foresee_charts.RiseChart(curve, self.result, self.before),
            foresee_charts.RiseBars(bars, self.causes),
        ]
        self._lay((left, right))
        return handles

    def _numbers(self):
        now, words = self.result, foresee_charts.minutes_in_words
        change = f"{signed(self.causes.total, 0)} min" if np.isfinite(self.causes.total) else ""
        name = {"bulk": "bulk, to double", "final proof": "final proof, to double"}.get(now.stage, "sponge, to double")
        return [
            (name, words(now.minutes), f"{words(now.low)} to {words(now.high)}", "80 % band"),
            ("baseline", words(self.before.minutes), change, "from it to here"),
            (
                "dough",
                f"{figure(now.temperature)} degC",
                "",
                "kept" if now.room is None else f"towards a room of {figure(now.room)} degC",
            ),
            ("water activity", figure(now.water_activity, 3), "", "that the yeast meets"),
        ]

    def _words(self):
        notes = [note for note in self.result.notes if not note.startswith("sugar ")]
        if self.result.stage == "sponge" and self.turned(("sugar", "salt")):
            notes.append("sugar and salt are the dough's, and not in the sponge")
        texts = [self._sentence(), *(["; ".join(notes)] if notes else [])]
        return [f"{text[0].upper()}{text[1:]}." for text in texts]

    def _sentence(self):
        before, now, causes = self.before, self.result, self.causes
        if not np.isfinite(causes.total):
            return f"{'It' if np.isfinite(before.minutes) else 'The baseline'} does not rise to double"
        if abs(causes.total) < 0.05 and not causes.minutes:
            return "As the baseline: nothing has moved"
        moved = {
            "yeast": (before.yeast, now.yeast, 1),
            "dough and room temperature": (before.temperature, now.temperature, 1),
        }
        for kind in ("sugar", "salt"):
            moved[kind] = (before.formula.of_kind(kind), now.formula.of_kind(kind), 1)
        said = []
        for cause, minutes in causes.minutes:
            if abs(minutes) < 0.5:
                continue
            a, b, digits = moved.get(cause, (0, 0, 0))
            name = f"{cause} {figure(a, digits)} → {figure(b, digits)}" if abs(b - a) > 0.04 else cause
            back = minutes * causes.total < 0 and cause.endswith(("water", "sugars"))
            said.append(f"{name} gives {figure(abs(minutes), 0)} back" if back else f"{name}: {signed(minutes, 0)} min")
        return "; ".join(said) or "No cause moves it by half a minute"

    def _behind_html(self):
        now = self.result
        rows = [[cause, figure(spread), why] for cause, spread, why in now.to_frame().itertuples()]
        texts = [*now.notes, *(text for text in now.sources())]
        return page.table(["what widens the band", "% of the work", "rests on"], rows) + page.paragraphs(texts)


# the water


class WaterPanel(_Foresee):
    """How warm the water must be: the trade's factor rule beside a balance of heat, and what parts them.

    formula with water or milk in its final dough; calibration with the kitchen's own mixer. Raises FormulaError.
    """

    def __init__(self, formula, calibration=None):
        only_one(formula, "for the panel")
        self.calibration = calibration
        final = formula.part("dough")
        warm = [step.temperature for step in formula.steps if step.part == "dough" and step.temperature is not None]
        aim, room = float(warm[-1]) if warm else 26.0, 22.0
        degrees = {"unit": "degC", "kind": "temperature"}
        own = water_temperature(formula, aim, room, calibration=calibration)
        dials = {
            "aim": Dial("dough aimed at", aim, 10.0, 36.0, 0.5, **degrees),
            "room": Dial("room", room, 0.0, 40.0, 0.5, **degrees),
            "flour": Dial("flour", room, 0.0, 40.0, 0.5, **degrees),
        }
        self._names = {}
        for kind in ("egg", "butter"):
            names = [formula.ingredients[key]["name"] for key in final.keys if formula.ingredients[key]["kind"] == kind]
            if names and names[0] != own.liquid:
                self._names[kind] = names[0]
                dials[kind] = Dial(names[0], room, 0.0, 40.0, 0.5, **degrees)
        first = [part.name for part in formula.bowls if part.kind != "dough"]
        if first:
            dials["preferment"] = Dial(listing(first), room, 0.0, 40.0, 0.5, **degrees)
        dials["rise"] = Dial("mixing warms it by", round(own.mixing_rise, 1), 0.0, 20.0, 0.1, "degC", "number")
        # ice stands for water alone, not for milk
        self._freezes = formula.ingredients[formula.ingredients.find(own.liquid)]["kind"] == "water"
        super().__init__(formula, dials)

    def _work_out(self, moving):
        value = {name: dial.value for name, dial in self.dials.items()}
        return water_temperature(
            self.formula,
            value["aim"],
            value["room"],
            flour=value["flour"],
            preferment=value.get("preferment"),
            ingredients={name: value[kind] for kind, name in self._names.items()},
            mixing_rise=self.turned(("rise",)).get("rise"),
            calibration=self.calibration,
        )

    def _draw(self):
        left, right = look.figure(430, 450), look.figure(416, 450)
        bars = left.add_axes([0.01, 0.0, 0.98, 0.942])
        shares = right.add_axes([0.02, 0.735, 0.955, 0.207])
        temperatures = right.add_axes([0.02, 0.1, 0.955, 0.555])
        handles = [
            foresee_charts.WaterBars(bars, self.result),
            foresee_charts.DoughTemperatures(temperatures, self.result),
        ]
        foresee_charts.heat_shares(shares, self.result)
        self._lay((left, right))
        return handles

    def _numbers(self):
        now = self.result
        tiles = [
            (
                f"{now.liquid}, factor rule",
                f"{figure(now.rule)} degC",
                _fahrenheit(now.rule),
                f"friction factor {figure(now.friction)}"
                + (f"; ice {figure(now.rule_ice, 0)} g" if now.rule_ice and self._freezes else ""),
            ),
            (
                f"{now.liquid}, balance of heat",
                f"{figure(now.balance)} degC",
                _fahrenheit(now.balance),
                f"{figure(now.low)} to {figure(now.high)}, 80 %",
            ),
        ]
        if now.balance < now.tap and self._freezes:
            whole = now.ice > now.liquid_mass
            tiles.append(
                (
                    "ice, by the balance",
                    "not enough" if whole else f"{figure(now.ice, 0)} g",
                    "",
                    f"all {figure(now.liquid_mass, 0)} g of water as ice"
                    if whole
                    else f"of {figure(now.liquid_mass, 0)} g of water, the rest at {figure(now.tap, 0)} degC",
                )
            )
        can = [entry for entry in now.chill if entry[3]]
        for name, start, to, _ in can[:1]:
            tiles.append((f"or chill {name}", f"{figure(to)} degC", _fahrenheit(to), f"from {figure(start)} degC"))
        tiles.append(
            (
                "dough comes out at, degC",
                f"{figure(now.dough_low, 0)} to {figure(now.dough_high, 0)}",
                "",
                "80 % band with the balance's water",
            )
        )
        return tiles

    def _words(self):
        now = self.result
        said = [
            f"The {now.liquid} carries {figure(now.water_share, 0)} % of the dough's heat, so a degree in the dough "
            f"asks for {figure(100 / now.water_share, 0)} degC of it",
            *now.notes[1:],
        ]
        return [f"{'; '.join(said)}.", f"{now.notes[0][0].upper()}{now.notes[0][1:]}."]

    @property
    def alt(self):
        """The two figures in words."""
        bars, temperatures = (handle.alt for handle in self._handles)
        shares = listing(f"{name} {figure(share, 0)} %" for name, share in self.result.heat_shares if share >= 1)
        return bars, f"Share of the dough's heat: {shares}; {temperatures}"

    def _behind_html(self):
        recommended = recommended_dough_temperatures()
        rows = [[row[0], row[3], row[4], row[6]] for row in recommended.itertuples()]
        texts = page.paragraphs(self.result.sources())
        return self.result._repr_html_() + page.table(["dough", "as printed", "source", "note"], rows) + texts


def _fahrenheit(degrees):
    return f"{figure(1.8 * degrees + 32)} degF"


# the day


class DayPanel(_Foresee):
    """The day planned backwards from when it is on sale, in mixes and oven loads, on the clock.

    formula with pieces; tray a row of trays.csv or "58 x 38 cm". Raises FormulaError, AmountError, as `day`.
    """

    cautious = True

    def __init__(self, formula, tray="600 x 400 mm"):
        only_one(formula, "for the panel")
        self.tray = tray
        own = day(formula, tray=tray)
        pieces, trays, kilos = own.trays.pieces, own.trays.trays, own.trays.pieces * formula.pieces.dough / 1000
        dials = {
            "pieces": Dial("batch", float(pieces), 1.0, max(480.0, 2.0 * pieces), 1.0, "pieces", "number"),
            "oven": Dial("oven takes", float(trays), 1.0, max(12.0, trays), 1.0, "trays", "number"),
            "mixer": Dial(
                "mixer takes dough", round(max(10.0, 1.2 * kilos), 1), 1.0, 60.0, 0.5, "kg", "mass", per=1e-3
            ),
        }
        minutes = {stage.name: stage.minutes for stage in own.stages}
        self._timed = [name for name in ("sponge", "bulk", "proof", "cool") if name in minutes]
        for name in self._timed:
            reach = max(180.0, 1.5 * minutes[name])
            dials[name] = Dial(name, minutes[name], 0.0, reach, 5.0, "min", "time")
        sale = widgets.Text(
            value="07:00",
            description="on sale at",
            continuous_update=False,
            layout={"width": "150px"},
            style={"description_width": "initial"},
        )
        super().__init__(formula, dials, {"sale": sale})

    def _work_out(self, moving):
        value = {name: dial.value for name, dial in self.dials.items()}
        return day(
            self.formula,
            self.choices["sale"].value,
            minutes=self.turned(self._timed),
            mixer=f"{value['mixer']} kg",
            oven=value["oven"],
            pieces=value["pieces"],
            tray=self.tray,
        )

    def _draw(self):
        left, right = look.figure(540, 440), look.figure(306, 440)
        line = left.add_axes([0.315, 0.105, 0.65, 0.835])
        length, width = self.result.trays.length + 1, self.result.trays.width + 1
        high = min(0.84 * 306 / 440 * width / length, 0.6)
        tray = right.add_axes([0.135, 0.94 - high, 0.84, high])
        handles = [foresee_charts.Timeline(line, self.result), foresee_charts.TrayView(tray, self.result)]
        self._lay((left, right))
        return handles

    def _numbers(self):
        shown = self.result
        begin, sure = (clock(minutes) for minutes in (shown.begin, shown.begin_by))
        first = min(shown.slots, key=lambda slot: slot.start).stage
        out = max(slot.end for slot in shown.slots if slot.stage == self._bake)
        tins = shown.trays
        return [
            (f"start the {first} at", begin[:5], begin[6:], "by the middle of each band"),
            ("to be sure, at", sure[:5], sure[6:], "nine days in ten are then ready"),
            ("last out of the oven", clock(out)[:5], clock(out)[6:], f"on sale at {clock(shown.on_sale)}"),
            ("oven loads", str(tins.loads), "", f"{plural(tins.trays, 'tray')} for {plural(tins.pieces, 'piece')}"),
            ("mixes", str(shown.mixes), "", "as the mixer takes"),
        ]

    @property
    def _bake(self):
        return next(stage.name for stage in self.result.stages if "bake" in stage.holds)

    def _words(self):
        shown = self.result
        said = [f"Start at {clock(shown.begin)}, to be sure at {clock(shown.begin_by)}"]
        waits = [slot for slot in shown.slots if slot.wait >= 1]
        said += [note for note in shown.notes if " waits " not in note or len(waits) <= 2]
        if len(waits) > 2:
            worst = max(waits, key=lambda slot: slot.wait)
            longest = f"the longest {figure(worst.wait, 0)} min after {worst.stage}"
            said.append(f"{len(waits)} waits for oven, mixer or hands, {longest}: keep it cool meanwhile")
        return [f"{'; '.join(said)}.", "Pale: a stage may have to start this early, 80 % band. Hollow: waiting."]

    def _behind_html(self):
        shown = self.result
        rows = [[name, why] for name, why in shown.sources().items()]
        return shown._repr_html_() + page.table(["stage", "rests on"], rows)
