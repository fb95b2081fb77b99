"""What every run shares: the last line counts and names what was left out, so that nothing is left out unseen."""

import os
from collections import Counter

import pytest

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # benchmarks: two threads of one product only wait for each other

ELSEWHERE = {
    "browser": "browser test", "packaging": "packaging test", "benchmark": "benchmark", "server": "server test",
    "long": "long test",
}  # fmt: skip
_left_out: list[pytest.Item] = []


def pytest_addoption(parser):
    parser.addoption("--short", action="store_true", help="benchmarks: fewer rounds, to see only that they run")


@pytest.fixture(scope="session")
def short(request) -> bool:
    """Whether a benchmark should only show that it runs."""
    return request.config.getoption("--short")


@pytest.fixture(scope="session")
def full() -> bool:
    """Whether what is killed, written at once and drawn runs in full size: KIT_TEST_FULL=1."""
    return os.environ.get("KIT_TEST_FULL") == "1"


def pytest_deselected(items):
    _left_out.extend(items)


def left_out_line(items) -> str:
    """The line which counts the tests left for `.ci/run` and names their files; empty when there are none."""
    groups = []
    for marker, name in ELSEWHERE.items():
        files = Counter(item.nodeid.split("::")[0] for item in items if item.get_closest_marker(marker))
        if files:
            listed = ", ".join(f"{file} {count}" for file, count in sorted(files.items()))
            groups.append(f"{files.total()} {name}{'s' * (files.total() != 1)} ({listed})")
    return "deselected here, run by .ci/run: " + ", ".join(groups) if groups else ""


# Outermost, so that the line comes after pytest's own last one.
@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_sessionfinish(session):
    result = yield
    line = left_out_line(_left_out)
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if line and reporter:
        reporter.write_line(line)
    return result
