"""Fixtures that several test files share, and how hypothesis runs."""

import datetime as dt
import gc
import locale
import os
import signal
import sys
from pathlib import Path

# Before NumPy is loaded: tests run in two processes, whose matrices are small.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# A run that was started in the background ignores Ctrl-C. Libraries that stop kernels restore
# Python's own answer, which would look like a test that leaves something behind.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

import pytest
import records
from hypothesis import HealthCheck, settings

HERE = Path(__file__).parent
collect_ignore = [
    str(path.relative_to(HERE))
    for path in HERE.rglob("*.py")
    if not path.name.startswith(("test_", "conftest"))
]
"""Scripts and helpers, which `--doctest-modules` would import to look for examples."""

# Where `CI` is set, the same examples are drawn in every run: a change is never held up by an
# example that has nothing to do with it. Anywhere else they are new ones each time.
settings.register_profile(
    "climwin",
    deadline=None,
    derandomize=bool(os.environ.get("CI")),
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],  # on a busy machine
)
settings.register_profile("quick", settings.get_profile("climwin"), max_examples=10)
settings.load_profile("climwin")  # `make quick` names the other on the command line


LONGEST = [
    HERE / f"{name}.py"
    for name in (
        "widgets/test_browser",
        "notebooks/test_notebooks",
        "test_benchmarks",
        "test_faults",
        "stations/test_history",
        "batch/test_run",
    )
]
"""Files that take about a minute each."""


def pytest_collection_modifyitems(items):
    """Where two processes share the files, begin with the longest, so that both end together."""
    if "PYTEST_XDIST_WORKER" in os.environ:
        items.sort(key=lambda item: item.path not in LONGEST)


def pytest_collection_finish():
    """Look for rubbish less often: what was collected, and all modules, stay to the end.

    Python's own threshold makes the garbage collector walk through thousands of tests again and
    again, a tenth of the whole run.
    """
    gc.freeze()
    gc.set_threshold(100_000)


def _state_of_the_process():
    """What a test could change for all tests after it, of what is loaded."""
    state = {
        **os.environ,
        "CLIMWIN_DATA": os.environ.get("CLIMWIN_DATA"),
        "PYTEST_CURRENT_TEST": None,
        "folder": str(Path.cwd()),
        "locale": locale.setlocale(locale.LC_ALL),
        "answer to Ctrl-C": signal.getsignal(signal.SIGINT),
    }
    if "numpy" in sys.modules:
        state["numpy's answer to errors"] = sys.modules["numpy"].geterr()
    if "matplotlib" in sys.modules:
        # As a plain dictionary takes them: asked one by one, each is looked up and checked.
        state["matplotlib's settings"] = dict.copy(sys.modules["matplotlib"].rcParams)
    if "dask" in sys.modules:
        state["dask's scheduler"] = sys.modules["dask"].config.get("scheduler", None)
    return state


@pytest.fixture(autouse=True)
def _leaves_nothing_behind():
    """A test that changes the process fails itself, not the one that happens to run after it."""
    before = _state_of_the_process()
    yield
    after = _state_of_the_process()
    # What is new is left aside: libraries set variables of their own when they are first imported.
    changed = {
        name: (value, after.get(name)) for name, value in before.items() if after.get(name) != value
    }
    assert not changed


@pytest.fixture(scope="session")
def albany():
    return records.albany()


@pytest.fixture(scope="session")
def clemson():
    return records.clemson()


@pytest.fixture(scope="session")
def tunis():
    return records.aquacrop("tunis")


@pytest.fixture(scope="session")
def champion():
    return records.aquacrop("champion")


@pytest.fixture(scope="session")
def brussels():
    return records.aquacrop("brussels")


@pytest.fixture(scope="session")
def kept_station(tmp_path_factory):
    """The file of PLB01 as the store keeps it: ten invented years."""
    from standin import StandIn, pointed_at

    from climwin.stations.history import fetch_history

    where = tmp_path_factory.mktemp("kept")
    with StandIn(today=dt.date(2024, 9, 10)) as server, pointed_at(server):
        fetch_history("PLB01", 2001, 2010, where=where)
    return (where / "station-PLB01.nc").read_bytes()


@pytest.fixture(scope="session")
def pellbrook():
    """Report on the invented sample, as the demo makes it."""
    import climwin as cw
    from climwin.io.samples import sample

    crop = cw.crop("cauliflower")
    plans = [cw.Plan(crop, "03-05", 6, "cold frame"), cw.Plan(crop, "04-20")]
    garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)
    return cw.garden_report(garden, cw.read_daily(sample()), plans=plans)


@pytest.fixture(scope="session")
def pellbrook_page(pellbrook, tmp_path_factory):
    """The page of that report, with its notebook and its record beside it; not to be written to."""
    import climwin as cw

    target = tmp_path_factory.mktemp("page") / "page.html"
    return cw.write_page(pellbrook, target, made="2026-11-25", notebook=True)


@pytest.fixture(scope="module")
def browser():
    """Chromium without a window."""
    from desk import CHROMIUM, chromium

    if CHROMIUM is None and os.environ.get("CI") == "true":
        pytest.fail("Chromium is not installed here; .ci/run installs it")
    if CHROMIUM is None:
        pytest.skip("Chromium is not installed here (Debian: apt-get install chromium)")
    with chromium() as started:
        yield started
