"""Side by side: the unit is the bake, small numbers get no probability, and a cause is named only when it can be."""

import itertools
import re
from html.parser import HTMLParser

import pytest

from kit import Formula
from kit.errors import AmountError
from kit.trials import Trial, TrialError, bakes_of, calibrate, lineage, repeat_scatter, side_by_side
from kit.trials.printed import photos_of

# Worked by hand: heights of A and B on four days, mm
A, B = [41.8, 43.1, 42.2, 43.5], [40.1, 41.9, 40.3, 42.3]


def bakes(bun, heights, name="bun", **entries):
    return [
        Trial.of(f"{name} {day}", f"2025-03-{4 + day:02d}", formula=bun, height=[height - 0.5, height + 0.5], **entries)
        for day, height in enumerate(heights)
    ]


def response(found, name="height"):
    return next(row for row in found.responses if row.name == name)


def second(found):
    """How the second column's height is against the first's."""
    return response(found).against[1]


def test_four_days_paired(bun):
    found = side_by_side([bakes(bun, B), bakes(bun.vary(butter=20), A)])
    difference = second(found).difference
    assert (difference.value, difference.low, difference.high) == pytest.approx((1.50, 0.93, 2.07), abs=0.005)
    assert "4 days paired" in second(found).words
    assert response(found).readings == (8, 8)
    assert [len(each) for each in response(found).bakes] == [4, 4]


def test_days_not_shared_are_not_paired(bun):
    later = [t.with_entry("date", f"2025-04-{4 + n:02d}") for n, t in enumerate(bakes(bun.vary(butter=20), A))]
    found = side_by_side([bakes(bun, B), later])
    difference = second(found).difference
    assert difference.kind == "unpaired"
    assert difference.half == pytest.approx(1.67, abs=0.005)
    assert "days not shared" in second(found).words


@pytest.mark.parametrize("n", [1, 2, 3])
def test_up_to_three_bakes_get_a_range_and_no_probability(bun, n):
    found = side_by_side([bakes(bun, B[:n]), bakes(bun.vary(butter=20), A[:n])])
    difference = second(found).difference
    assert difference.p is None
    assert "interval" not in second(found).words
    assert any("no probability" in sentence for sentence in found.notes)
    assert not re.search(r"\bp\b\s*[=<]|significant", found.page())


def test_twelve_buns_of_one_tray_are_one_bake(bun):
    """Twelve entries of one mix, or of one day and formula with nothing set apart, are readings of one bake."""
    for alike in ({"mix": "first"}, {"dough_temperature": 26, "proof_time": 45}, {}):
        day = [
            Trial.of(f"bun {n}", "2025-03-04", formula=bun, height=40 + n, **alike) for n in range(12)
        ]  # fmt: skip
        assert len(bakes_of(day)) == 1
        found = side_by_side([day, bakes(bun.vary(butter=20), A)])
        assert [len(each) for each in response(found).bakes] == [1, 4]
        assert response(found).readings[0] == 12
        assert second(found).difference.p is None
        assert any("12 entries" in s and "1 bake" in s for s in found.notes)
        assert any("name the mixes" in s for s in found.notes) == ("mix" not in alike)


def test_pieces_of_a_day_are_one_bake_until_something_of_the_bake_is_set_apart(bun):
    def day(*entries):
        return bakes_of([Trial.of("bun", "2025-03-04", formula=bun, **each) for each in entries])

    assert len(day({"piece_mass": 57}, {"piece_mass": 63, "deck": "upper"}, {"tray_position": "rear"})) == 1
    assert len(day({"oven_set": 180}, {"oven_set": 195}, {})) == 2
    assert len(day({"proof_time": 40}, {"proof_time": 60})) == 2
    assert len(day({"flour_weighed": 3000}, {"flour_weighed": 3000, "flour_added": 300})) == 2
    other = Trial.of("bun", "2025-03-04", formula=bun.vary(butter=24))
    assert len(bakes_of([Trial.of("bun", "2025-03-04", formula=bun), other])) == 2


def test_two_mixes_of_a_day_are_two_bakes(bun):
    first, second = (
        Trial.of("bun", "2025-03-04", formula=bun, mix=mix, dough_temperature=26) for mix in ("first", "second")
    )
    assert len(bakes_of([first, second])) == 2


def test_pieces_of_one_bake_in_two_columns_are_named(bun):
    one, other = (Trial.of(name, "2025-03-04", formula=bun, mix="first", height=42) for name in ("left", "right"))
    found = side_by_side([one, other])
    assert any("readings of one bake" in sentence for sentence in found.notes)


def test_the_cause_is_left_open_when_several_things_changed(bun):
    base = bakes(bun, [42])[0]
    both = Trial.of("both", "2025-03-04", formula=bun.vary(butter=22, sugar=18), height=41)
    one = Trial.of("one", "2025-03-04", formula=bun.vary(butter=22), height=41)
    found = side_by_side([base, both, one])
    assert [len(found.changes(n)) for n in (1, 2)] == [2, 1]
    assert (
        "Unsalted butter and sugar were changed together: which of them did it can't be told."
        in side_by_side([base, both]).words
    )
    assert {row.what for row in found.planned} == {"unsalted butter", "sugar"}


def test_a_plan_beside_the_formula_counts_as_a_change(bun):
    base, hot = (
        Trial.of(n, "2025-03-04", formula=bun, planned_oven_set=oven, height=42) for n, oven in (("a", 180), ("b", 195))
    )
    found = side_by_side([base, hot])
    assert [(row.what, row.values) for row in found.planned] == [("oven set", (180, 195))]
    found = side_by_side([base, hot.with_entry("planned formula", bun.vary(butter=22))])
    assert "Unsalted butter and oven set were changed together" in found.words


def test_a_sponge_taken_larger_is_one_change(bun):
    def with_sponge(flour):
        sponge = {"flour": flour, "water": 0.88 * flour, "fresh yeast": 0.04 * flour}
        whole = {"flour": 100, "water": 60, "fresh yeast": 4}
        rest = {name: grams - sponge[name] for name, grams in whole.items()}
        return Formula.from_weights("bun", rest, {"sponge": sponge})

    found = side_by_side([bakes(with_sponge(25), [42])[0], bakes(with_sponge(30), [42], "larger")[0]])
    assert [(row.what, row.values) for row in found.planned] == [("flour in the sponge", pytest.approx((25, 30)))]


def test_a_swap_gram_for_gram_is_one_change(bun):
    """Cocoa for half of the crust's flour: its flour and its cocoa both move, and one thing was changed."""
    cocoa = bun.swap("plain flour", "cocoa", share=50, part="topping")
    base = bakes(bun, [42])[0]
    found = side_by_side([base, Trial.of("cocoa", "2025-03-04", formula=cocoa, height=41)])
    assert {row.what for row in found.planned} == {"plain flour in the topping", "cocoa in the topping"}
    assert found.words.startswith("Cocoa in the topping for plain flour: ")
    assert "changed together" not in found.words
    found = side_by_side([base, Trial.of("two", "2025-03-04", formula=cocoa.vary(butter=22), height=41)])
    assert "Cocoa in the topping for plain flour and unsalted butter were changed together" in found.words
    # five points of butter for five of sugar: both are still there, and either may be the cause
    found = side_by_side([base, Trial.of("moved", "2025-03-04", formula=bun.vary(butter=20, sugar=14), height=41)])
    assert "Unsalted butter and sugar were changed together" in found.words


def test_what_was_weighed_otherwise_is_named_though_planned_alike(bun):
    base, other = bakes(bun, [42, 41], flour_weighed=5000)
    other = other.with_entry("weighed dough egg", 900)  # 18 % on 5,000 g
    found = side_by_side([base, other])
    assert found.planned == ()
    (row,) = found.unplanned
    assert (row.what, row.unit) == ("egg weighed for the dough", "% of flour")
    assert row.values == pytest.approx((16, 18))
    assert "Egg weighed for the dough was 2 % more, though not planned, so it is no repeat." in found.words
    both = side_by_side([base.with_entry("weighed dough egg", 900), other])
    assert both.words.startswith("Bun 1, a repeat of bun 0: ")
    assert both.unplanned == ()


def test_a_repeat_is_called_one(bun):
    found = side_by_side(bakes(bun, [42, 43]))
    assert found.planned == ()
    assert found.words.startswith("Bun 1, a repeat of bun 0: ")


def test_against_the_kitchens_own_repeats(bun):
    """By hand: repeats 42, 43, 44 have s = 1 with 2 df; t(.975, 2) sqrt(2) = 6.085 mm for two single bakes."""
    repeats = bakes(bun, [42, 43, 44])
    scatter = repeat_scatter(repeats, "height")
    assert (scatter.value, scatter.df, scatter.plans) == (pytest.approx(1.0), 2, 1)
    rich = Trial.of("rich", "2025-05-04", formula=bun.vary(butter=22), height=[39.0])
    found = side_by_side([repeats[0], rich], kitchen=[*repeats, rich])
    assert second(found).limit == pytest.approx(6.085, abs=0.001)
    assert "smaller than your repeats differ" in second(found).words
    flat = Trial.of("flat", "2025-05-04", formula=bun.vary(butter=22), height=[35.0])
    assert "more than your repeats differ" in second(side_by_side([repeats[0], flat], kitchen=repeats)).words
    assert "no plan was repeated" in second(side_by_side([repeats[0], flat])).words
    assert "(±6.1, on 3 bakes only)" in second(found).words


def test_what_was_added_at_the_mixer_is_no_repeat_though_the_other_left_the_box_blank(bun, year):
    """By hand: 300 g of flour on 3,000 g make 18 % butter 16.4 %; -60 g of water on 3,000 g make 14 % water 12 %."""
    plain, more = (
        Trial.of(name, f"2025-01-0{day}", formula=bun, flour_weighed=3000, height=45, **added)
        for day, (name, added) in enumerate((("b", {}), ("a", {"flour_added": 300})), 1)
    )
    found = side_by_side([plain, more])
    assert [(row.what, row.values) for row in found.unplanned] == [("flour added", (0, 300))]
    assert found.words.startswith("A, planned as b: ")
    assert found.words.endswith("Flour added was 300 g more, though not planned, so it is no repeat.")
    # without any other figure a blank box tells nothing; without the flour that it was added to it is still no repeat
    bare = side_by_side([Trial.of("b", "2025-01-01", formula=bun, height=45), more])
    assert bare.unplanned == ()
    assert bare.words.endswith("What went into the bowls differed though not planned, so it is no repeat.")
    unknown = Trial.of("c", "2025-01-03", formula=bun, water_added=50)
    assert side_by_side([plain, unknown]).set_apart(1) == ["what went into the bowls"]
    held, slip, others = year[36], year[37], [*year[:36], *year[38:]]
    assert (held.code, slip.code) == ("T-037", "T-038")
    assert repeat_scatter(year, "height") == repeat_scatter(others, "height")
    assert "so it is no repeat" in side_by_side([year[25], held], kitchen=year).words


def test_what_was_set_otherwise_is_no_repeat_and_does_not_judge_itself(bun):
    cool, hot = (
        Trial.of(f"{at} degC", f"2025-03-0{day}", formula=bun, oven_set=at, height=height)
        for day, (at, height) in enumerate(((170, 45), (210, 53)), 1)
    )
    found = side_by_side([cool, hot])
    assert [(row.what, row.values) for row in found.unplanned] == [("oven set", (170, 210))]
    assert found.words.startswith("210 degC, planned as 170 degC: ")
    assert "Oven set was 40 °C warmer, though not planned, so it is no repeat." in found.words
    assert second(found).limit is None
    assert repeat_scatter([cool, hot], "height") is None
    near = hot.with_entry("oven set", 172)  # less than a step of the dial
    assert "a repeat of" in side_by_side([cool, near]).words


@pytest.mark.parametrize(
    ("name", "one", "other", "alike"),
    [("proof_time", 45, 60, 50), ("proof_temperature", 28, 36, 29.5), ("bake_time", 16, 20, 16.5),
     ("mix_time_fast", 8, 12, 9), ("piece_mass", 60, 66, 61), ("disc_diameter", 80, 90, 81),
     ("proof_humidity", 75, 90, 80), ("score_pattern", "ribs", "net", "Ribs"), ("flour_weighed", 3000, 9000, 3300)],
)  # fmt: skip
def test_each_thing_set_parts_repeats(bun, name, one, other, alike):
    three = [
        Trial.of(str(n), f"2025-03-0{n + 1}", formula=bun, height=40 + n, **{name: value})
        for n, value in enumerate((one, other, alike))
    ]
    assert repeat_scatter(three, "height").df == 1
    assert repeat_scatter(three[:2], "height") is None
    assert side_by_side(three[:2]).set_apart(1) == [name.replace("_", " ")]


def test_bakes_set_a_little_apart_do_not_chain_into_repeats(bun):
    """180, 184, 188: each is near the next, the ends are apart."""
    chain = [
        Trial.of(str(at), f"2025-03-{at - 170:02d}", formula=bun, oven_set=at, height=40) for at in (180, 184, 188)
    ]
    assert repeat_scatter(chain, "height").df == 1


def test_repeats_that_are_compared_do_not_judge_themselves(bun):
    one, other, *rest = bakes(bun, [42, 47, 42, 43, 44])
    assert "nothing else was repeated" in second(side_by_side([one, other])).words
    assert "nothing else was repeated" in second(side_by_side([one, other], kitchen=[one, other, rest[0]])).words
    found = side_by_side([one, other], kitchen=[one, other, *rest])
    # 42, 43 and 44: s = 1, t(.975, 2) sqrt 2 = 6.085
    assert second(found).limit == pytest.approx(6.085, abs=0.001)
    assert "(±6.1, on 3 bakes only)" in second(found).words


def test_one_pair_of_bakes_does_not_tell_how_far_repeats_differ(bun):
    """42 and 43 have one degree of freedom: t(.975, 1) sqrt 2 x 0.7071 would call 12.7 mm nothing."""
    pair = bakes(bun, [42, 43])
    rich = Trial.of("rich", "2025-05-04", formula=bun.vary(butter=22), height=[30.0])
    found = side_by_side([pair[0], rich], kitchen=pair)
    assert second(found).limit is second(found).beyond is None
    assert "one pair of bakes, too few to tell" in second(found).words
    assert "±" not in found._repr_html_()
    # and what differed though not planned is judged by the instrument alone
    warm, cool = ([t.with_entry("room temperature", at + n) for n, t in enumerate(pair)] for at in (26, 21))
    assert any(row.what == "room temperature" for row in side_by_side([warm[0], cool[0]], kitchen=warm).unplanned)


def test_a_plan_that_the_other_lacks_is_compared_with_what_was_or_not_known(bun):
    planned = Trial.of("planned", "2025-03-04", formula=bun, planned_oven_set=180, height=42)

    def against(**entries):
        return side_by_side([planned, Trial.of("other", "2025-03-05", formula=bun, height=42, **entries)])

    unknown = against()
    assert any("oven set is not known of other" in sentence for sentence in unknown.notes)
    assert "a repeat" not in unknown.words
    hot = against(oven_set=200)
    assert [(row.what, row.values) for row in hot.planned] == [("oven set", (180, 200))]
    assert "a repeat" not in hot.words
    assert "a repeat of" in against(oven_set=180).words


def on(bun, days, heights, name="bun", **entries):
    return [
        Trial.of(f"{name} {n}", f"2025-03-{day:02d}", formula=bun, height=height, mix=f"{name} {n}", **entries)
        for n, (day, height) in enumerate(zip(days, heights, strict=True))
    ]


def test_bakes_on_days_that_are_not_shared_are_not_dropped_from_the_difference(bun):
    """By hand: means 46 and 51; the two shared days alone would give 0."""
    first = on(bun, (1, 2, 3, 4), (46, 46, 46, 46))
    found = side_by_side([first, on(bun.vary(butter=20), (1, 2, 8, 9), (46, 46, 56, 56), "rich")])
    assert second(found).difference.value == pytest.approx(5)
    assert second(found).difference.kind == "unpaired"
    assert "only some days shared" in second(found).words
    nearly = on(bun.vary(butter=20), (1, 2, 3, 4, 9), (47, 47.5, 48, 46.5, 60), "rich")
    found = side_by_side([first, nearly])
    assert second(found).difference.value == pytest.approx(1.25)
    assert "4 days paired, 1 bake left out" in second(found).words


def test_several_mixes_of_one_day_are_bakes_and_not_one_pair(bun):
    """By hand: means 42 and 47, pooled s = 1.581 at 8 df: half = 2.306 x 1.581 x sqrt(2 / 5) = 2.306 (t table)."""
    first, other = (
        on(bun, [1] * 5, (40, 41, 42, 43, 44)),
        on(bun.vary(butter=20), [1] * 5, (45, 46, 47, 48, 49), "rich"),
    )
    found = side_by_side([first, other])
    assert second(found).difference.half == pytest.approx(2.306, abs=0.001)
    assert "5 and 5 bakes, all of one day" in second(found).words
    few = second(side_by_side([first[:1], other])).words
    assert "one bake each" not in few
    assert "from 5.0 to 9.0, 1 and 5 bakes" in few


def test_no_scatter_is_below_what_the_instrument_resolves(bun):
    """By hand: a step of 0.5 mm is uniform, s = 0.5 / sqrt 12 = 0.1443 mm; 4.303 sqrt 2 x 0.1443 = 0.878 mm, and of
    four equal pairs the interval has half t(.975, 3) x sqrt 2 x 0.1443 / 2 = 3.182 x 0.1021 = 0.325 mm."""
    repeats = [Trial.of(f"r{n}", f"2025-03-0{n}", formula=bun, height=42) for n in (1, 2, 3)]
    assert repeat_scatter(repeats, "height").value == pytest.approx(0.1443, abs=5e-5)
    rich = Trial.of("rich", "2025-03-09", formula=bun.vary(butter=22), height=42.5)
    found = side_by_side([repeats[0], rich], kitchen=repeats)
    assert second(found).limit == pytest.approx(0.878, abs=0.001)
    assert "smaller than your repeats differ" in second(found).words
    assert "no finer than the instrument reads" in second(found).words
    first, other = (
        [Trial.of("bun", f"2025-04-0{n}", formula=formula, height=h, diameter=2 * h) for n in range(1, 5)]
        for formula, h in ((bun, 40), (bun.vary(butter=20), 41))
    )
    found = side_by_side([first, other])
    assert second(found).difference.half == pytest.approx(0.325, abs=0.001)
    assert "no narrower than the instrument reads" in second(found).words
    # 0.5 of 40 and of 80 mm: 1.398 % of 0.5, over sqrt 12
    assert repeat_scatter(first, "height_over_diameter").value == pytest.approx(0.00699 / 12**0.5, rel=1e-3)
    later = [t.with_entry("date", f"2025-05-0{n}") for n, t in enumerate(other, 1)]
    # pooled: t(.975, 6) x 0.1443 x sqrt(2 / 4) = 2.447 x 0.1021
    assert second(side_by_side([first, later])).difference.half == pytest.approx(0.2497, abs=0.0005)
    loss = [
        Trial.of("bun", f"2025-06-0{n}", formula=bun, piece_mass=77, topping_mass=22, baked_mass=90) for n in (1, 2)
    ]
    assert repeat_scatter(loss, "bake_loss").value == pytest.approx(0.1 / 12**0.5)  # 0.1 g of 100 g raw


def test_many_comparisons_are_counted_with_what_repeats_do_as_well(year):
    found = side_by_side([year[0], year[2], year[3]], kitchen=year)
    judged = sum(each.limit is not None for row in found.responses for each in row.against)
    assert judged > 20
    assert any(sentence.startswith(f"Of {judged} comparisons") for sentence in found.notes)


def test_columns_of_several_trials_are_named_by_what_sets_them_apart(bun, year):
    rich = bun.vary(butter=24)
    assert side_by_side([bakes(bun, B), bakes(rich, A)]).names == ("unsalted butter 18 %", "unsalted butter 24 %")
    assert side_by_side([bakes(bun, B)[0], bakes(rich, A, "r")]).names == ("bun 0", "unsalted butter 24 %")
    both = bakes(bun.vary(butter=24, sugar=18), A, "r")
    assert side_by_side([bakes(bun, B)[:2], both]).names == ("bun 0 and bun 1", "r 0, r 1, r 2 and r 3")
    assert side_by_side([year[:6], year[6:8]]).names[0] == "T-001, T-002, T-003 and 3 more"


def test_a_column_of_bakes_that_are_no_repeats_says_so(bun):
    three = bakes(bun, [42, 43, 44])
    mixed = [three[0].with_entry("oven set", 180), three[1].with_entry("oven set", 210)]
    found = side_by_side([mixed, three[2]])
    assert any("not repeats of each other, oven set differed" in sentence for sentence in found.notes)


def test_what_differed_unplanned_is_named_beyond_what_repeats_do(bun):
    cool, warm = (
        Trial.of(n, "2025-03-04", formula=bun.vary(butter=butter), dough_temperature=at, height=42)
        for n, butter, at in (("a", 18, 25), ("b", 22, 28))
    )
    found = side_by_side([cool, warm])
    assert [row.what for row in found.unplanned] == ["dough temperature"]
    assert found.words.endswith("Dough temperature was 3 °C warmer, though not planned.")
    again = [Trial.of(f"r{n}", f"2025-04-{n + 1:02d}", formula=bun, dough_temperature=22 + 3 * n) for n in range(4)]
    assert side_by_side([cool, warm], kitchen=again).unplanned == ()


@pytest.mark.parametrize(("warmer", "told"), [(0.8, []), (1.2, ["room temperature"])])
def test_two_readings_within_a_step_each_are_not_apart(bun, warmer, told):
    """A thermometer read to 0.5 degC: each of two readings may be a step off."""
    pair = [Trial.of(n, "2025-03-04", formula=bun.vary(butter=butter), room_temperature=at, height=42)
            for n, butter, at in (("a", 18, 22.0), ("b", 22, 22.0 + warmer))]  # fmt: skip
    assert [row.what for row in side_by_side(pair).unplanned] == told


@pytest.mark.parametrize("n", [0, 9])
def test_one_to_eight_columns(bun, n):
    with pytest.raises(AmountError, match="of columns from 1 to 8"):
        side_by_side(bakes(bun, [42] * n))


def test_never_measured_in_both(bun):
    one, other = bakes(bun, [42])[0], Trial.of("b", "2025-03-04", formula=bun, diameter=85)
    found = side_by_side([one, other])
    assert second(found).words == "not measured in both"
    empty = side_by_side([Trial.of("a", "2025-03-04"), Trial.of("b", "2025-03-04")])
    assert "Nothing was measured yet" in empty.page()


class Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.seen, self.alts = set(), []

    def handle_starttag(self, tag, attrs):
        self.seen.add(tag)
        self.alts += [value for name, value in attrs if name == "alt"]


def test_the_page_holds_text_as_text_and_pictures(book, bun, year):
    from tests.trials.test_photos import jpeg

    name = '<img src=x onerror="alert(1)">'
    one = book.save(bakes(bun, [42])[0].with_entry("name", name), by="M1")
    other = book.save(bakes(bun.vary(butter=22), [41])[0].with_entry("name", name), by="M1")
    book.add_photo(one, jpeg(), view=f"top {name}", by="M1")
    tags = Tags()
    found = side_by_side([Trial.stored(t.document()) for t in (one, other)])
    tags.feed(found.page())
    assert "img" not in tags.seen
    tags.feed(side_by_side([one, other]).page(book))
    assert len(tags.alts) == 1
    assert name in tags.alts[0]
    assert "(invented)" in side_by_side(year[:2]).page()
    assert "<!doctype html>" in side_by_side(year[:2]).page().casefold()


def test_the_page_heads_say_which_trial_it_is_and_hold_one_photo_of_each(book, bun):
    from tests.trials.test_photos import jpeg

    four = []
    for n in range(4):
        entries = {"verdict": "keep", "next_change": "less proof"} if n else {}
        trial = Trial.of(f"try {n}", f"2025-03-0{n + 1}", formula=bun, height=42, **entries)
        four.append(book.save(trial, by="M1"))
        for view in ("top", "cut")[:: -1 if n else 1][: 1 + bool(n)]:
            book.add_photo(four[-1], jpeg(), view=view, by="M1")
    four = book.trials([trial.code for trial in four])
    html = side_by_side(four).page(book)
    for said in ("try 0", "2025-03-01", "keep"):
        assert said in html
    assert html.count("less proof") == 3
    tags = Tags()
    tags.feed(html)
    assert [alt.split(", ")[1] for alt in tags.alts] == ["top"] * 4  # all four have it, three a cut
    long = side_by_side([four[0].with_entry("notes", "very " * 80), four[1]]).page()
    assert "\u2026</td>" in long
    assert "very " * 60 not in long


def test_photos_without_a_view_stand_beside_each_other_though_taken_at_other_times(book, bun):
    from tests.trials.test_photos import jpeg

    two = [book.save(trial, by="M1") for trial in bakes(bun, [42, 43])]
    taken = {0: ("04 Mar 09:15", "top", "04 Mar 09:20"), 1: ("06 Mär 10:01", "04 Mar, at the window")}
    for n, views in taken.items():
        for m, view in enumerate(views):
            book.add_photo(two[n], jpeg((100 + m, 80)), view=view, by="M1")
    rows = {view: [bool(p) for p in row] for view, row in photos_of(side_by_side(two), book)}
    assert next(iter(rows)) == "as taken"
    beside = {"as taken": [True, True], "as taken, 2": [True, False]}
    assert rows == beside | {"top": [True, False], "04 Mar, at the window": [False, True]}


def test_the_frame_has_each_difference(bun):
    frame = side_by_side([bakes(bun, B), bakes(bun.vary(butter=20), A)]).to_frame().set_index("what")
    row = frame.loc["height"]
    assert row["unsalted butter 20 %: difference"] == pytest.approx(1.5)


def test_height_over_diameter_and_loss_are_compared(bun):
    """By hand: 42 / 84 = 0.5; 83 g raw (60 + 22 + 1 of wash) and 74.7 g baked lose 10 %."""
    trial = Trial.of(
        "bun", "2025-03-04", formula=bun, height=42, diameter=84, piece_mass=60, topping_mass=22, baked_mass=74.7
    )
    found = side_by_side([trial, trial.with_entry("name", "other")])
    assert response(found, "height_over_diameter").means[0] == pytest.approx(0.5)
    assert response(found, "bake_loss").means[0] == pytest.approx(10)


def test_the_invented_year(year):
    """Forty trials with gaps, one corrected, several repeated, four days of pairs."""
    assert len(year) == 40
    assert all(trial.invented for trial in year)
    by_name = {key: list(some) for key, some in itertools.groupby(sorted(year, key=lambda t: t.name.partition(":")[2]),
                                                                 key=lambda t: t.name.partition(":")[2])}  # fmt: skip
    plain, rich = by_name[" crackle bun"], by_name[" butter 24"]
    found = side_by_side([plain, rich], kitchen=year)
    assert [row.what for row in found.planned] == ["unsalted butter"]
    assert {
        each.difference.n
        for row in found.responses
        for each in row.against
        if each.difference and each.difference.p is not None
    } == {4}
    for name in ("height", "bake_loss", "crumb dent day 1"):
        assert repeat_scatter(year, name).df > 8


def test_more_than_two_stand_in_figures_and_what_is_beyond_repeats_in_words():
    """Repeats 41, 42 and 43 scatter by 1 (2 degrees of freedom): two bakes differ by up to 6.1 mm (t table)."""
    bad = "<b>hot</b>"
    plans = (("first", 180, 40), ("again", 180, 42), (bad, 200, 70))
    three = [
        Trial.of(name, f"2025-03-0{n}", planned_oven_set=oven, height=height)
        for n, (name, oven, height) in enumerate(plans, 1)
    ]
    repeats = [Trial.of("repeat", f"2025-04-0{day}", planned_oven_set=180, height=40 + day) for day in (1, 2, 3)]
    found = side_by_side(three, kitchen=repeats)
    assert [each.beyond for each in response(found, "height").against[1:]] == [False, True]
    (label, cells) = next(row for row in found.sections()[4][1] if row[0][0] == "height, mm")
    assert label[1] == "±6.1, 1 read"
    assert cells == ["40.0", "42.0 (+2.0)", "70.0 (+30.0) \u25b2"]
    assert (
        found.words
        == f"Against first you can tell: {bad} higher by 30.0 mm. Of the others nothing you could tell: again."
    )
    html = found._repr_html_()
    assert "&lt;b&gt;hot&lt;/b&gt;" in html
    assert "<b>hot" not in html


def test_limits_are_ordered_as_figures_not_as_text():
    """By hand: s = 2, t(.975, 2) = 4.303: single bakes differ by up to 12.2 mm, one and eight by 9.1."""

    def baked(oven, heights):
        return [
            Trial.of(f"{oven} degC", f"2025-03-{n:02d}", planned_oven_set=oven, height=height)
            for n, height in enumerate(heights, 1)
        ]

    repeats = baked(180, (40, 42, 44))
    found = side_by_side([repeats[0], baked(200, [41])[0], baked(220, [41] * 8)], kitchen=repeats)
    assert "±9.1 to 12.2" in found._repr_html_()


@pytest.mark.parametrize(
    "call", [lambda: side_by_side([1, 2]), lambda: side_by_side("ab"),
             lambda: bakes_of("x"), lambda: calibrate([1, 2]), lambda: lineage([1])],
)  # fmt: skip
def test_what_is_no_trial_is_refused_in_words(call):
    with pytest.raises(TrialError, match=r"^'.+' must be .+ \(got .+\); take them from the book"):
        call()


def test_a_crust_weighed_off_its_plan_is_no_repeat_and_is_told(bun):
    """By hand: half of the crust's sugar, in one of two bakes that were planned alike."""
    one, other = (trial.with_entry("flour weighed", 1000) for trial in bakes(bun, [42, 43]))
    sugar = other.batch.grams["topping", bun.ingredients.find("icing sugar")]
    off = other.with_entry("weighed topping icing sugar", sugar / 2)
    found = side_by_side([one, off])
    assert [(row.what, row.cells()) for row in found.unplanned] == [
        ("icing sugar weighed for the topping", ["94", "47"])
    ]
    assert "so it is no repeat" in found.words
    assert repeat_scatter([one, other], "height").df == 1
    assert repeat_scatter([one, off], "height") is None


def test_what_a_kitchen_notes_of_its_own_is_laid_side_by_side_too(bun):
    """By hand: 5 mm of shine less 3; words stand among what is written down."""
    one, other = (
        trial.with_entry("own shine, mm", shine).with_entry("own smell", smell)
        for trial, shine, smell in zip(bakes(bun, [42, 43]), (3, 5), ("of malt", "of butter"), strict=True)
    )
    found = side_by_side([one, other])
    row = response(found, "own shine, mm")
    assert (row.unit, row.means, row.against[1].difference.value) == ("mm", (3, 5), 2)
    assert "shine higher by 2.00 mm" in found.words
    assert (("smell",), ["of malt", "of butter"]) in dict(found.sections())["written down"]
