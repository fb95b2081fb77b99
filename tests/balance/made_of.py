"""What the parts of one raw piece bring to each account, for tests that add it up."""

from kit.balance.accounts import ACCOUNTS, account, lines_of


def on_a_piece(formula):
    """Return {part: {account: g}} of dough, filling, topping and wash as made up, and of the whole "piece"."""
    found = {}
    for part in ("dough", "filling", "topping", "wash"):
        lines, grams = lines_of(formula, "divided" if part == "dough" else part), getattr(formula.pieces, part)
        if lines is not None and grams:
            sums = account(formula, lines)
            found[part] = {name: value * grams / sums["mass"] for name, value in sums.items()}
    return found | {"piece": {name: sum(each[name] for each in found.values()) for name in ACCOUNTS}}
