"""The notebooks as committed: pages that lead with a picture, run from top to bottom, without logic in a cell.

`.ci/run` runs them again with nbval, and measures them in JupyterLab: see tests/browser/test_house.py.
"""

import ast
import re

import nbformat
import pytest

import kit
import kit.show
from kit import places
from kit.show.still import OPENS

NOTEBOOKS = sorted(path for path in places.notebooks().rglob("*.ipynb") if ".ipynb_checkpoints" not in path.parts)
# Cells import, build, call and show; a loop or a branch is logic, in an expression too.
ALLOWED = (ast.Import, ast.ImportFrom, ast.Assign, ast.Expr)
LOGIC = (ast.Lambda, ast.IfExp, ast.ListComp, ast.SetComp, ast.DictComp, ast.GeneratorExp, ast.NamedExpr)


def logic_in(source: str) -> list[str]:
    """The kinds of statements and expressions in a cell that belong into kit."""
    tree = ast.parse(source)
    found = [node for node in tree.body if not isinstance(node, ALLOWED)]
    found += [node for node in ast.walk(tree) if isinstance(node, LOGIC)]
    return [f"{type(node).__name__} in line {node.lineno}" for node in found]


def code_cells(path):
    cells = nbformat.read(path, as_version=4).cells
    return [cell for cell in cells if cell.cell_type == "code" and cell.source.strip()]


def outputs(path):
    """Each output of a page with the cell that shows it."""
    return [(cell, output) for cell in code_cells(path) for output in cell.outputs]


def shown(output):
    return "".join(output.get("data", {}).get("text/html", ""))


every_notebook = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


@pytest.mark.parametrize("source", ["import kit\nbun = kit.Formula.read('x')\nbun.vary(butter=[1, 2])\nbun", "'text'"])
def test_a_plain_cell_has_no_logic(source):
    assert logic_in(source) == []


@pytest.mark.parametrize(
    "source",
    ["def f(): pass", "for x in y: x", "if x: y", "while x: y", "class A: pass", "try: x\nfinally: y", "with x: y",
     "[x for x in y]", "f(lambda: 1)", "x if y else z"],
)  # fmt: skip
def test_logic_is_seen(source):
    assert len(logic_in(source)) == 1


@every_notebook
def test_cells_only_import_build_call_and_show(path):
    assert {number: found for number, cell in enumerate(code_cells(path)) if (found := logic_in(cell.source))} == {}


@every_notebook
def test_was_run_once_from_top_to_bottom(path):
    cells = code_cells(path)
    assert [cell.execution_count for cell in cells] == list(range(1, len(cells) + 1))


@every_notebook
def test_shows_no_error_and_no_warning(path):
    outputs = [output for cell in code_cells(path) for output in cell.outputs]
    assert [output for output in outputs if output.output_type == "error" or output.get("name") == "stderr"] == []


@every_notebook
def test_keeps_no_widget_state_and_names_the_plain_kernel(path):
    metadata = nbformat.read(path, as_version=4).metadata
    assert "widgets" not in metadata
    assert metadata.kernelspec.name == "python3"
    assert "widget-view" not in path.read_text(encoding="utf-8")


@every_notebook
def test_a_page_leads_with_its_title_how_to_begin_and_a_panel_s_picture(path):
    first, second = nbformat.read(path, as_version=4).cells[:2]
    assert re.match(r"# .+\n\nPress \*\*▶▶\*\* in the bar above[,.]", first.source)
    assert [output.data["text/plain"] for output in second.outputs] == [OPENS]


@every_notebook
def test_code_is_folded_and_short_when_unfolded(path):
    cells = code_cells(path)
    assert [cell.source for cell in cells if cell.metadata.get("jupyter", {}).get("source_hidden") is not True] == []
    assert [cell.source for cell in cells if len(cell.source.splitlines()) > 8] == []
    assert re.findall(r"\b(?:print|fill|wrap|mkdtemp)\(|NBVAL\w+", "\n".join(cell.source for cell in cells)) == []


@every_notebook
def test_every_panel_shows_a_picture_with_words(path):
    made = [cell for cell in code_cells(path) if re.search(r"kit\.show\.\w+(Panel|Card|View|Picture)\(", cell.source)]
    assert made
    for cell in made:
        (output,) = cell.outputs
        assert output.data["text/plain"] == OPENS
        assert re.findall(r"<(?:svg|style|script|input)\b", shown(output)) == []
    pictures = [tag for _, output in outputs(path) for tag in re.findall(r"<img [^>]*>", shown(output))]
    assert [tag[:80] for tag in pictures if len(re.search(r'alt="([^"]*)"', tag)[1]) < 20] == []


@every_notebook
def test_no_picture_stands_twice(path):
    found = [data for _, output in outputs(path) for data in re.findall(r"base64,([^\"]+)", shown(output))]
    assert len(found) == len(set(found))


@every_notebook
def test_the_cautions_stand_once_at_the_end(path):
    listed = [cell for cell, output in outputs(path) if 'aria-label="Cautions"' in shown(output)]
    assert listed == code_cells(path)[-1:]
    cells = nbformat.read(path, as_version=4).cells
    assert "## Cautions" in cells[cells.index(listed[0]) - 1].source.splitlines()


@every_notebook
def test_what_is_shown_in_plain_letters_is_run_again_and_compared(path):
    plain = [cell for cell, output in outputs(path) if not set(output.get("data", {})) - {"text/plain"}]
    assert [cell.source for cell in plain if "nbval-check-output" not in cell.metadata.get("tags", ())] == []


@every_notebook
def test_only_words_that_the_kit_offers_are_typed(path):
    told = "\n".join(cell.source for cell in nbformat.read(path, as_version=4).cells)
    assert set(re.findall(r"\bkit\.show\.(\w+)", told)) <= set(kit.show.__all__)
    assert set(re.findall(r"\bkit\.(\w+)", told)) <= set(kit.__all__)
    assert set(re.findall(r"^(?:import|from) (\w+)", told, re.M)) <= {"kit", "pandas"}


@every_notebook
def test_a_page_is_read_in_a_few_minutes(path):
    """Words of ours, the cautions' list apart; a reader does some 200 to 250 a minute (common practice, no source)."""
    prose = [cell.source for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "markdown"]
    assert len(" ".join(prose).split()) <= 330


@every_notebook
def test_code_and_printed_words_fit_a_tablet_held_upright(path):
    """Measured in JupyterLab at 820 px: 81 letters of code are wide; a longer printed line breaks within a word."""
    printed = [
        "".join(output.text) for cell in code_cells(path) for output in cell.outputs if output.output_type == "stream"
    ]
    lines = [line for text in (*(cell.source for cell in code_cells(path)), *printed) for line in text.splitlines()]
    assert [line for line in lines if len(line) > 81] == []


@every_notebook
def test_every_page_that_is_named_is_there(path):
    told = "\n".join(cell.source for cell in nbformat.read(path, as_version=4).cells)
    told += "".join(shown(output) for _, output in outputs(path))
    assert {name for name in re.findall(r"\b(\w+\.ipynb)\b", told) if not path.with_name(name).is_file()} == set()
