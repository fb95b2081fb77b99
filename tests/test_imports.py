"""The house: imports go down only, and importing kit stays cheap."""

import json
import subprocess
import sys
from pathlib import Path

from importlinter.cli import lint_imports

CHECKOUT = Path(__file__).resolve().parent.parent
# Each of these costs a tenth of a second or more; they are loaded by the step that needs them.
HEAVY = {"pint", "pandas", "matplotlib", "scipy", "ipywidgets", "IPython"}


def test_the_contracts_of_the_house_hold():
    assert lint_imports(config_filename=str(CHECKOUT / "pyproject.toml"), no_cache=True) == 0


def test_importing_kit_loads_nothing_heavy():
    code = "import json, sys, kit; print(json.dumps(sorted({name.split('.')[0] for name in sys.modules})))"
    run = subprocess.run([sys.executable, "-c", code], cwd=CHECKOUT, capture_output=True, text=True, check=True)
    loaded = set(json.loads(run.stdout))
    assert "kit" in loaded
    assert not loaded & HEAVY
