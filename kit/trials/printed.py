"""Bakes on paper: the page for the bench before a bake. Black on white, nothing below 9 pt."""

from collections.abc import Sequence

from .. import page
from ..cautions import FIRST, cautions_for, together
from ..errors import KitError
from ..formula import to_weigh
from ..words import capital, figure, kept, listing
from .fields import Note
from .records import Trial, mean_of

READINGS = 6  # boxes of a row
BENCH = (  # what a bake is noted by where nothing else is chosen, in the order it is read off
    *("flour lot", "dough temperature", "bulk time", "proof time", "proof temperature", "proof rise", "bake time"),
    *("core temperature", "baked mass", "height", "diameter", "crumb dent day 1", "crumb dent day 2"),
)
LOOK = """
@page { margin: 8mm } body { max-width: none; font: 10pt/1.25 Arial, "Liberation Sans", Helvetica, sans-serif }
h1, h2, p { margin: 0 } h1 { font-size: 16pt; line-height: 1.15 } h2 { font-size: 11pt; margin: 2mm 0 0.5mm }
table { border-collapse: collapse; width: 100% } td, th { font-weight: 400; text-align: left; vertical-align: top;
  border-bottom: 0.15mm solid #888; padding: 0.2mm 1.5mm 0.2mm 0; font-size: 9pt; line-height: 1.2 }
thead th { border-bottom: 0.4mm solid #000 } tr { break-inside: avoid }
.caution { font-size: 9pt; line-height: 1.1; margin-top: 1.5mm; break-inside: avoid }
"""
_BENCH = """
.two { display: flex; gap: 6mm } .two > div { flex: 1.45; display: flex; flex-direction: column }
.two > div:first-child { flex: 1 }
.weigh td:nth-child(2) { font-size: 10.5pt; font-weight: 700; text-align: right; white-space: nowrap }
.weigh td:last-child, .make td:last-child { border-left: 0.15mm solid #888; width: 17mm }
.part { font-weight: 700 } .sketch { flex: 1; border: 0.3mm solid #000; min-height: 30mm; padding: 0.5mm 1mm }
.note td { border: 0.15mm solid #888; height: 5.2mm; padding: 0 1mm; vertical-align: middle }
.note td:first-child { width: 44mm } .note td:nth-child(2) { width: 19mm } .lines { border: 0.15mm solid #888;
  height: 14mm; margin-top: 1.5mm; padding: 0.5mm 1mm }
"""


def bench_page(trial: Trial, fields: Sequence[str] = BENCH, paper: str = "A4") -> str:
    """Return the page that lies on the bench while a bake is made, as a whole HTML page of one sheet.

    trial: the bake, as planned; its masses where its formula and flour are known
    fields: entries to leave room for, in the order they are read off, such as "height" or "crumb dent day 1"
    paper: A4 or Letter

    Raises UnknownName, AmountError.

    >>> from kit.trials import Trial
    >>> "dough temperature" in bench_page(Trial.of("more butter", "2025-03-04", planned_oven_set=180))
    True
    """
    recipe, bake = trial.plan, trial.plan and trial.plan.formula.bake
    about = [str(trial.date), f"baked by {trial.baker or '__________'}", recipe and f"formula {recipe.name}"]
    asked = page.paragraphs([", ".join(filter(None, about)), trial.question and f"To answer: {trial.question}"])
    sketch = '<h2>Sketch</h2><div class="sketch">from above, cut; where the crust parted</div>'
    columns = f'<div class="two"><div>{_masses(trial)}</div><div>{_steps(recipe, bake)}{sketch}</div></div>'
    rows = "".join(_row(trial, Note.of(each)) for each in fields)
    boxes = f'<table class="note">{_heads("note", "aim", "as it was", span=READINGS)}{rows}</table>'
    body = f"{head([trial])}{asked}{columns}{boxes}<div class='lines'>Deviations, notes</div>{foot([trial])}"
    return page.sheet(title_of([trial]), body, LOOK + _BENCH, paper)


def title_of(trials):
    """Return the title of a page of trials, the invented marked."""
    names = trials[0].name if len(trials) == 1 else "side by side"
    codes = listing(trial.code for trial in trials if trial.code)
    return f"{codes} {names}".strip() + " (invented)" * any(trial.invented for trial in trials)


def head(trials):
    """Return the HTML heading of a page of trials."""
    return f"<h1>{page.escape(title_of(trials))}</h1>"


def foot(trials):
    """Return the HTML foot of a page of bakes: local codes first, allergens, what is minded at the bench."""
    hazards = together(map(cautions_for, {t.plan.fingerprint: t.plan.formula for t in trials if t.plan}.values()))
    told = [hazards.words] * bool(hazards.rows) + [row.short for row in hazards.short()[1:]]
    return f'<p class="caution"><b>{page.escape(FIRST)}</b> {page.escape(" ".join(told))}</p>'


def _heads(*names, span=1):
    cells = "".join(f'<th scope="col">{name}</th>' for name in names[:-1])
    return f'<thead><tr>{cells}<th scope="col" colspan="{span}">{names[-1]}</th></tr></thead>'


def _masses(trial):
    """Return what goes into each bowl as planned, a box beside each line for what the scale said."""
    try:
        batch = trial.batch
    except KitError as error:
        return f"<h2>Weigh</h2><p>{page.escape(error)}</p>"
    rows, before = "", ""
    for (part, key), grams in batch.grams.items():
        item = batch.formula.ingredients[key]
        rows += f'<tr><td class="part">{page.escape(capital(part))}</td><td></td><td></td></tr>' * (part != before)
        rows += f"<tr><td>{page.escape(item.name)}</td><td>{to_weigh(float(grams), item.kind)}</td><td></td></tr>"
        before = part
    on = [f"{kind} {grams:g} g" for kind, grams in trial.plan.pieces.items() if grams]
    made = f"<p>A piece: {page.escape(kept(', '.join(on)))}</p>"
    return f'<h2>Weigh</h2><table class="weigh">{_heads("", "g", "weighed")}{rows}</table>{made}'


def _steps(recipe, bake):
    """Return the method with what to aim at, a box beside each step for the time it was done."""
    if recipe is None:
        return ""
    steps = [
        (step.do, _aims(step.minutes, step.temperature) + (f", {step.until}" if step.until else ""))
        for step in recipe.formula.steps
    ]
    if bake:
        core = f", core {bake.core:g} °C" if bake.core else ""
        steps.append(("Bake", _aims(bake.minutes, bake.oven) + core))
    cells = (f"{page.escape(do)} <b>{page.escape(kept(aim))}</b>" for do, aim in steps)
    rows = "".join(f"<tr><td>{cell}</td><td></td></tr>" for cell in cells)
    return f'<h2>Make</h2><table class="make">{_heads("", "done at")}{rows}</table>'


def _aims(minutes, degrees):
    return ", ".join(f"{each:g} {unit}" for each, unit in ((minutes, "min"), (degrees, "°C")) if each)


def _row(trial, note):
    """Return the row of an entry: its aim where one is planned, a box a reading."""
    field = note.field
    aim = mean_of(trial.value(f"planned {field.words}")) if field.group == "controlled" else None
    unit = f", {field.spoken_unit}" if field.spoken_unit else ""
    many = field.readings > 1 or field.group == "series"
    boxes = "<td></td>" * READINGS if many else f'<td colspan="{READINGS}"></td>'
    cells = f"<td>{page.escape(f'{note}{unit}')}</td><td>{'' if aim is None else figure(aim, field.digits)}</td>"
    return f"<tr>{cells}{boxes}</tr>"
