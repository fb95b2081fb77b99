"""Bakes on paper: the page for the bench before a bake, bakes in columns after it. Nothing below 9 pt.

Each bake keeps its column on every line, on a screen as on paper.
"""

import re
from collections import Counter
from collections.abc import Sequence

from .. import page
from ..cautions import FIRST, cautions_for, together
from ..errors import KitError
from ..formula import Step, to_weigh
from ..words import capital, figure, kept, listing, without_zeros
from .again import aims
from .fields import Note
from .photos import small
from .records import Trial

READINGS = 6  # boxes of a row
VIEWS = ("top", "side", "cut face")
_TIMED = re.compile(r"\d\d \S+ \d\d:\d\d")  # the view of a photo that was given none: when it was taken
BENCH = (  # what a bake is noted by where nothing else is chosen, in the order it is read off
    *("flour lot", "dough temperature", "bulk time", "proof time", "proof temperature", "proof rise", "bake time"),
    *("core temperature", "baked mass", "height", "diameter", "crumb dent day 1", "crumb dent day 2"),
)


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
    recipe = trial.plan
    about = [str(trial.date), f"baked by {trial.baker or '__________'}", recipe and f"formula {recipe.name}"]
    asked = page.paragraphs([", ".join(filter(None, about)), trial.question and f"To answer: {trial.question}"])
    sketch = '<h2>Sketch</h2><div class="sketch">from above, cut; where the crust parted</div>'
    columns = f'<div class="two"><div>{_masses(trial)}</div><div>{_steps(recipe)}{sketch}</div></div>'
    aimed = aims(trial)
    rows = "".join(_row(Note.of(each), aimed) for each in fields)
    boxes = f'<table class="note">{_heads("note", "aim", "as it was", span=READINGS)}{rows}</table>'
    below = f"<div class='lines'>Deviations, notes</div>{foot([recipe.formula] if recipe else ())}"
    body = f"{head([trial])}{asked}{columns}{boxes}{below}"
    return page.sheet(title_of([trial]), body, page.style(__file__), paper)


WRITTEN = 260  # characters of a cell on paper
SIZES = {"a4": (210, 297), "letter": (216, 279)}  # mm


def columns(side, sections=None, photos=(), scales=None, size=400):
    """Return bakes in columns as an HTML table.

    sections: as `SideBySide.sections`; photos: (view, a Photo or None a column); scales {digest: mm of a pixel}: a row
    of photos that all have one is shown to one scale; size: of a photo [px].
    """
    cell = "padding:2px 8px 2px 0;border-bottom:1px solid #ddd;vertical-align:top;text-align:left;font-weight:400"
    first = {1: 28, 2: 22}.get(len(side.names), 13)  # % of the table, for the names of rows
    wide = [first, *[(100 - first) / len(side.names)] * len(side.names)]
    widths = "".join(f'<col style="width:{share:.2f}%">' for share in wide)

    def row(label, cells):
        name, *more = label
        small = "".join(f'<br><span style="color:#555">{page.escape(each)}</span>' for each in more if each)
        head = f'<th scope="row" style="{cell}">{page.unbroken(page.escape(name))}{small}</th>'
        inside = "".join(f'<td style="{cell};overflow-wrap:anywhere">{each}</td>' for each in cells)
        return f"<tr>{head}{inside}</tr>"

    body = "".join(row((view,), _in_row(side, view, some, scales or {}, size)) for view, some in photos)
    for title, rows in side.sections() if sections is None else sections:
        if rows and title:
            span = f'colspan="{len(wide)}" style="{cell};font-weight:600;padding-top:8px"'
            body += f'<tr><th scope="colgroup" {span}>{page.escape(title)}</th></tr>'
        body += "".join(row(label, map(page.escape, cells)) for label, cells in rows)
    heads = "".join(
        f'<th scope="col" style="{cell};border-color:#777"><b style="white-space:nowrap">{page.escape(name)}</b>'
        f"{''.join(f'<br>{page.escape(each)}' for each in more)}</th>"
        for name, *more in (_headed(side, n) for n in range(len(side.names)))
    )
    look = f"{page.STYLE};table-layout:fixed;width:100%;line-height:1.3"
    heads = f'<thead><tr><td style="{cell}"></td>{heads}</tr></thead>'
    return f'<table style="{look}"><colgroup>{widths}</colgroup>{heads}{body}</table>'


def _headed(side, n):
    """Return the lines of a column's head: its name, then which bakes they are."""
    column, name = side.trials[n], side.names[n]
    codes = [trial.code for trial in column]
    codes = listing(codes[:4] + [f"{len(codes) - 4} more"] * (len(codes) > 4))
    dates = " to ".join(dict.fromkeys((str(column[0].date), str(column[-1].date))))
    bakers = listing(dict.fromkeys(trial.baker for trial in column if trial.baker))
    more = (column[0].name if len(column) == 1 else codes, ", ".join(filter(None, (dates, bakers))))
    return [name, *(each for each in more if each != name)]


def photos_of(side, book):
    """Return [(view, [a Photo or None for each column])], the view that most bakes have first."""
    found = [_by_view([photo for trial in column for photo in book.photos(trial)]) for column in side.trials]
    views = Counter(view for photos in found for view in photos)
    return [
        (view, [photos.get(view) for photos in found])
        for view in sorted(views, key=lambda view: (-views[view], VIEWS.index(view) if view in VIEWS else len(VIEWS)))
    ]


def _by_view(photos):
    """Return {view: a Photo}; those that have only their time for a view are counted, to stand beside each other."""
    timed = [photo for photo in photos if _TIMED.fullmatch(photo.view)]
    named = {photo.view: photo for photo in reversed(photos) if not _TIMED.fullmatch(photo.view)}
    return named | {"as taken" + f", {n}" * (n > 1): photo for n, photo in enumerate(timed, 1)}


def _in_row(side, view, photos, scales, size):
    """Return the cells of a row of photos: to one scale where each of them has one, else said not to be."""
    across = [photo and photo.width * scales.get(photo.digest, 0.0) for photo in photos]
    to_scale = all(wide for photo, wide in zip(photos, across, strict=True) if photo)
    for name, column, photo, wide in zip(side.names, side.trials, photos, across, strict=True):
        if photo is None:
            yield ""
            continue
        share = 100 * wide / max(filter(None, across)) if to_scale else 100
        alt = page.escape(f"{name}, {view}, {column[0].date}")
        source = page.address(small(photo.picture, size), "image/jpeg")
        said = "to one scale" if to_scale else "not to scale"
        yield f'<img alt="{alt}" style="display:block;width:{share:.1f}%" src="{source}">{said}'


def bakes_page(side, book, paper):
    """Return bakes in columns as a whole HTML page: one sheet up to four, two for more; of one its formula too."""
    many, trials = len(side.names), [trial for column in side.trials for trial in column]
    photos = photos_of(side, book)[: 1 + (many == 1)] if book is not None else []
    scales = dict(book.kitchen.scales) if photos else {}
    sections = [(title, [(label, list(map(_cut, cells))) for label, cells in rows]) for title, rows in side.sections()]
    shown = [columns(side, sections if many < 5 else sections[:4], photos, scales, 900)]
    if many == 1:
        shown = [f'<div class="two"><div>{_masses(trials[0], "")}</div><div>{shown[0]}</div></div>']
    elif many > 4:
        shown.append(columns(side, sections[4:]))
    words, rest = (
        f'<p class="words">{page.unbroken(page.escape(side.words))}</p>',
        "<p>Rows without room are on the screen.</p>",
    )
    rest += foot(trial.plan.formula for trial in trials if trial.plan)
    sheets = [
        f'<div class="sheet">{head(trials)}{"" if n else words}<div class="rows">{rows}</div>{rest}</div>'
        for n, rows in enumerate(shown)
    ]
    short, long = SIZES.get(str(paper).casefold(), SIZES["a4"])
    look = f"{page.style(__file__)} .sheet img {{ max-height: {66 if many > 1 else 45}mm }}"
    look += f" .sheet {{ height: {(short if many > 2 else long) - 17}mm }}"
    look += f"@page {{ size: {'A4' if short == 210 else 'letter'} landscape }}" if many > 2 else ""
    return page.sheet(title_of(trials), "".join(sheets), look, paper)


def _cut(words):
    return words if len(words) <= WRITTEN else f"{words[: WRITTEN - 1].rstrip()}\u2026"


def title_of(trials):
    """Return the title of a page of trials, the invented marked."""
    names = trials[0].name if len(trials) == 1 else "side by side"
    codes = listing(trial.code for trial in trials if trial.code)
    return f"{codes} {names}".strip() + " (invented)" * any(trial.invented for trial in trials)


def head(trials):
    """Return the HTML heading of a page of trials."""
    return f"<h1>{page.escape(title_of(trials))}</h1>"


def foot(formulas):
    """Return the HTML foot of a page of bakes: local codes first, allergens, what is minded at the bench."""
    hazards = together(map(cautions_for, {each.fingerprint: each for each in formulas}.values()))
    told = [hazards.words] * bool(hazards.rows) + [row.short for row in hazards.short()[1:]]
    return f'<p class="caution"><b>{page.escape(FIRST)}</b> {page.escape(" ".join(told))}</p>'


def _heads(*names, span=1):
    cells = "".join(f'<th scope="col">{name}</th>' for name in names[:-1])
    return f'<thead><tr>{cells}<th scope="col" colspan="{span}">{names[-1]}</th></tr></thead>'


def _masses(trial, box="weighed"):
    """Return what goes into each bowl, a box of that name beside each line for what the scale said."""
    try:
        batch = trial.batch
    except KitError as error:
        return f"<h2>{'Weigh' if box else 'Weighed'}</h2><p>{page.escape(error)}</p>"
    rows, before = "", ""
    for (part, key), grams in batch.grams.items():
        item = batch.formula.ingredients[key]
        rows += f'<tr><td class="part">{page.escape(capital(part))}</td><td></td><td></td></tr>' * (part != before)
        rows += f"<tr><td>{page.escape(item.name)}</td><td>{to_weigh(float(grams), item.kind)}</td><td></td></tr>"
        before = part
    on = [f"{kind} {grams:g} g" for kind, grams in trial.plan.pieces.items() if grams]
    made = f"<p>A piece: {page.escape(kept(', '.join(on)))}</p>"
    return f'<h2>{"Weigh" if box else "Weighed"}</h2><table class="weigh">{_heads("", "g", box)}{rows}</table>{made}'


def _steps(recipe):
    """Return the method with what to aim at, a box beside each step for the time it was done."""
    if recipe is None:
        return ""
    bake, rows = recipe.formula.bake, ""
    core = f"core {bake.core:g} °C" if bake.core else ""
    for step in (*recipe.formula.steps, Step("Bake", minutes=bake.minutes, temperature=bake.oven, until=core)):
        figures = ((step.minutes, "min"), (step.temperature, "°C"))
        aims = [f"{value:g} {unit}" for value, unit in figures if value] + [step.until] * bool(step.until)
        rows += f"<tr><td>{page.escape(step.do)} <b>{page.escape(kept(', '.join(aims)))}</b></td><td></td></tr>"
    return f'<h2>Make</h2><table class="make">{_heads("", "done at")}{rows}</table>'


def _row(note, aimed):
    """Return the row of an entry: what it aims at, a box a reading."""
    field, aim = note.field, aimed.get(note.name)
    aim = "" if aim is None else aim if isinstance(aim, str) else without_zeros(figure(aim, field.digits))
    many = field.readings > 1 or field.group == "series"
    boxes = "<td></td>" * READINGS if many else f'<td colspan="{READINGS}"></td>'
    cells = f"<td>{page.escape(note.label)}</td><td>{page.escape(aim)}</td>"
    return f"<tr>{cells}{boxes}</tr>"
