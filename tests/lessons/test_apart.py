"""Each kind's answer worked a second time, apart from the kit: plain arithmetic from the figures that were drawn.

Composition per 100 g: USDA SR28, as its page prints it; yeast factors: Hamelman 2004.
"""

import pytest

from kit.lessons import exercise, exercises

WATER = {"milk": 88.13, "egg": 76.15, "butter": 17.94, "water": 100.0, "milk powder": 3.16, "honey": 17.10}
WATER |= {"oil": 0.0, "lard": 0.0, "sugar": 0.0, "fresh yeast": 69.0, "active dry yeast": 5.08, "instant yeast": 5.08}
FAT = {"milk": 3.25, "egg": 9.51, "butter": 81.11, "oil": 100.0, "lard": 100.0, "milk powder": 0.77}
# as the question tells it: the sodium of salted butter, 643 mg, beyond the unsalted kind's, 11 mg, of 38,758 in salt
SALT = round((643 - 11) / 387.58, 4)


def flour_of(lines):
    return sum(value for name, value in lines.items() if "flour" in name)


def on_flour(lines, figure):
    held = sum(value * figure.get(name, 0) / 100 for name, value in lines.items() if "flour" not in name)
    return 100 * held / flour_of(lines)


def total(lines):
    return sum(lines.values())


def weight_from_percentage(lines, ingredient, flour, second, also):
    return flour * (lines[ingredient] + lines.get(also, 0)) / 100


def flour_from_dough(lines, dough, share, left):
    flour = dough / total(lines) * 100
    return flour * (100 - share) / 100 if left else flour * share / 100 if share else flour


def share_of_dough(lines, ingredient, also, rise):
    return 100 * (lines[ingredient] + lines.get(also, 0) + rise) / (total(lines) + rise)


def points_or_percent(flour, ingredient, now, by, word, up, weighed, then):
    by = by if up else -by
    after = now + by if word == "points" else now + now * by / 100
    return flour * (after - (after * then / 100 if word == "points" else then)) / 100


def final_dough(flour, liquid, share, of_sponge, dough=0, total=0, cooked=0):
    flour = dough / total * 100 if dough else flour
    return flour * (liquid / 100 - share * of_sponge / 10000) - 5 * cooked


def folded_in(final_flour, final_liquid, sponge_flour, sponge_liquid, liquid, used=0, of_sponge=0):
    if used:
        part = of_sponge / 100 if of_sponge else sponge_liquid / sponge_flour
        sponge_flour, sponge_liquid = used / (1 + part), used * part / (1 + part)
    return 100 * (final_liquid + sponge_liquid) / (final_flour + sponge_flour)


def scale_rounding(ingredient, percentage, flour, step, dough=0, total=0):
    flour = dough / total * 100 if dough else flour
    return 100 * step * int(percentage * flour / 100 / step + 0.5) / flour


def hold_the_water(rises, poured, liquid):
    return poured - sum((to - was) * WATER[name] for name, (was, to) in rises.items()) / WATER[liquid]


def milk_for_egg(flour, egg, milk, water=0):
    return (milk * WATER["milk"] + 100 * water - egg * WATER["egg"]) / flour


def salted_butter(flour, salt, butter, part=100, dough=0, total=0):
    flour = dough / total * 100 if dough else flour
    return flour * salt / 100 - flour * butter / 100 * part / 100 * SALT / 100


def one_exchange(amount, out, into, part, water):
    worth = {
        "oil": 0.8111, "lard": 0.8111, "honey": 100 / 82.90, "milk powder": (100 - 88.13 - 3.25) / (100 - 3.16 - 0.77),
        "instant yeast": 0.33, "active dry yeast": 0.40, "fresh yeast": 1 / {"instant yeast": 0.33}.get(out, 0.40),
    }[into]  # fmt: skip
    amount = amount * part / 100
    return abs(amount * WATER[out] - amount * worth * WATER[into]) / 100 if water else amount * worth


def class_of_dough(lines, scheme):
    """Reinhart 2001: rich from 20 % fat as weighed; German code: over 10 parts on 90; our own steps of pure fat."""
    flour = lines["flour"] / 100
    if scheme == "reinhart_2001":
        return 1 + (lines["butter"] / flour >= 20)
    if scheme == "german_code":
        return int((lines["butter"] + lines["sugar"]) / flour > 11.11)
    return sum(on_flour(lines, FAT) >= begins for begins in (3, 10, 20, 40))


def topping_base(flour, cocoa, sugar, also=0, swapped=0, more=0):
    return 100 * (sugar + also) / (flour + cocoa + more)


def topping_line(lines, count, portion, ingredient, loss, dough=0, ratio=0):
    portion = dough * ratio if dough else portion
    return count * portion / (1 - loss / 100) * lines[ingredient] / total(lines)


def sugar_in_a_piece(lines, dough, rise, topping=0, sweet=0):
    return dough * lines["sugar"] / (total(lines) + rise) + topping * sweet / 100


def water_temperature(target, flour, room, rise, unit, sponge=None, was=(), came=0):
    rise = 3 * came - sum(was) if was else rise
    return 3 * target - flour - room - rise if sponge is None else 4 * target - flour - room - rise - sponge


APART = {
    "percentage_from_weight": lambda lines, ingredient, later: 100 * (lines[ingredient] + later) / flour_of(lines),
    "flour_for_pieces": lambda lines, count, piece, loss, topping: (
        count * piece / (1 - loss / 100) / total(lines) * 100
    ),
    "hydration_as_weighed": lambda lines, later=0: 100 * (lines["milk"] + lines["water"] + later) / flour_of(lines),
    "all_water": lambda lines: on_flour(lines, WATER),
    "fat_of_dough": lambda lines: on_flour(lines, FAT),
    "ratio_or_share": lambda ratio, piece, count, loss: (
        piece * ratio / (1 + ratio) * (count or 1) / (1 - loss / 100)
    ),
    "raw_from_baked": lambda baked, loss, topping, cooling: (
        baked / (1 - cooling / 100) / (1 - loss / 100) - topping
    ),
    "dough_for_order": lambda count, baked, second, first, extra: (
        (count + extra) * baked / (1 - second / 100) / (1 - first / 100)
    ),
} | {
    each.__name__: each
    for each in (
        weight_from_percentage, flour_from_dough, share_of_dough, points_or_percent, final_dough, folded_in,
        scale_rounding, hold_the_water, milk_for_egg, salted_butter, one_exchange, class_of_dough, topping_base,
        topping_line, sugar_in_a_piece, water_temperature,
    )
}  # fmt: skip


def test_every_kind_is_worked_apart():
    assert set(APART) == set(exercises())


@pytest.mark.parametrize("kind", list(exercises()))
def test_the_answer_is_the_same_worked_apart(kind):
    for level in (1, 2, 3):
        for seed in range(100):
            task = exercise(kind, seed, level)
            assert task.answer == pytest.approx(APART[kind](**task.figures), rel=1e-9, abs=1e-9), task.figures
            last = list(task.values)[-1]
            if not task.choices:
                assert task.values[last] == pytest.approx(task.answer, rel=1e-9, abs=1e-9)


if __name__ == "__main__":
    for name in exercises():
        worst = max(
            abs(task.answer - APART[name](**task.figures))
            for task in (exercise(name, seed, 1 + seed % 3) for seed in range(600))
        )
        print(f"{name:24} 600 draws, furthest apart {worst:.1e}")
