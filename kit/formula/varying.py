"""Changing a formula: one percentage at a time or a whole grid of them, without losing what must stay."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ..errors import FormulaError, UnknownName, array_of, must
from ..units import read
from ..words import did_you_mean, figure, listing, one_of, plain
from .parts import DOUGH, ON_FLOUR, TOTAL_FLOUR, Part, check_percentage, make_up

if TYPE_CHECKING:
    from .formula import Formula

MASSES = ("topping", "wash", "filling")  # what lies on or in a piece of dough
LEAST = 1e-9  # percentages below this are rounding, not butter


def vary(formula: "Formula", changes: Mapping[str, Any] | None = None, *, grid: bool = True, **named: Any) -> "Formula":
    """Return a variant with other percentages or another piece: one formula, or many when arrays are given.

    changes, or by keyword: {name: value}, each value one number or an array:
        a kind (butter, egg, sugar ...) [% of total flour, preferments included] moves all lines of that kind in
            proportion, an ingredient's own name moves that line; what is absent is added to the final dough.
        piece, topping, wash, filling [g or any mass]: the mass of the dough piece, and what lies on or in it.
        pieces [count]: how many the batch makes.
        the name of a part: {ingredient: % of the part's base}.
    grid: 1-d arrays span a grid in the order they are written; without, they are matched element by element.
    Returns the variant; its topping and wash move only when named.
    Raises UnknownName, FormulaError for a percentage below what the preferment already holds, AmountError, UnitError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"bread flour": 1000, "water": 500, "butter": 150}, makes={"piece": 60})
    >>> bun.vary(butter=25).of_kind("butter"), bun.vary(butter=range(0, 61), water=[50, 55]).shape
    (25.0, (61, 2))
    >>> bun.vary(piece="72 g").pieces.dough
    72.0
    """
    # what is called so: the part outside the dough or none, what moves in it, to what
    moves: dict[str, tuple[Any, str, Any]] = {}
    pieces: dict[str, Any] = {}
    names = {name: part for name, part in formula.named.items() if part.kind != "dough"}
    for name, value in {**(changes or {}), **named}.items():
        part = names.get(plain(name))
        if isinstance(value, dict):
            part = names[one_of("part", name, names, "add a new one in the formula's file")]
            if part.kind in DOUGH:
                do = "give the dough's percentages bare, on total flour; a preferment is changed in its file"
                raise FormulaError(must(part.name, "a part outside the dough", part.kind, do))
            moves |= {f"{name} {written}": (part, written, each) for written, each in value.items()}
        elif plain(name) in ("piece", "pieces", *MASSES):
            pieces[plain(name)] = value
        elif part and part.kind in MASSES:
            pieces[part.kind] = value
        elif part:
            raise FormulaError(must(name, "{ingredient: percentage}", repr(value), "name what moves in it"))
        else:
            moves[name] = None, name, value
    given = {called: value for called, (*_, value) in moves.items()} | pieces
    numbers: dict[str, Any] = {
        called: value if isinstance(value, str) else array_of(called, value, FormulaError)
        for called, value in given.items()
    }
    axes = [called for called, value in numbers.items() if grid and np.ndim(value) == 1]
    for n, called in enumerate(axes):
        numbers[called] = numbers[called].reshape([1] * n + [-1] + [1] * (len(axes) - n - 1))
    parts = {part.name: part for part in formula.parts}
    for called, (part, written, _) in moves.items():
        value = numbers[called]
        value = read(value, "percentage", called) if isinstance(value, str) else value if value.ndim else float(value)
        moved = parts[part.name if part else formula.part("dough").name]
        sharing = [moved] if part else [each for each in parts.values() if each.kind in DOUGH]
        parts[moved.name] = _moved(formula.ingredients, moved, sharing, written, value)
    made = make_up(formula.pieces.given | {n: numbers[n] if np.ndim(numbers[n]) else v for n, v in pieces.items()})
    return formula.with_parts(parts.values(), made, makes="" if pieces else formula.makes).checked()


def swap(formula: "Formula", out: str, into: str, share: float | str = 100.0, part: str = "dough") -> "Formula":
    """Return a variant with a share of an ingredient replaced by another, weight for weight.

    In the dough flour may be swapped for what is no flour: the rest is then measured on the flour that is left. A
    topping's percentages stay on what they were written on: its base widens to hold the newcomer.

    out, into: the ingredients, by name.
    share [% of that ingredient]: how much of it goes.
    part: where, by name or kind; the dough with its preferments unless another is named.
    Returns the variant.
    Raises UnknownName for an ingredient that is not there, FormulaError when no flour would be left.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 50}, topping={"plain flour": 100, "sugar": 90})
    >>> bun.swap("plain flour", "cocoa", 50, "topping").part("topping").percentages
    (50.0, 90.0, 50.0)
    """
    old, new = formula.ingredients.find(out), formula.ingredients.find(into)
    swapped = read(share, "percentage", "share")
    if not 0 <= swapped <= 100:
        raise FormulaError(must("share", "0 to 100 % of the ingredient", f"{swapped:g} %", "give the part to replace"))
    target = formula.part(part)
    chosen = formula.bowls if target.kind == "dough" else (target,)
    if not any(old in p.keys for p in chosen):
        known = list(dict.fromkeys(formula.ingredients[key].name for p in chosen for key in p.keys))
        raise UnknownName(must(out, f"in the {target.name}", listing(known), did_you_mean(out, known)))
    parts = []
    for p in formula.parts:
        if p in chosen and old in p.keys:
            moved = p.percentage(old) * swapped / 100
            p = with_line(with_line(p, old, p.percentage(old) - moved), new, p.percentage(new) + moved)
            kinds = [formula.ingredients[key].kind for key in (old, new)]
            if p.kind not in DOUGH and kinds[0] in p.base and kinds[1] not in p.base:
                p = replace(p, base=(*p.base, kinds[1]))
        parts.append(p)
    changed = formula.with_parts(parts)
    flour = changed.of_kind("flour")
    if target.kind == "dough" and np.any(np.abs(flour - 100) > LEAST):
        if np.any(flour <= 0):
            do = "leave some flour: everything is measured against it"
            raise FormulaError(must("flour", "above 0 % of the dough", "0 %", do))
        on_flour = [p.each(lambda value: value * 100 / flour) if p.kind in ON_FLOUR else p for p in parts]
        changed = formula.with_parts(on_flour)
    return changed.checked()


def with_preferment(
    formula: "Formula", name: str, flour: float | str, lines: Mapping[str, Any] | None = None
) -> "Formula":
    """Return the same total formula with part of it mixed first, as a preferment.

    name: what it is called, such as "sponge" or "biga".
    flour [% of the total flour]: how much goes in, in the proportions the dough has.
    lines: {ingredient: % of the preferment's own flour}.
    Returns the variant: its total formula is the same.
    Raises FormulaError when the final dough has not that much, UnknownName, AmountError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"bread flour": 1000, "water": 500, "fresh yeast": 40})
    >>> sponge = bun.with_preferment("sponge", 20, {"water": 100, "fresh yeast": 2})
    >>> sponge.of_kind("water"), sponge.part("sponge").percentages
    (50.0, (20.0, 20.0, 0.4))
    """
    share = read(flour, "percentage", f"{name} flour")
    final = formula.part("dough")
    there = formula.flour_in(final)
    if not 0 < share <= there + LEAST:
        do = "take a smaller share of the flour"
        raise FormulaError(must(f"{name} flour", f"above 0 and at most {figure(there)} %", f"{share:g} %", do))
    of_flour = [(key, value) for key, value in final.items if formula.ingredients[key].kind == "flour"]
    takes = {key: value * share / there for key, value in of_flour}
    for written, percentage in (lines or {}).items():
        key = formula.ingredients.find(written)
        if key in takes:
            raise FormulaError(must(f"{name} lines", "what goes in beside the flour", repr(written), "leave it out"))
        takes[key] = read(percentage, "percentage", written) * share / 100
    for key, value in takes.items():
        left = final.percentage(key) - value
        if np.any(left < -LEAST):
            have, want = figure(np.min(final.percentage(key)), 2), figure(np.max(value), 2)
            do = f"the {name} would take {want} % of total flour; lower its share or raise the total"
            raise FormulaError(must(formula.ingredients[key].name, "enough in the dough", f"{have} %", do))
        final = with_line(final, key, np.maximum(left, 0.0) if np.ndim(left) else max(left, 0.0))
    first = Part(name, "preferment", tuple(takes), tuple(takes.values()), TOTAL_FLOUR)
    at = [part.kind for part in formula.parts].index("dough")
    parts = [final if part.kind == "dough" else part for part in formula.parts]
    return formula.with_parts([*parts[:at], first, *parts[at:]]).checked()


def with_line(part, key, value):
    """Return a part with one percentage changed; a line that falls to 0 goes, a new one comes last."""
    lines = dict(part.items) | {key: value}
    if not np.ndim(value) and abs(value) < LEAST:
        del lines[key]
    return part.with_lines(lines)


def _moved(ingredients, part, sharing, name, value):
    """Return a part with which a kind or an ingredient comes to a total [%] in all parts that share it.

    Lines of one kind move in proportion; what is absent is added.
    """
    kind = plain(name) if plain(name) in ingredients.kinds else None
    here = dict.fromkeys(key for bowl in sharing for key in bowl.keys if ingredients[key].kind == kind)
    moving = list(here) or [ingredients.of_kind(kind)[0] if kind else ingredients.find(name)]
    check_percentage(kind or ingredients[moving[0]].name, value, part.name)
    totals = {key: sum(bowl.percentage(key) for bowl in sharing) for key in moving}
    whole = sum(totals.values())
    for key, before in totals.items():
        share = np.where(whole > 0, before / np.where(whole > 0, whole, 1), 1 / len(moving))
        wanted = value * (share if np.ndim(whole) else float(share))
        earlier = before - part.percentage(key)
        left = wanted - earlier
        if np.any(left < -LEAST):
            held = np.max(earlier) / np.min(share)
            holders = [bowl.name for bowl in sharing if bowl.name != part.name and key in bowl.keys]
            got = f"{figure(np.min(value), 2)} %"
            do = f"the {listing(holders)} holds that much already; take a smaller {holders[0]}, or give more"
            raise FormulaError(must(name, f"at least {figure(held, 2)} % of flour", got, do))
        left = np.where(np.abs(left) < LEAST, 0.0, left)
        part = with_line(part, key, left if left.ndim else float(left))
    return part
