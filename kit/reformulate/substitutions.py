"""One ingredient for another: the arithmetic from composition as a ledger that adds up, and the usual wrong way.

What goes out and what comes in are entered like money: each thing that must stay the same (fat, water, salt ...)
is one equation, each ingredient that balances it one unknown. The ledger then shows who brings what.
"""

from dataclasses import replace

import numpy as np

from ..allergens import of_ingredient
from ..balance import in_words, measures
from ..balance.accounts import AT, unknown_in, weights
from ..errors import FormulaError, UnknownName, must
from ..formula import Formula
from ..formula.parts import DOUGH, Lines, only_one
from ..formula.varying import with_line
from ..tables import source, table
from ..units import read
from ..words import capital, did_you_mean, figure, listing, one_of, plain, signed, without_zeros
from .asked import trim
from .bowls import mixed_by
from .solver import Impossible
from .substituted import Substituted, Swap

# What may be held equal [g per g]; a basis beyond these takes a fixed number of grams for each gram.
ACCOUNTS = ("fat", "water", "sugars", "salt", "milk_solids_not_fat", "egg_solids_not_fat", "solids", "protein")
RATIOS = ("weight", "yeast")
_SUMMED = {"solids": "water", "sugars": "sugars_not_lactose"}  # the account behind; milk's own sugar is a milk solid
_SHOWN = {"dough": ("total_hydration", "fat", "sugars", "salt"), "topping": ("topping_fat", "topping_sugars")}
_NONE = 1e-9
_OWN = {"behaviour": "", "wrong_way": "", "source": "assumed_here", "provenance": "assumed here"}  # without a rule


def substitutions(formula: Formula | None = None) -> tuple:
    """Return the rules of substitutions.csv: out, into, part, basis, give ...; those that fit a formula.

    >>> substitutions()[0].into
    'oil'
    """
    rows = table("substitutions").rows
    if formula is None:
        return rows
    there = {
        (place, word)
        for part in formula.parts
        for key in part.keys
        for place in (_place(part), "any")
        for word in _names(formula.ingredients[key])
    }
    return tuple(row for row in rows if (row.part, row.out) in there)


def substitute(
    formula: Formula,
    out: str | None = None,
    into: str | None = None,
    share: float | str = 100.0,
    part: str = "dough",
    basis: str | None = None,
    give: dict | None = None,
    *,
    without: str | None = None,
    method: str | None = None,
    flour: float | str | None = None,
    lines: dict | None = None,
) -> Substituted:
    """Return Substituted: an ingredient for another, all that holds an allergen, or the method of mixing.

    formula: one Formula
    out, into: ingredients or kinds; what a preferment holds is swapped there
    share: how much of what is there [%]
    part: the part it is in
    basis: what is equal: fat, water, sugars, salt, solids, protein, milk or egg solids_not_fat, weight, or yeast
        (factors of yeast_forms.csv); the rule of substitutions.csv when None
    give: {ingredient: what it makes good}, such as {"water": "water", "butter": "fat"}; the rule's when None
    without: egg, milk or nuts: every ingredient with it is swapped in every part, by the rules marked for it; what is
        left may still hold traces: read every label
    method: straight, poolish, biga, sponge or cooked flour; the total formula stays, only the bowls change
    flour: of total flour that goes into it [%]
    lines: {ingredient: % of its own flour} beside it; those of preferments.csv when None (common practice)

    Returns the formula with its ledger, the usual wrong way, and what it does to class and allergens.
    Raises Impossible when the formula cannot give up what comes in, with how much it can; UnknownName, FormulaError.

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
    percent = read(share, "percentage", "share")
    if not 0 < percent <= 100:
        do = "say which part of it is to go"
        raise FormulaError(must("share", "above 0 and at most 100 % of the ingredient", f"{percent:g} %", do))
    return _Exchange(formula, str(out), str(into), percent, part, basis, give).substituted()


def avoidable() -> dict[str, set[str]]:
    """Return {allergen that the rules take out: the words of its members}.

    >>> sorted(avoidable())[0], "hazelnut" in avoidable()["nuts"]
    ('egg', True)
    """
    names = dict.fromkeys(row.free_of for row in table("substitutions").rows if row.free_of)
    lists = table("allergen_lists").rows
    return {name: {name}.union(*(row.members.split(";") for row in lists if row.allergen == name)) for name in names}


def _without(formula, allergen):
    known = avoidable()
    name = {"nut": "nuts", "eggs": "egg"}.get(plain(allergen)) or one_of("allergen", allergen, known)
    result, swaps = formula, []
    for part in formula.parts:
        for key in part.keys:
            holds = known[name] & set(of_ingredient(formula.ingredients, key).contains)
            if not holds or key not in result.part(part.name).keys:  # gone with one before it
                continue
            rule = _rule(formula, key, None, _place(part), name)
            if rule is None:
                be = f"one that a rule can replace in the {part.name}"
                do = "take it out, or swap it yourself first"
                raise FormulaError(must(formula.ingredients[key].name, be, "none", do))
            target = "dough" if part.kind in DOUGH else part.name
            found = _Exchange(result, key, rule.into, part=target, rule=rule, avoid=known[name]).substituted()
            result, swaps = found.formula, [*swaps, *found.swaps]
    if not swaps:
        raise FormulaError(must(allergen, "in the formula to be taken out", "none", "nothing needs to change"))
    return Substituted(result, formula, tuple(swaps))


def _place(part):
    return "dough" if part.kind in DOUGH else part.kind


def _names(row):
    return row.name, row.kind


def _key(ingredients, name):
    return ingredients.of_kind(plain(name))[0] if plain(name) in ingredients.kinds else ingredients.find(name)


def _rule(formula, old, new, place, free_of=None):
    """Return the row of substitutions.csv for a swap, a named ingredient before its kind; None when none fits."""
    out, fitting = _names(formula.ingredients[old]), []
    for row in table("substitutions").rows:
        into = _names(formula.ingredients[new]) if new else (row.into,)
        fits = row.part in (place, "any") and row.out in out and row.into in into
        if fits and (free_of is None or row.free_of == free_of):
            fitting.append((out.index(row.out) + into.index(row.into), len(fitting), row))
    return min(fitting)[2] if fitting else None


class _Exchange:
    """One swap reckoned, in % of its part's base: what goes, what comes in, and what moves to make good.

    rule: a row of substitutions.csv, else the one that fits; avoid: words of an allergen that must not come in.
    """

    def __init__(self, formula, out, into, share=100.0, part="dough", basis=None, give=None, rule=None, avoid=()):
        self.before, self.ingredients, self.share = formula, formula.ingredients, share
        self.new = _key(self.ingredients, into)
        self.old = self._there(_bowls(formula, part), out)
        self.formula = self._widened(part)
        self.target, self.bowls = self.formula.part(part), _bowls(self.formula, part)
        self.place = _place(self.target)
        self.rule = rule or _rule(self.formula, self.old[0], self.new, self.place)
        self.basis = self._basis(basis)
        self.balancing = self._balancing(give, set(avoid))
        self.gone = {key: self._now(key) * share / 100 for key in self.old}
        self.ratio, self.said_of_ratio = self._factor() if self.basis == "yeast" else (1.0, "")
        self.accounts = [a for a in dict.fromkeys((self.basis, *self.balancing.values())) if a in ACCOUNTS]
        self.brought, self.moves = self._balance()

    def substituted(self):
        """Return the Substituted. Raises Impossible where something would fall below nothing."""
        wrong = self.formula
        for key in self.old:
            wrong = wrong.swap(key, self.new, self.share, self.target.name)
        right, base, rule = self._applied(wrong), self.formula.base_words(self.target), self.rule or _OWN
        said, errors = self._wrong_way(wrong, right)
        title = f"{listing(map(self._name, self.old))} → {self._name(self.new)}"
        rests = rule["behaviour"], rule["source"], rule["provenance"]
        swap = Swap(title, self.target.name, base, tuple(self._told(base)), said, *rests, self._ledger(), errors)
        return Substituted(right, self.before, (swap,))

    def _name(self, key):
        return self.ingredients[key].name

    def _now(self, key):
        return float(sum(bowl.percentage(key) for bowl in self.bowls))

    def _there(self, bowls, out):
        """Return the keys of what goes, as they stand in these bowls."""
        keys = dict.fromkeys(k for bowl in bowls for k in bowl.keys if bowl.percentage(k) > 0)
        if plain(out) in self.ingredients.kinds:
            found = [key for key in keys if self.ingredients[key].kind == plain(out) and key != self.new]
        else:
            found = [key for key in keys if key == self.ingredients.find(out)]
        if not found:
            known = [self._name(key) for key in keys]
            raise UnknownName(must(out, "in the formula to be swapped", listing(known), did_you_mean(out, known)))
        if found == [self.new]:
            raise FormulaError(must(out, "something other than what comes in", repr(out), "name another ingredient"))
        return found

    def _widened(self, part):
        """Return the formula with a topping's base widened by what is swapped into it, so that its 100 stays 100."""
        target, new = self.before.part(part), self.ingredients[self.new].kind
        kinds = [self.ingredients[key].kind for key in self.old]
        if target.kind in DOUGH or new not in target.base or set(kinds) <= set(target.base):
            return self.before
        base = tuple(dict.fromkeys((*target.base, *kinds)))
        whole = self.ingredients.total(target.items, *base)
        wide = replace(target, base=base).each(lambda value: 100 * value / whole)
        return self.before.with_parts([wide if part is target else part for part in self.before.parts])

    def _basis(self, asked):
        if asked is not None:
            return one_of("basis", asked, (*ACCOUNTS, *RATIOS))
        if self.rule is not None:
            return self.rule.basis
        words = {word for key in self.old for word in _names(self.ingredients[key])}
        known = dict.fromkeys(row.into for row in table("substitutions").rows if row.out in words)
        do = "name a basis: " + listing(("weight", *ACCOUNTS), "or")
        do = f"known for it: {listing(known, 'or')}; or {do}" if known else do
        names = f"{self._name(self.old[0])} for {self._name(self.new)}"
        raise UnknownName(must("swap", f"one of substitutions.csv in the {self.target.name}", names, do))

    def _balancing(self, give, avoid):
        """Return {ingredient's key: account it makes good}."""
        present = {k: self._now(k) for bowl in self.bowls for k in bowl.keys if k not in self.old}
        if give is None:
            give = dict(entry.split(":") for entry in self.rule.give.split(";") if entry) if self.rule else {}
        found = {}
        for names, written in give.items():
            account, choices = one_of("what is made good", written, ACCOUNTS), []
            for name in names.split("|"):
                here = [key for key in present if self.ingredients[key].kind == plain(name)]
                choices.append(max(here, key=present.get) if here else _key(self.ingredients, name))
            choices = [k for k in choices if not avoid & set(of_ingredient(self.ingredients, k).contains)]
            choices = [k for k in choices if k in present] + choices[-1:]
            if choices and choices[0] not in (self.new, *self.old) and account != self.basis:
                found[choices[0]] = account
        return found

    def _factor(self):
        """Return grams of the new yeast for one of the old, and in words which figure it is and what others say."""
        old, new = self._name(self.old[0]), self._name(self.new)
        forms, said = {}, {}
        for row in table("yeast_forms").rows:
            forms.setdefault(row.source, {"fresh yeast": 1.0}).setdefault(row.to_form, row.factor)
            said[row.source] = f"{source(row.source, people=False)}; {row.provenance}"
        found = [(one[new] / one[old], said[key]) for key, one in forms.items() if {old, new} <= set(one)]
        if not found:
            known = listing(next(iter(forms.values())), "or")
            raise UnknownName(must("yeast", f"one of {known}", listing([old, new]), "name another basis"))
        first, *others = (f"{figure(factor, 3)} ({why})" for factor, why in found)
        return found[0][0], f"by the factor {first}" + (f"; others say {listing(others)}" if others else "")

    def _per_gram(self, keys, account):
        brings = weights(self.formula, tuple(keys))
        return 1 - brings[:, AT["water"]] if account == "solids" else brings[:, AT[_SUMMED.get(account, account)]]

    def _balance(self):
        """Return how much of the new comes in, and {balancing key: its change}, by one equation for each account."""
        amounts, unknown = np.array(list(self.gone.values())), [self.new, *self.balancing]
        matrix, right = np.eye(len(unknown)), np.full(len(unknown), self.ratio * amounts.sum())
        for n, account in enumerate((self.basis, *self.balancing.values())):
            if account in ACCOUNTS:
                matrix[n], right[n] = self._per_gram(unknown, account), amounts @ self._per_gram(self.gone, account)
        if abs(np.linalg.det(matrix)) < 1e-9:
            be = f"able to make good {listing(map(in_words, self.accounts))}"
            do = "name another basis, or what makes it good"
            raise FormulaError(must(listing(map(self._name, unknown)), be, "no such balance", do))
        brought, *moves = np.linalg.solve(matrix, right).tolist()
        return brought, {key: move for key, move in zip(self.balancing, moves, strict=True) if abs(move) > _NONE}

    def _applied(self, wrong):
        """Return the formula with the swap made right. Raises Impossible."""
        more = self.brought - sum(self.gone.values())
        kinds = {self.ingredients[key].kind for key in (*self.old, self.new)}
        if self.place == "dough" and "flour" in kinds and not self.moves and abs(more) < _NONE:
            return wrong  # weight for weight, measured on the flour that is left
        parts, left = {part.name: part for part in wrong.parts}, dict(self.moves)
        final = next((bowl.name for bowl in self.bowls if bowl.kind == "dough"), self.target.name)
        water = next((key for key in self.moves if self.ingredients[key].kind == "water"), None)
        whole = sum(map(self._now, self.old))
        for bowl in self.bowls:
            share, part = sum(bowl.percentage(key) for key in self.old) / whole, parts[bowl.name]
            if not share:
                continue
            part = self._with(part, self.new, more * share, bowl)
            if water and bowl.name != final:  # a preferment keeps its own water, so that it stays as wet as it was
                *lost, came, wet = self._per_gram((*self.gone, self.new, water), "water")
                missing = np.dot(list(self.gone.values()), lost) - self.brought * came
                own = max(float(missing * share / wet), -part.percentage(water))
                part = with_line(part, water, part.percentage(water) + own)
                left[water] -= own
            parts[bowl.name] = part
        for key, move in left.items():
            parts[final] = self._with(parts[final], key, move, parts[final])
        return wrong.with_parts(parts.values()).checked()

    def _with(self, part, key, move, before):
        """Return a part with a line moved. Raises Impossible when it would fall below nothing."""
        after = part.percentage(key) + move
        if after >= -1e-7:
            return with_line(part, key, max(after, 0.0))
        now, name = before.percentage(key), self._name(key)
        swapped = (
            f"swap at most {figure(self.share * now / (now - after))} % of it" if now > 0 else "swap something else"
        )
        why = f"{self._name(self.new)} brings more than the formula can give up"
        got, do = (
            f"{figure(after, 2)} % for all of the swap; {why}",
            f"{swapped}, or have another ingredient make it good",
        )
        raise Impossible(must(name, f"0 % or more in the {self.target.name}", got, do), (name,))

    def _ledger(self):
        accounts = dict.fromkeys((*self.accounts, "water", "fat"))
        changes = {key: -amount for key, amount in self.gone.items()} | {self.new: self.brought} | self.moves
        brings = {account: self._per_gram(changes, account) for account in accounts}
        return tuple(
            (self._name(key), change, {account: float(change * per[n]) for account, per in brings.items()})
            for n, (key, change) in enumerate(changes.items())
        )

    def _told(self, base):
        """Yield the arithmetic in sentences."""
        for key, amount in self.gone.items():
            per = {account: float(self._per_gram([key], account)[0]) for account in self.accounts}
            sums = [
                f"{in_words(account)} {trim(amount)} × {trim(100 * share)} % = {trim(amount * share)}"
                for account, share in per.items()
            ]
            what = f": {listing(sums)}" if sums else ""
            yield f"Out goes {self._name(key)} {trim(amount)} % of {base}{what}."
        name = f"{self._name(self.new).capitalize()} {trim(self.brought)} %"
        equal = {"weight": ", weight for weight", "yeast": f", {self.said_of_ratio}"}
        yield f"{name}{equal.get(self.basis, f' brings as much {in_words(self.basis)}')}."
        for key, move in self.moves.items():
            now = self._now(key)
            moved = f"{self._name(key).capitalize()} {without_zeros(signed(move, 2))}"
            yield f"{moved} keeps {in_words(self.balancing[key])} the same: {trim(now)} → {trim(now + move)} %."
        keys = (*self.gone, self.new, *self.moves)
        for account in self.accounts:
            missing = unknown_in(self.formula, Lines(keys, (1.0,) * len(keys)), _SUMMED.get(account, account))
            if missing:
                of = listing(name for name, _ in missing)
                yield f"The tables do not know the {in_words(account)} of {of}: counted as 0."

    def _wrong_way(self, wrong, right):
        """Return the usual wrong way, gram for gram with nothing else changed, in words, and how far off it comes."""
        said = self.rule.wrong_way if self.rule else "gram for gram, nothing else changed"
        kept, true = self.formula.of_kind("salt"), right.of_kind("salt")
        if self.place == "dough" and right is wrong and kept and abs(true / kept - 1) > 1e-3:
            off = f"salt {figure(kept, 2)} % where it is truly {figure(true, 2)} % of the flour left"
            return f"{capital(said)}: {off}.", (("salt", float(kept), float(true)),)
        shown = _SHOWN.get(self.place, ())
        pairs = [(self._name(self.new), sum(self.gone.values()), self.brought, "{} {} % where {} is right")]
        given, meant = (measures(formula, shown) for formula in (wrong, right))
        pairs += [(in_words(name), given[name], meant[name], "{} {} instead of {}") for name in shown]
        pairs = [pair for pair in pairs if abs(pair[1] - pair[2]) > 0.005]
        off = listing(words.format(what, figure(a, 2), figure(b, 2)) for what, a, b, words in pairs)
        size = f"Gram for gram with nothing else changed gives {off}." if off else ""
        sentences = [f"{capital(said)}." if said else "", size]
        return " ".join(filter(None, sentences)), tuple((what, float(a), float(b)) for what, a, b, _ in pairs)


def _bowls(formula, part):
    return formula.bowls if formula.part(part).kind in DOUGH else (formula.part(part),)
