"""The notebooks as committed: run from top to bottom, without logic in a cell. `.ci/run` runs them again with nbval."""

import ast

import nbformat
import pytest

from kit import places

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


@every_notebook
def test_code_and_printed_words_fit_a_tablet_held_upright(path):
    """Measured in JupyterLab at 820 px: 81 letters of code are wide; a longer printed line breaks within a word."""
    printed = [
        "".join(output.text) for cell in code_cells(path) for output in cell.outputs if output.output_type == "stream"
    ]
    lines = [line for text in (*(cell.source for cell in code_cells(path)), *printed) for line in text.splitlines()]
    assert [line for line in lines if len(line) > 81] == []
