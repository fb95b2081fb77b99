"""The production sheet as one printable page: black on white, the numbers that are weighed the largest."""

import re

from .. import page
from ..cautions import FIRST
from .bench import counted, trimmed

CSS = """
@page { margin: 7mm }
body { max-width: none; font: 10pt/1.15 Arial, "Liberation Sans", Helvetica, sans-serif }
.head span { white-space: nowrap }
p, h1, h2, ol { margin: 0 }
.sheet { border: 0.4mm solid #000; padding: 1.5mm 3mm }
.varied { border: 2.2mm dashed #000; padding: 0.5mm 2mm }
.head { display: flex; justify-content: space-between; gap: 4mm }
h1 { font-size: 16pt; line-height: 1.1 }
h2 { font-size: 11pt }
.count { font-size: 13pt }
.contains { border: 0.8mm solid #000; padding: 0.5mm 2.5mm; font-size: 14pt; font-weight: 700; align-self: start;
            text-align: center; max-width: 42% }
.contains small { display: block; font-size: 8.5pt; font-weight: 400 }
.other { font-weight: 700; font-size: 11pt }
.new { border: 0.3mm solid #000; padding: 0.2mm 1.5mm; margin: 0.5mm 0; font-size: 8.5pt; line-height: 1.1 }
.note { font-weight: 700; font-size: 9.5pt }
.two { display: flex; gap: 4mm; margin: 1mm 0 }
.weigh { flex: 0 0 57.5% }
.right { flex: 1; display: flex; flex-direction: column; justify-content: space-between }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums }
td, th { white-space: nowrap; border-bottom: 0.15mm solid #888; font-weight: 400; vertical-align: baseline }
thead th { font-size: 9pt; border-bottom: 0.4mm solid #000 }
thead h2 { display: inline }
.weigh td, .weigh th { padding: 0 1.2mm; text-align: right; line-height: 1 }
.weigh td:first-child, .weigh th:first-child { text-align: left; padding-left: 0; white-space: normal }
.weigh td { font-size: 12pt }
.weigh .large { font-size: 14pt; font-weight: 700 }
.weigh .small { font-size: 9pt }
.weigh .part th { font-size: 9pt; padding-top: 1.2mm; border-bottom: 0.3mm solid #000 }
.weigh .part b { font-size: 11.5pt }
.weigh .total td { border-top: 0.3mm solid #000 }
.weigh small { font-size: 8.5pt }
tr, li { break-inside: avoid }
.tick { display: inline-block; width: 3.6mm; height: 3.6mm; border: 0.3mm solid #000; vertical-align: -0.4mm }
.make h2 { border-bottom: 0.4mm solid #000; padding-bottom: 0.3mm }
.make ol { padding-left: 5.5mm }
.make li { margin-top: 0.8mm; font-size: 10.5pt }
.make li p { font-weight: 700 }
.check { break-inside: avoid }
.check td, .check th { padding: 0.35mm 1.5mm; text-align: left; font-size: 10.5pt }
.check td:first-child, .check th:first-child { padding-left: 0 }
.check thead th { font-size: 9pt }
.check td { white-space: normal }
.check .write { min-width: 25mm; border-bottom: 0.3mm solid #000 }
.lines { display: flex; gap: 2mm; font-size: 10pt; align-items: flex-end; height: 6.8mm }
.lines span { flex: 1; border-bottom: 0.3mm solid #000 }
.caution { break-inside: avoid; font-size: 8pt; line-height: 1.1; margin-top: 1mm }
"""
_UNITS = re.compile(
    r"(?<=[\d⅛¼⅜½⅝¾⅞]) (?=(?:%|g|mm|min|°C|°F|lb|oz|in)(?!\w))|(?<=%) (?=RH)|(?<=\d) (?=×)|(?<=×) (?=\d)"
)


def print_sheet(sheet, paper, changes=None, since=None):
    """Return the whole HTML page of a ProductionSheet; changes since another are told under the head."""
    new = ""
    if changes is not None:
        new = f'<p class="new"><b>New since {page.escape(since.version)}:</b> {kept(str(changes))}</p>'
    notes = "".join(f'<p class="note">{page.escape(note)}</p>' for note in sheet.notes)
    right = f'<div class="right">{_make(sheet)}{_written()}</div>'
    body = (
        f'<main class="sheet{" varied" if sheet.added or sheet.gone else ""}">{_head(sheet)}{new}{notes}'
        f'<div class="two">{_weigh(sheet)}{right}</div>{_check(sheet)}{_cautions(sheet)}</main>'
    )
    return page.sheet(sheet.title, body, CSS, paper)


def _head(sheet):
    blank = "__________"
    house = f"{sheet.formula.house}{' (invented)' if sheet.formula.invented else ''}".strip()
    facts = [house, sheet.version, f"valid from {sheet.valid_from or blank}", f"made by {sheet.made_by or blank}"]
    said = " · ".join(f"<span>{page.escape(fact)}</span>" for fact in facts if fact)
    other = f'<p class="other">{page.escape(sheet.say_varies())}</p>' if sheet.added or sheet.gone else ""
    names = ", ".join(sheet.allergens).upper() if sheet.allergens else "no allergen known"
    return (
        f'<div class="head"><div><h1>{page.escape(sheet.formula.name)}</h1><p><b class="count">'
        f"{page.escape(counted(sheet.pieces, 'piece'))}</b> · {said}</p>{other}</div>"
        f'<div class="contains"><small>contains</small>{page.escape(names)}</div></div>'
    )


def _weigh(sheet):
    us = sheet.working == "US"
    heads = ("%", "lb and oz", "g") if us else ("%", "g", "lb and oz")
    rows = ""
    for part in dict.fromkeys(line.part for line in sheet.lines):
        said = page.escape(sheet.bases[part])
        rows += f'<tr class="part"><th scope="rowgroup" colspan="5"><b>{page.escape(_upper(part))}</b> {said}</th></tr>'
        for line in (n for n in sheet.lines if n.part == part):
            large, small = (line.american, line.metric) if us else (line.metric, line.american)
            task = f" <small>{line.task}</small>" if line.task else ""
            rows += (
                f"<tr><td>{page.escape(line.item)}{task}</td><td>{trimmed(line.percentage)}</td>"
                f'<td class="large">{large}</td><td class="small">{small}</td><td><span class="tick"></span></td></tr>'
            )
        total = sheet.totals.get(part)
        if total:
            rows += (
                f'<tr class="total"><td>{page.escape(total.name)} <small>(true {total.true})</small></td>'
                f"<td>{trimmed(total.percentage)}</td>"
                f'<td class="large">{total.rounded}</td><td class="small">{total.other}</td><td></td></tr>'
            )
    columns = "".join(f'<th scope="col">{name}</th>' for name in ("<h2>1 Weigh</h2> small: its step", *heads, ""))
    return f'<section class="weigh"><table><thead><tr>{columns}</tr></thead><tbody>{rows}</tbody></table></section>'


def _make(sheet):
    items = "".join(
        f"<li>{kept(task.do)}{''.join(f'<p>{kept(_upper(text))}</p>' for text in task.also)}</li>"
        for task in sheet.tasks
    )
    return f'<section class="make"><h2>2 Make</h2><ol>{items}</ol></section>'


def _check(sheet):
    rows = "".join(
        f'<tr><th scope="row">{kept(_upper(check.what))}</th><td class="write"></td>'
        f"<td>{kept(check.aim)}</td><td>{kept(check.act)}</td></tr>"
        for check in sheet.checks
    )
    columns = ("<h2>3 Check and write</h2>", "measured", "aim", "act if")
    heads = "".join(f'<th scope="col">{name}</th>' for name in columns)
    return (
        f'<section class="check"><table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>'
        f"{_lines(('Deviations',))}</section>"
    )


def _written():
    rows = (("Date", "Baker"), ("Flour lot", "Butter lot"), ("Egg lot", "Yeast lot"))
    return f"<div>{''.join(_lines(row) for row in rows)}</div>"


def _lines(names):
    return f'<div class="lines">{"".join(f"{name} <span></span>" for name in names)}</div>'


def _cautions(sheet):
    return f'<p class="caution"><b>{page.escape(FIRST)}</b> {page.escape(" ".join(sheet.cautions))}</p>'


def kept(text):
    """Escaped text whose numbers stay on one line with their units."""
    return _UNITS.sub("\u00a0", page.escape(text))


def _upper(text):
    return f"{text[:1].upper()}{text[1:]}"
