"""The tree of variants as an outline, whatever is odd about the parents."""

from hypothesis import given
from hypothesis import strategies as st

from kit.trials import Trial, lineage
from tests.laws import drawn


@given(st.lists(st.integers(0, 30), max_size=30))
@drawn(60)
def test_laws_of_the_tree(choices):
    """A law: no source. Each trial once, one generation after its parent, and nothing between but its brood."""
    trials = []
    for n, choice in enumerate(choices):
        parent = trials[choice % n] if n and choice % 4 else None
        trials.append(Trial.of(f"t{n}", "2025-03-04", parent=parent))
    branches = lineage(reversed(trials)).branches
    place = {trial.key: n for n, (trial, _) in enumerate(branches)}
    assert len(place) == len(branches) == len(trials)
    for n, (trial, generation) in enumerate(branches):
        if trial.parent:
            above = place[trial.parent]
            assert generation == branches[above][1] + 1
            assert above < n
            assert all(between >= generation for _, between in branches[above + 1 : n])
        else:
            assert generation == 0


def test_circles_strangers_and_long_chains():
    one = Trial.of("one", "2025-03-04")
    two = Trial.of("two", "2025-03-04", parent=one)
    tree = lineage([one.with_entry("parent", two), two])
    assert [(trial.name, generation) for trial, generation in tree.branches] == [("one", 0), ("two", 1)]
    assert [generation for _, generation in lineage([Trial.of("x", "2025-03-04", parent="0" * 32)]).branches] == [0]
    chain = [one]
    for n in range(3000):
        chain.append(Trial.of(str(n), "2025-03-04", parent=chain[-1]))
    assert lineage(chain).branches[-1][1] == 3000
    assert lineage([]).branches == ()
    assert "enter one" in lineage([]).words


def test_the_invented_year(year):
    tree = lineage(year)
    told = tree.to_frame().set_index("trial")["generation"]
    assert told["T-001 Crackle bun, first bake of the year"] == 0
    assert (told > 0).sum() >= 25
    assert "<script" not in lineage([Trial.of("<script>", "2025-03-04")])._repr_html_()


def test_what_came_of_a_trial_is_set_in_beneath_it_with_its_decision():
    plain = Trial.of("plain", "2025-03-04", verdict="keep", reason="softer on day 2")
    rich = Trial.of("rich", "2025-03-05", parent=plain)
    ((_, rows),) = lineage([rich, plain]).tables()
    assert rows == [["plain", "keep: softer on day 2"], ["\u2003rich", ""]]
