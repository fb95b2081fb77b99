"""What a panel says, as HTML: strips of numbers, sentences, and what lies beside what."""

from .. import page
from ..words import signed
from . import look


def status(text):
    """Return what came of a move, in a sentence, as HTML that is read aloud."""
    return (
        f'<p role="status" style="margin:6px 0 2px;font-size:15px;line-height:1.45;color:{look.INK}">'
        f"{page.escape(text)}</p>"
    )


def alert(text):
    """Return what cannot be, as HTML that is read aloud at once."""
    return (
        f'<p role="alert" style="margin:4px 0;padding:4px 10px;background:#fdf1ea;color:{look.INK};font-size:14px;'
        f'line-height:1.4;border-left:4px solid {look.WRONG}">{page.escape(text)}</p>'
    )


def block(*parts):
    """Return pieces of HTML as one, at the panels' spacing."""
    return f'<div style="line-height:1.35">{"".join(parts)}</div>'


def small(text, size=13, **style):
    """Return a quiet paragraph, as HTML."""
    style = {"margin": "0", "font-size": f"{size}px", "line-height": "1.35", "color": look.QUIET} | style
    return f'<p style="{";".join(f"{name}:{value}" for name, value in style.items())}">{page.escape(text)}</p>'


def large(name, value, below):
    """Return the one number that leads beside the tiles, as HTML; below: what it is of, as HTML."""
    size = f"font-size:34px;line-height:1.15;font-weight:600;color:{look.ACCENT};white-space:nowrap"
    return (
        f'<div style="padding:2px 26px 2px 0;font-size:12px;color:{look.QUIET}">{page.escape(name)}'
        f'<div style="{size}">{page.escape(value)}</div>{below}</div>'
    )


def wrapped(*pieces, gap=""):
    """Return pieces of HTML beside each other where there is room: (the flex of each, HTML)."""
    boxes = "".join(f'<div style="flex:{flex}">{html}</div>' for flex, html in pieces)
    return f'<div style="display:flex;flex-wrap:wrap{gap and f";gap:{gap}"}">{boxes}</div>'


def head(words):
    """Return the heading of a paragraph, as HTML."""
    return f'<p style="margin:8px 0 2px;font-size:13px;font-weight:600;color:{look.INK}">{page.escape(words)}</p>'


def tiles(entries):
    """Return a strip of the numbers a baker acts on, as HTML: [(name, value, change in words, base)]."""
    cells = "".join(
        f'<div style="flex:1 1 112px;min-width:min-content;padding:2px 6px 2px 0;color:{look.QUIET};font-size:12px">'
        f"{page.escape(name)}"
        f'<div style="font-size:20px;font-weight:600;color:{look.ACCENT};white-space:nowrap">{page.escape(value)}</div>'
        f'<b style="color:{look.INK}">{page.escape(change)}</b> {page.escape(base)}</div>'
        for name, value, change, base in entries
    )
    return f'<div style="display:flex;flex-wrap:wrap;max-width:900px;margin:4px 0 6px">{cells}</div>'


def moved(change, digits=1):
    """Return a change with its sign, as a tile shows it; nothing where it would read as nought."""
    return "" if abs(change) < 0.5 * 10**-digits else signed(change, digits)


def side_by_side(pictures):
    """Return pieces of HTML beside each other where there is room, else beneath each other: [(width in px, HTML)].

    Each gives way by 2.5 %, so that two charts stand side by side in a notebook beside the list of files: 11 px of text
    stay 11 px.
    """
    flex = "1 1 {0:.0f}px;min-width:min({0:.0f}px,100%);max-width:{1:.0f}px"
    return wrapped(*((flex.format(0.975 * width, width), html) for width, html in pictures))
