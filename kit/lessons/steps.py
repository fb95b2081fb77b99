"""The small arithmetic of an exercise: steps over named figures, read with their numbers; texts with slots for them."""

import ast
import functools
import operator
import re
from typing import NamedTuple

from ..words import capital, figure, without_zeros

DOES = {ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv}
NAME, SLOT, WHOLE = re.compile("[a-z_]+"), re.compile(r"{(\w+)}"), "round"


class Step(NamedTuple):
    """One line of arithmetic: what it finds, from what, in which unit, and the words before it."""

    name: str
    formula: str
    unit: str = ""
    words: str = ""  # none: worked, and not shown

    def numbers(self, values, value):
        """Return the formula with the numbers in it, and the value it comes to.

        >>> Step("share", "amount / flour * 100", "%").numbers({"amount": 150, "flour": 1000}, 15)
        '150 / 1,000 x 100 = 15 %'
        >>> Step("all", "bun * 86", "g").numbers({"bun": 78.584}, 6758.224)
        '78.584 x 86 = 6,758.2 g'
        """
        for more in range(6):  # digits carried from the lines before, until what is shown comes to what is shown
            taken = {name: round(values[name], digits(values[name]) + more) for name in names_in(self.formula)}
            if shown(value_of(self.formula, taken)) == shown(value):
                break
        left = NAME.sub(lambda name: n(taken[name[0]], 9), self.formula).replace("*", "x")
        right = f"{shown(value)} {self.unit}".strip()
        return right if left == shown(value) else f"{left} = {right}"

    def line(self, values):
        """Return the step as a whole line of a worked answer."""
        return f"{self.words}: {self.numbers(values, values[self.name])}."


def values_of(steps, figures, rounded=lambda value: value):
    """Return the figures and what each step comes to, each rounded before the next takes it. Raises KeyError.

    >>> values_of([Step("half", "whole / 2"), Step("rest", "whole - half")], {"whole": 60})["rest"]
    30.0
    """
    values = dict(figures)
    for each in steps:
        values[each.name] = rounded(value_of(each.formula, values))
    return values


def value_of(formula, values):
    """Return what a formula of sums, products and round(...) comes to. Raises KeyError.

    >>> value_of("round(dough / 180 * 100)", {"dough": 1000})
    556
    """
    return _value(_read(formula), values)


@functools.cache
def _read(formula):
    return ast.parse(formula, mode="eval").body


def _value(node, values):
    if isinstance(node, ast.BinOp):
        return DOES[type(node.op)](_value(node.left, values), _value(node.right, values))
    if isinstance(node, ast.Call):
        return round(_value(node.args[0], values))
    return values[node.id] if isinstance(node, ast.Name) else node.value


def names_in(formula):
    """Return the names of the figures that a formula takes."""
    return set(NAME.findall(formula)) - {WHOLE}


def told(text, said):
    """Return a text with its slots filled, those with a capital in capitals.

    >>> told("{Name}: {share} %", {"name": "milk", "share": "12"})
    'Milk: 12 %'
    """

    def filled(slot):
        word = said[slot[1].lower()]
        return capital(word) if slot[1][0].isupper() else word

    return SLOT.sub(filled, text)


def n(value, digits=4):
    """Return a number as a question or a step shows it.

    >>> n(1200), n(16.50), n(7.61501)
    ('1,200', '16.5', '7.615')
    """
    return without_zeros(figure(value, digits))


def shown(value):
    """Return a number to the digits that a step needs: four or five that count.

    >>> shown(1374.62), shown(30.8455), shown(0.81114)
    ('1,374.6', '30.85', '0.8111')
    """
    return n(value, digits(value))


def digits(value):
    """Return how many decimals those are."""
    return 4 if abs(value) < 1 else max(1, 4 - len(str(int(abs(value)))))
