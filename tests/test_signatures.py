"""The words a baker types: few, each with its types, its units and an example, and nothing else typed anywhere.

Common practice, no source: the house's own rules.
"""

import ast
import inspect
import json
import re
from pathlib import Path

import pytest

import kit
from kit import Formula

ROOT = Path(__file__).parents[1]
FUNCTIONS = [name for name in kit.__all__ if inspect.isfunction(getattr(kit, name))]
METHODS = ["read", "parse", "from_text", "from_weights", "vary", "swap", "with_preferment", "scale", "keep", "save"]
PUBLIC = [
    *((name, getattr(kit, name)) for name in FUNCTIONS),
    *((f"Formula.{n}", getattr(Formula, n)) for n in METHODS),
]


def typed():
    """Every `kit.word` and `kit.show.Word` that a notebook or the README types."""
    texts = [(ROOT / "README.md").read_text(encoding="utf-8")]
    for path in (ROOT / "notebooks").glob("*.ipynb"):
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        texts += ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "code"]
    return "\n".join(texts)


def test_few_words():
    assert len(kit.__all__) <= 30
    assert len(kit.show.__all__) <= 16


def test_nothing_else_is_typed():
    text = typed()
    assert re.findall(r"^\s*from kit\b.*|^\s*import kit\..*", text, re.M) == []
    words = set(re.findall(r"\bkit\.(\w+)", text))
    assert words <= set(kit.__all__)
    assert set(re.findall(r"\bkit\.show\.(\w+)", text)) <= set(kit.show.__all__)
    assert len(words) > 10


def names_of_the_code():
    found = set()
    for path in (ROOT / "kit").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                found.add(node.name)
            elif isinstance(node, ast.arg):
                found.add(node.arg)
            if isinstance(node, ast.ClassDef):
                fields = [each.target for each in node.body if isinstance(each, ast.AnnAssign)]
                found |= {target.id for target in fields if isinstance(target, ast.Name)}
    return found


def test_one_name_a_thing():
    """The glossary of DEVELOPERS.md: its names are used, and what it says never to write is no name of the code."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## One name a thing")[2].partition("## ")[0]
    rows = [line.strip("| ").split(" | ") for line in text.splitlines() if line.startswith("| `")]
    used, never = (set(re.findall(r"`(\w+)`", " ".join(row[n] for row in rows))) for n in (0, 2))
    names = names_of_the_code()
    assert used - names == set()
    assert never & names == set()
    assert len(never) > 20


@pytest.mark.parametrize(("name", "function"), PUBLIC, ids=[name for name, _ in PUBLIC])
def test_what_is_asked_of_a_word_stands_on_shift_tab(name, function):
    asked = inspect.signature(function)
    own = [each for each in asked.parameters.values() if each.name not in ("self", "formula") or name in FUNCTIONS]
    assert [each.name for each in own if each.annotation is inspect.Parameter.empty] == []
    assert asked.return_annotation is not inspect.Signature.empty
    said = inspect.getdoc(function) or ""
    assert said.split("\n\n")[0].count("\n") <= 1, "its first sentence is a line or two"
    assert re.search(r"\[.+?\]|count", said), "no unit"
    assert "eturn" in said
    assert ">>> " in said, "no example"
    missing = [each.name for each in own if not re.search(rf"\b{each.name}\b", said)]
    assert missing == [], "parameters that the text does not name"
