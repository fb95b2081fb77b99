"""The tree of variants: generations across, leaves down, whatever is odd about the parents."""

from hypothesis import given
from hypothesis import strategies as st

from kit.trials import Trial, lineage
from tests.laws import drawn


@given(st.lists(st.integers(0, 30), max_size=30))
@drawn(60)
def test_laws_of_the_tree(choices):
    """A law: no source. Children stand one to the right, no two nodes on one spot, parents amid their children."""
    trials = []
    for n, choice in enumerate(choices):
        parent = trials[choice % n] if n and choice % 4 else None
        trials.append(Trial.of(f"t{n}", "2025-03-04", parent=parent))
    tree = lineage(trials)
    spot = {node.key: node for node in tree.nodes}
    assert len({(n.x, n.y) for n in tree.nodes}) == len(trials)
    assert len(tree.edges) == sum(bool(t.parent) for t in trials)
    for origin, child in tree.edges:
        assert spot[child].x == spot[origin].x + 1
        below = [spot[c].y for o, c in tree.edges if o == origin]
        assert min(below) <= spot[origin].y <= max(below)
    assert tree.height == sum(all(origin != key for origin, _ in tree.edges) for key in spot)


def test_circles_strangers_and_long_chains():
    one = Trial.of("one", "2025-03-04")
    two = Trial.of("two", "2025-03-04", parent=one)
    tree = lineage([one.with_entry("parent", two), two])
    assert len(tree.edges) == 1
    assert lineage([Trial.of("x", "2025-03-04", parent="0" * 32)]).edges == ()
    chain = [one]
    for n in range(3000):
        chain.append(Trial.of(str(n), "2025-03-04", parent=chain[-1]))
    assert lineage(chain).width == 3001
    assert lineage([]).nodes == ()


def test_the_invented_year(year):
    tree = lineage(year)
    assert {node.label: node.x for node in tree.nodes}["T-001 Crackle bun, first bake of the year"] == 0
    assert len(tree.edges) >= 25
    assert list(tree.to_frame().columns) == ["key", "label", "parent", "x", "y"]
    assert "<script" not in lineage([Trial.of("<script>", "2025-03-04")])._repr_html_()
