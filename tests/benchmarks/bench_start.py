"""How long it takes until something is there: the import, the command's help, the first picture."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator

from race import Row, race

PICTURE = """
import climwin as cw
from climwin.plot.summary import plot_summary
crop = cw.crop("cauliflower")
garden = cw.Garden("Pellbrook", 46.1, 7.2, 640)
plans = [cw.Plan(crop, "03-05", 6, "cold frame"), cw.Plan(crop, "04-20")]
report = cw.garden_report(garden, cw.read_daily(cw.sample()), plans=plans)
plot_summary(report).savefig({path!r})
"""
BARE = """
import numpy, pandas, xarray, matplotlib.figure
xarray.Dataset({{"any": ("x", [1.0])}})  # takes dask along where it is installed
from matplotlib.backends.backend_agg import FigureCanvasAgg
matplotlib.figure.Figure().savefig({path!r})
"""


def python(code: str) -> None:
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)


def rows(quick: bool = False) -> Iterator[Row]:
    """Fresh interpreters, turn by turn."""
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as folder:
        path = f"{folder}/picture.png"
        ways = {
            "nothing": lambda: python("pass"),
            "argparse": lambda: python("import argparse"),
            "xarray": lambda: python("import xarray"),
            "climwin": lambda: python("import climwin"),
            "help": lambda: python(
                "import sys; sys.argv[1:] = ['--help']; import climwin.__main__"
            ),
            "bare": lambda: python(BARE.format(path=path)),
            "picture": lambda: python(PICTURE.format(path=path)),
        }
        times = race(ways, 1 if quick else 7)
    yield Row(
        "import climwin", "import xarray", times["climwin"], times["xarray"], 1.3, at_most=True
    )
    yield Row(
        "climwin --help", "import argparse", times["help"], times["argparse"], 1.3, at_most=True
    )
    yield Row("import climwin", "Python itself", times["climwin"], times["nothing"], at_most=True)
    note = "it reads and checks 30 years, measures them, and draws two axes"
    first, bare = times["picture"], times["bare"]
    yield Row("first picture", "an empty picture", first, bare, 1.3, at_most=True, note=note)
