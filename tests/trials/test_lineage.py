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
    nodes = lineage(reversed(trials)).nodes
    place = {node.key: n for n, node in enumerate(nodes)}
    assert len(place) == len(nodes) == len(trials)
    assert {node.key: node.parent for node in nodes} == {trial.key: trial.parent or "" for trial in trials}
    for n, node in enumerate(nodes):
        if node.parent:
            above = place[node.parent]
            assert node.generation == nodes[above].generation + 1
            assert above < n
            assert all(between.generation >= node.generation for between in nodes[above + 1 : n])
        else:
            assert node.generation == 0


def test_circles_strangers_and_long_chains():
    one = Trial.of("one", "2025-03-04")
    two = Trial.of("two", "2025-03-04", parent=one)
    tree = lineage([one.with_entry("parent", two), two])
    assert [(node.label, node.parent, node.generation) for node in tree.nodes] == [("one", "", 0), ("two", one.key, 1)]
    assert [node.parent for node in lineage([Trial.of("x", "2025-03-04", parent="0" * 32)]).nodes] == [""]
    chain = [one]
    for n in range(3000):
        chain.append(Trial.of(str(n), "2025-03-04", parent=chain[-1]))
    assert lineage(chain).nodes[-1].generation == 3000
    assert lineage([]).nodes == ()
    assert "enter one" in lineage([]).words


def test_the_invented_year(year):
    tree = lineage(year)
    assert {node.label: node.generation for node in tree.nodes}["T-001 Crackle bun, first bake of the year"] == 0
    assert sum(bool(node.parent) for node in tree.nodes) >= 25
    assert list(tree.to_frame().columns) == ["key", "label", "parent", "generation"]
    assert "<script" not in lineage([Trial.of("<script>", "2025-03-04")])._repr_html_()


def test_what_came_of_a_trial_is_set_in_beneath_it_with_its_decision():
    plain = Trial.of("plain", "2025-03-04", verdict="keep", reason="softer on day 2")
    rich = Trial.of("rich", "2025-03-05", parent=plain)
    ((_, rows),) = lineage([rich, plain]).tables()
    assert rows == [["plain", "keep: softer on day 2"], ["\u2003rich", ""]]
