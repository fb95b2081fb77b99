"""One ingredient for another: the arithmetic from composition as a ledger that adds up, and the usual wrong way.

What goes out and what comes in are entered like money: each thing that must stay the same (fat, water, salt ...)
is one equation, each ingredient that balances it one unknown. The ledger then shows who brings what.
"""

from dataclasses import replace

import numpy as np

from ..allergens import of_ingredient
from ..balance import measures
from ..balance.accounts import AT, Lines, unknown_in, weights
from ..errors import FormulaError, UnknownName, must
from ..formula.parts import only_one
from ..formula.varying import with_line
from ..tables import source, table
from ..units import read
from ..words import did_you_mean, figure, listing, plain, signed
from .bowls import mixed_by
from .solver import Impossible
from .substituted import Substituted, Swap

# What may be held equal [g per g]; a basis beyond these takes a fixed number of grams for each gram.
ACCOUNTS = ("fat", "water", "sugars", "salt", "milk_solids_not_fat", "egg_solids_not_fat", "solids", "protein")
RATIOS = ("weight", "yeast")
_SUMMED = {"solids": "water", "sugars": "sugars_not_lactose"}  # the account behind; milk's own sugar is a milk solid
_SHOWN = {"dough": ("total_hydration", "fat", "sugars", "salt"), "topping": ("topping_fat", "topping_sugars")}
_NONE = 1e-9


def substitutions(formula=None):
    """Return the rules of substitutions.csv as dicts: out, into, part, basis, give ...; those that fit a formula.

    >>> substitutions()[0]["into"]
    'oil'
    """
    rows = table("substitutions").rows
    if formula is None:
        return rows
    there = {
        (kind, word)
        for part in formula.parts
        for key in part.keys
        for kind in (_place(part), "any")
        for word in (formula.ingredients[key]["kind"], formula.ingredients[key]["name"])
    }
    return tuple(row for row in rows if (row["part"], row["out"]) in there)


def substitute(
    formula,
    out=None,
    into=None,
    share=100.0,
    part="dough",
    basis=None,
    give=None,
    factor=None,
    *,
    without=None,
    method=None,
    flour=None,
    lines=None,
):
    """Return Substituted: one ingredient for another, so that what matters stays the same.

    One of three: an ingredient for another (out, into), all that holds an allergen (without="egg"), or the same total
    formula mixed by another method (method="biga", flour=20).

    out, into: ingredients or kinds; share [% of what is there]. basis: what is equal, one of fat, water, sugars,
    salt, solids, protein, milk or egg solids_not_fat, weight, or yeast (factors of yeast_forms.csv); give
    {ingredient: what it makes good}, such as {"water": "water", "butter": "fat"}; the rule of substitutions.csv
    when None. factor [g of the new yeast per g of the old] in place of the table's. What a preferment holds is
    swapped there.
    without: an allergen (egg, milk, nuts): every ingredient with it is swapped in every part, by the rules marked for
    it; what is left may still hold traces: read every label.
    method: straight (everything in one bowl), poolish, biga, sponge or cooked flour, of which the total formula stays;
    flour [% of total flour] goes into it, with lines {ingredient: % of its own flour}, those of preferments.csv when
    None (common practice). What boils off a cooked flour must be given back by weight.
    Raises Impossible, UnknownName, FormulaError.

    Linear balance of composition; that it is what keeps a dough the same without a rule is assumed here.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 10, "butter": 15})
    >>> print(substitute(bun, "butter", "oil").arithmetic[1])
    Rapeseed oil 12.17 % brings as much fat.
    >>> substitute(bun.vary(egg=20), without="egg").allergens
    ((), ('egg',))
    >>> substitute(bun.vary(yeast=4), method="poolish", flour=10).formula.part("poolish").percentages
    (10.0, 10.0, 0.025)
    """
    only_one(formula, "to swap in", "choose one of them")
    asked = [name for name, given in (("into", into), ("without", without), ("method", method)) if given is not None]
    if len(asked) != 1 or (out is None) == (into is not None):
        be, do = "one of out and into, without, or method", "ask for one thing"
        raise FormulaError(must("swap", be, listing(asked) or "none of them", do))
    if without is not None:
        return _without(formula, without)
    if method is not None:
        return mixed_by(formula, method, flour, lines)
    share = read(share, "percentage", "share") if isinstance(share, str) else share
    if not 0 < share <= 100:
        do = "say which part of it is to go"
        raise FormulaError(must("share", "above 0 and at most 100 % of the ingredient", f"{share:g} %", do))
    return _one(formula, out, into, share, part, basis, give, factor, ())


def avoidable():
    """Return {allergen that the rules take out: the words of its members}.

    >>> sorted(avoidable())[0], "hazelnut" in avoidable()["nuts"]
    ('egg', True)
    """
    names = dict.fromkeys(row["free_of"] for row in table("substitutions").rows if row["free_of"])
    lists = table("allergen_lists").rows
    return {
        name: {name}.union(*(row["members"].split(";") for row in lists if row["allergen"] == name)) for name in names
    }


def _without(formula, allergen):
    known = avoidable()
    name = {"nut": "nuts", "eggs": "egg"}.get(plain(allergen), plain(allergen))
    if name not in known:
        do = did_you_mean(allergen, known)
        raise UnknownName(must("allergen", f"one of {listing(known, 'or')}", repr(allergen), do))
    members = known[name]
    result, swaps = formula, []
    for part in formula.parts:
        for key in part.keys:
            row = formula.ingredients[key]
            place = _place(part)
            now = next(p for p in result.parts if p.name == part.name)
            if key not in now.keys or not members & set(of_ingredient(formula.ingredients, key).contains):
                continue
            rule = _rule(formula, [key], None, place, name)
            if rule is None:
                do = "take it out, or swap it yourself first"
                raise FormulaError(must(row["name"], f"one that a rule can replace in the {part.name}", "none", do))
            target = "dough" if place == "dough" else part.name
            found = _one(result, key, rule["into"], 100.0, target, None, None, None, members, rule)
            result, swaps = found.formula, [*swaps, *found.swaps]
    if not swaps:
        raise FormulaError(must(allergen, "in the formula to be taken out", "none", "nothing needs to change"))
    return Substituted(result, formula, tuple(swaps))


def _one(formula, out, into, share, part, basis, give, factor, forbidden, rule=None):
    ingredients = formula.ingredients
    target = formula.part(part)
    place = _place(target)
    new = _key(ingredients, into)
    bowls = formula.bowls if place == "dough" else (target,)
    old = _there(formula, bowls, out, new)
    before, formula = formula, _widened(formula, target, old, new)
    target = formula.part(target.name)
    bowls = formula.bowls if place == "dough" else (target,)
    rule = rule or _rule(formula, old, new, place)
    if rule is None and basis is None:
        known = [r["into"] for r in table("substitutions").rows if r["out"] in _words(ingredients, old)]
        do = "name a basis: " + listing(("weight", *ACCOUNTS), "or")
        if known:
            do = f"known for it: {listing(dict.fromkeys(known), 'or')}; or {do}"
        names = f"{ingredients[old[0]]['name']} for {ingredients[new]['name']}"
        raise UnknownName(must("swap", f"one of substitutions.csv in the {target.name}", names, do))
    basis = basis or rule["basis"]
    if basis not in (*ACCOUNTS, *RATIOS):
        known = (*ACCOUNTS, *RATIOS)
        raise UnknownName(must("basis", f"one of {listing(known, 'or')}", repr(basis), did_you_mean(basis, known)))
    gone = {key: sum(bowl.percentage(key) for bowl in bowls) * share / 100 for key in old}
    balancing = _balancing(formula, bowls, give, rule, basis, old, new, forbidden)
    ratio, yeast = _factor(ingredients, old[0], new, factor) if basis == "yeast" else (1.0, "")
    brought, moves = _balance(formula, gone, new, balancing, basis, ratio)
    wrong = formula
    for key in old:
        wrong = wrong.swap(key, new, share, target.name)
    right = _apply(formula, wrong, bowls, gone, new, brought, moves, old)
    if isinstance(right, tuple):
        raise _too_far(formula, right, out, into, share, target.name, basis, give, factor, forbidden, rule)
    title = f"{listing(ingredients[key]['name'] for key in old)} → {ingredients[new]['name']}"
    lines = _ledger(formula, gone, new, brought, moves, basis, balancing)
    told = _told(formula, target, gone, new, brought, moves, basis, balancing, yeast)
    said, errors = _error(formula, wrong, right, target, new, gone, brought, rule)
    swap = Swap(
        title,
        target.name,
        formula.base_words(target),
        told,
        said,
        rule["behaviour"] if rule else "",
        rule["source"] if rule else "assumed_here",
        rule["provenance"] if rule else "assumed here",
        lines,
        errors,
    )
    return Substituted(right, before, (swap,))


def _place(part):
    return "dough" if part.kind in ("preferment", "cooked flour", "dough") else part.kind


def _widened(formula, target, old, new):
    """Return the formula with a topping's base widened by what is swapped into it, so that its 100 stays 100."""
    kinds = [formula.ingredients[key]["kind"] for key in (new, *old)]
    if _place(target) == "dough" or kinds[0] not in target.base or set(kinds[1:]) <= set(target.base):
        return formula
    base = tuple(dict.fromkeys((*target.base, *kinds[1:])))
    lines = list(zip(target.keys, target.percentages, strict=True))
    whole = sum(value for key, value in lines if formula.ingredients[key]["kind"] in base)
    wide = replace(target, base=base, percentages=tuple(100 * value / whole for _, value in lines))
    return formula.with_parts([wide if part is target else part for part in formula.parts])


def _key(ingredients, name):
    return ingredients.of_kind(plain(name))[0] if plain(name) in ingredients.kinds else ingredients.find(name)


def _words(ingredients, keys):
    return {word for key in keys for word in (ingredients[key]["name"], ingredients[key]["kind"])}


def _there(formula, bowls, out, new):
    """Return the keys of what goes, as they stand in these bowls."""
    ingredients = formula.ingredients
    keys = dict.fromkeys(key for bowl in bowls for key in bowl.keys if bowl.percentage(key) > 0)
    if plain(out) in ingredients.kinds:
        found = [key for key in keys if ingredients[key]["kind"] == plain(out) and key != new]
    else:
        found = [key for key in keys if key == ingredients.find(out)]
    if not found:
        known = [ingredients[key]["name"] for key in keys]
        raise UnknownName(must(out, "in the formula to be swapped", listing(known), did_you_mean(out, known)))
    if found == [new]:
        raise FormulaError(must(out, "something other than what comes in", repr(str(out)), "name another ingredient"))
    return found


def _rule(formula, old, new, place, free_of=None):
    """Return the row of substitutions.csv for a swap, a named ingredient before its kind; None when none fits."""
    ingredients = formula.ingredients
    fitting = []
    for row in table("substitutions").rows:
        if row["part"] not in (place, "any") or (free_of is not None and row["free_of"] != free_of):
            continue
        out = [ingredients[old[0]]["name"], ingredients[old[0]]["kind"]]
        into = [ingredients[new]["name"], ingredients[new]["kind"]] if new else [row["into"]]
        if row["out"] in out and row["into"] in into:
            fitting.append((out.index(row["out"]) + into.index(row["into"]), len(fitting), row))
    return min(fitting)[2] if fitting else None


def _balancing(formula, bowls, give, rule, basis, old, new, forbidden):
    """Return {ingredient's key: account it makes good}."""
    ingredients = formula.ingredients
    keys = dict.fromkeys(key for bowl in bowls for key in bowl.keys if key not in old)
    present = {key: float(sum(bowl.percentage(key) for bowl in bowls)) for key in keys}
    written = give
    if written is None:
        written = dict(entry.split(":") for entry in rule["give"].split(";") if entry) if rule else {}
    found = {}
    for names, account in written.items():
        if account not in ACCOUNTS:
            known = listing(ACCOUNTS, "or")
            raise UnknownName(
                must("give", f"what is made good: {known}", repr(account), did_you_mean(account, ACCOUNTS))
            )
        choices = []
        for name in names.split("|"):
            here = [key for key in present if ingredients[key]["kind"] == plain(name)]
            choices.append(max(here, key=present.get) if here else _key(ingredients, name))
        choices = [k for k in choices if not set(forbidden) & set(of_ingredient(ingredients, k).contains)]
        choices = [k for k in choices if k in present] + choices[-1:]
        if choices and choices[0] != new and account != basis and choices[0] not in old:
            found[choices[0]] = account
    return found


def _per_gram(formula, keys, account):
    brings = weights(formula, keys)
    return 1 - brings[:, AT["water"]] if account == "solids" else brings[:, AT[_SUMMED.get(account, account)]]


def _balance(formula, gone, new, balancing, basis, ratio):
    """Return how much of the new comes in, and {balancing key: its change}, by one equation for each account."""
    old, amounts = list(gone), np.array(list(gone.values()))
    unknown = [new, *balancing]
    accounts = [basis if basis in ACCOUNTS else None, *balancing.values()]
    matrix, right = np.zeros((len(unknown), len(unknown))), np.zeros(len(unknown))
    for n, account in enumerate(accounts):
        if account is None:
            matrix[n, 0], right[n] = 1.0, ratio * amounts.sum()
        else:
            matrix[n], right[n] = _per_gram(formula, unknown, account), amounts @ _per_gram(formula, old, account)
    if abs(np.linalg.det(matrix)) < 1e-9:
        names = listing(formula.ingredients[key]["name"] for key in unknown)
        be = f"able to make good {listing(_named(a) for a in accounts if a)}"
        raise FormulaError(must(names, be, "no such balance", "name another basis, or what makes it good"))
    brought, *moves = np.linalg.solve(matrix, right)
    moves = {key: float(move) for key, move in zip(balancing, moves, strict=True) if abs(move) > _NONE}
    return float(brought), moves


def _apply(formula, wrong, bowls, gone, new, brought, moves, old):
    """Return the formula with the swap made right, or (key, what there is, what it would be) when that cannot be."""
    ingredients = formula.ingredients
    total = sum(gone.values())
    changes_flour = {"flour"} & {ingredients[key]["kind"] for key in (*old, new)}
    if _place(bowls[-1]) == "dough" and changes_flour and not moves and abs(brought - total) < _NONE:
        return wrong  # weight for weight, measured on the flour that is left
    shares = {}
    for bowl in bowls:
        there = sum(bowl.percentage(key) for key in old)
        whole = sum(b.percentage(key) for b in bowls for key in old)
        shares[bowl.name] = there / whole
    parts = {part.name: part for part in wrong.parts}
    final = next((b.name for b in bowls if b.kind == "dough"), bowls[-1].name)
    left = dict(moves)
    for bowl in bowls:
        part = parts[bowl.name]
        if shares[bowl.name]:
            after = part.percentage(new) + (brought - total) * shares[bowl.name]
            if after < -1e-7:
                return new, bowl.percentage(new), after
            part = with_line(part, new, max(after, 0.0))
        water = next((key for key in moves if ingredients[key]["kind"] == "water"), None)
        if water and bowl.name != final and shares[bowl.name]:
            # a preferment keeps its own water, so that it stays as wet as it was
            per = {key: _per_gram(formula, [key], "water")[0] for key in (*old, new, water)}
            lost = sum(gone[key] * per[key] for key in old) - brought * per[new]
            own = max(lost * shares[bowl.name] / per[water], -part.percentage(water))
            part = with_line(part, water, part.percentage(water) + own)
            left[water] -= own
        parts[bowl.name] = part
    for key, move in left.items():
        now = parts[final].percentage(key)
        if now + move < -1e-7:
            return key, now, now + move
        parts[final] = with_line(parts[final], key, max(now + move, 0.0))
    return wrong.with_parts(parts.values()).checked()


def _too_far(formula, failed, out, into, share, part, basis, give, factor, forbidden, rule):
    key, now, would = failed
    name = formula.ingredients[key]["name"]
    most = share * now / (now - would) if now > 0 else 0.0
    nearest, do = None, "swap something else, or have another ingredient make it good"
    if most > _NONE:
        nearest = _one(formula, out, into, most * (1 - 1e-9), part, basis, give, factor, forbidden, rule)
        do = f"swap at most {figure(most)} % of it (in .nearest), or have another ingredient make it good"
    more = f"{formula.ingredients[_key(formula.ingredients, into)]['name']} brings more than the formula can give up"
    got = f"{figure(would, 2)} % for all of the swap; {more}"
    return Impossible(must(name, f"0 % or more in the {part}", got, do), (name,), nearest)


def _factor(ingredients, old, new, given):
    """Return grams of the new yeast for one of the old, and in words which figure it is and what others say."""
    names = [ingredients[key]["name"] for key in (old, new)]
    if given is not None:
        if not isinstance(given, int | float) or not 0 < given < 100:
            raise FormulaError(must("factor", "grams of the new for a gram of the old", repr(given), "give a number"))
        return float(given), f"by a factor of {figure(given, 3)} of your own"
    by_source = {}
    for row in table("yeast_forms").rows:
        by_source.setdefault(row["source"], {"fresh yeast": 1.0}).setdefault(row["to_form"], float(row["factor"]))
    found = [(key, forms[names[1]] / forms[names[0]]) for key, forms in by_source.items() if set(names) <= set(forms)]
    if not found:
        known = list(next(iter(by_source.values())))
        raise UnknownName(must("yeast", f"one of {listing(known, 'or')}", listing(names), "give a factor"))
    marks = {row["source"]: row["provenance"] for row in table("yeast_forms").rows}
    said = [f"{figure(factor, 3)} ({source(key, people=False)}; {marks[key]})" for key, factor in found]
    others = f"; others say {listing(said[1:])}" if len(said) > 1 else ""
    return found[0][1], f"by the factor {said[0]}{others}"


def _ledger(formula, gone, new, brought, moves, basis, balancing):
    accounts = dict.fromkeys((*(a for a in (basis,) if a in ACCOUNTS), *balancing.values(), "water", "fat"))
    changes = {key: -amount for key, amount in gone.items()} | {new: brought} | moves
    return tuple(
        (
            formula.ingredients[key]["name"],
            float(change),
            {account: float(change * _per_gram(formula, [key], account)[0]) for account in accounts},
        )
        for key, change in changes.items()
    )


def _named(account):
    return account.replace("_", " ")


def _told(formula, target, gone, new, brought, moves, basis, balancing, yeast):
    """Return the arithmetic in sentences."""
    ingredients = formula.ingredients
    accounts = list(dict.fromkeys((*(a for a in (basis,) if a in ACCOUNTS), *balancing.values())))
    told = []
    for key, amount in gone.items():
        shares = [
            f"{_named(a)} {figure(amount, 2)} × {figure(100 * _per_gram(formula, [key], a)[0], 2)} % = "
            f"{figure(amount * _per_gram(formula, [key], a)[0], 2)}"
            for a in accounts
        ]
        what = f": {listing(shares)}" if shares else ""
        told.append(f"Out goes {ingredients[key]['name']} {figure(amount, 2)} % of {formula.base_words(target)}{what}.")
    name = ingredients[new]["name"].capitalize()
    equal = {"weight": "weight for weight", "yeast": yeast}.get(basis, f"brings as much {_named(basis)}")
    told.append(
        f"{name} {figure(brought, 2)} %, {equal}." if basis in RATIOS else f"{name} {figure(brought, 2)} % {equal}."
    )
    for key, account in balancing.items():
        if key in moves:
            now = sum(p.percentage(key) for p in (formula.bowls if _place(target) == "dough" else (target,)))
            told.append(
                f"{ingredients[key]['name'].capitalize()} {signed(moves[key], 2)} keeps {_named(account)} the same: "
                f"{figure(now, 2)} → {figure(now + moves[key], 2)} %."
            )
    for account in accounts:
        keys = [*gone, new, *moves]
        missing = unknown_in(formula, Lines(tuple(keys), np.ones(len(keys))), _SUMMED.get(account, account))
        if missing:
            of = listing(name for name, _ in missing)
            told.append(f"The tables do not know the {_named(account)} of {of}: counted as 0.")
    return tuple(told)


def _error(formula, wrong, right, target, new, gone, brought, rule):
    """Return the usual wrong way, gram for gram with nothing else changed, in words, and how far off it comes."""
    said = rule["wrong_way"] if rule else "gram for gram, nothing else changed"
    off, errors, total = [], [], sum(gone.values())
    if abs(total - brought) > 0.005:
        name = formula.ingredients[new]["name"]
        off.append(f"{name} {figure(total, 2)} % where {figure(brought, 2)} is right")
        errors.append((name, float(total), float(brought)))
    shown = _SHOWN.get(_place(target), ())
    pair = [measures(f, shown) for f in (wrong, right)]
    for quantity in shown:
        first, second = (values[quantity] for values in pair)
        if abs(first - second) > 0.005:
            off.append(f"{_named(quantity)} {figure(first, 2)} instead of {figure(second, 2)}")
            errors.append((_named(quantity), float(first), float(second)))
    kept, true = formula.of_kind("salt"), right.of_kind("salt")
    if _place(target) == "dough" and abs(true / kept - 1 if kept else 0.0) > 1e-3 and right is wrong:
        off = f"salt {figure(kept, 2)} % where it is truly {figure(true, 2)} % of the flour left"
        return f"{said[:1].upper()}{said[1:]}: {off}.", (("salt", float(kept), float(true)),)
    size = f" Gram for gram with nothing else changed gives {listing(off)}." if off else ""
    return f"{said[:1].upper()}{said[1:]}.{size}" if said else size.strip(), tuple(errors)
