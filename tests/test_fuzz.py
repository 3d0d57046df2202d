"""Every reader against files that went wrong: a right answer, or one error that names the file.

Random bytes stand in the tests of each reader. Here whole files are spoiled as people and programs
do it: cut, lines swapped or twice, cells gone or huge, other line ends, encodings and marks.
"""

import json
import re
import subprocess
import sys
import time
import warnings
from pathlib import Path

import netCDF4
import numpy as np
import pytest
from house import SOURCES
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from written import FORMS, dly

from climwin.batch.stations import read_stations
from climwin.core.errors import RecordError
from climwin.crops.catalogue import read_crop
from climwin.io.daily import read_daily
from climwin.io.loggers import read_logger
from climwin.io.structured import LARGEST
from climwin.page.club_file import read_club
from climwin.trials.analysis import read_trial, trial_result
from climwin.trials.sowings import read_sowings

SAMPLES = Path(__file__).parents[1] / "data_samples"


def sample(name, lines=60):
    """The first lines of an invented sample."""
    return b"".join((SAMPLES / name).read_bytes().splitlines(keepends=True)[:lines])


ROW = "PL000000001,200105{:02d},{},{},,,S,\n"
SEEDS = {
    "daily": [
        sample("pellbrook_valley.csv"),
        b"Date;Min Temp (\xb0C);Max Temp (\xb0C);Rain\n3.5.2001;3,5;14;T\n4.5.2001;-1,2;11;0,3\n",
        b"year month day tmin tmax\n2001 5 3 3.8 15\n2001 5 4 3.9 16\n",
        b'"STATION","DATE","TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"\n'
        b'"A","2001-05-03","140",",,S","35",",,S"\n"A","2001-05-04","160",",,S","31",",D,S"\n',
    ],
    "dly": ["\n".join(dly(e, [(35, " "), (41, "S")]) for e in ("TMIN", "TMAX", "PRCP")).encode()],
    "by station": [
        "".join(ROW.format(d, e, 30 + d) for d in (3, 4) for e in ("TMIN", "TMAX")).encode()
    ],
    "logger": [
        sample("frame_logger.csv"),
        *(text if isinstance(text, bytes) else text.encode() for text in FORMS.values()),
    ],
    "trial": [sample("bed_trial.csv")],
    "sowings": [sample("past_sowings.csv")],
    "stations": [
        b"station,name,latitude,longitude,elevation,record,units\n"
        b'A1,"Pellbrook, upper",46.1,7.2,640,a.csv,C\nB2,,46.2,7.3,,,\nC3,,-46.2,7.3,,b.csv,F\n'
    ],
    "crop": [sample("own_crop.toml", 999)],
    "club": [sample("club.toml", 999)],
}


def whole_trial(path):
    trial = read_trial(path)
    assert not trial.duplicated(["block", "treatment"]).any()
    responses = [name for name in ("heads", "weight_g") if name in trial]
    if responses and trial[responses[0]].notna().all() and trial["block"].nunique() > 1:
        assert 0 <= float(trial_result(trial, responses[0])["p"].max()) <= 1


def checked_daily(path):
    daily = read_daily(path)
    assert (np.diff(daily["time"]) == np.timedelta64(1, "D")).all()
    assert (
        not np.isinf(daily[[name for name in ("tmin", "tmax") if name in daily]])
        .any()
        .to_array()
        .any()
    )


def checked_logger(path):
    logger = read_logger(path)
    assert (np.diff(logger["time"]) > np.timedelta64(0, "s")).all()
    assert np.isfinite(logger["temperature"]).all()


READERS = {
    "daily": checked_daily,
    "dly": checked_daily,
    "by station": checked_daily,
    "logger": checked_logger,
    "trial": whole_trial,
    "sowings": read_sowings,
    "stations": read_stations,
    "crop": read_crop,
    "club": read_club,
}

# --- how files go wrong -------------------------------------------------------------------

PIECES = [
    *(b"", b"\0", b"\r", b"\n", b"\r\n", b"\x1a", b"\x0b", b"\x0c", b"\xef\xbb\xbf", b"\xff\xfe"),
    *(b"\xb0", b"\xc3", b"\xe2\x88\x92", b"\xe2\x80\xa8", b"\xc2\x85", b"\xed\xa0\x80"),
    *(b'"', b'""', b"'", b",", b";", b"\t", b"#", b"=", b"[", b"]]", b"{", b"\\", b"%s", b"../"),
    *(b"1e308", b"-1e308", b"1e999", b"nan", b"inf", b"-9999", b"9" * 400, b"0x1", b"1_0", b"-0"),
    *(
        b"1699-12-31",
        b"2200-12-31",
        b"0000-00-00",
        b"2001-02-29",
        b"29/02/2001",
        b"24:00",
        b"A" * 5000,
    ),
    *("\N{ARABIC-INDIC DIGIT FIVE}".encode(), b"=cmd()", b"<script>", b"CON", b"NaT", b"T"),
]
ENCODINGS = ["utf-16", "utf-32", "latin-1", "cp1252", "cp850", "utf-8-sig", "utf-7"]


def put(draw, raw):
    """A piece in place of some bytes."""
    at, gone = draw(st.integers(0, len(raw))), draw(st.integers(0, 30))
    return raw[:at] + draw(st.sampled_from(PIECES)) + raw[at + gone :]


def cell(draw, raw):
    """Another value in place of a number, a word or a quoted text."""
    cells = [*re.finditer(rb'[-+.\w]+|"[^"]*"', raw)]
    if not cells:
        return raw
    found = draw(st.sampled_from(cells))
    return raw[: found.start()] + draw(st.sampled_from(PIECES)) + raw[found.end() :]


def lines(draw, raw):
    """A line taken out, given twice, moved, cut, or joined with the next."""
    held = raw.splitlines(keepends=True) or [b""]
    a, b = draw(st.integers(0, len(held) - 1)), draw(st.integers(0, len(held) - 1))
    line = held[a]
    match draw(st.sampled_from(["out", "twice", "moved", "cut", "joined"])):
        case "out":
            held.pop(a)
        case "twice":
            held.insert(b, line)
        case "moved":
            held[a], held[b] = held[b], held[a]
        case "cut":
            held[a] = line[: draw(st.integers(0, len(line)))]
        case "joined":
            held[a] = line.rstrip(b"\r\n")
    return b"".join(held)


def ends(draw, raw):
    """Line ends of another system."""
    return raw.replace(b"\n", draw(st.sampled_from([b"\r\n", b"\r", b"\n\r", b"\n\n", b"\r\r\n"])))


def coded(draw, raw):
    """Text as another program saves it, or two halves in two ways."""
    text, coding = raw.decode("latin-1"), draw(st.sampled_from(ENCODINGS))
    half = draw(st.sampled_from([0, len(text) // 2]))
    return text[:half].encode("utf-8") + text[half:].encode(coding, "replace")


def marked(draw, raw):
    """Cells parted otherwise."""
    mark = draw(st.sampled_from([b";", b"\t", b" ", b", ", b"|"]))
    return raw.replace(b",", mark)


def stopped(draw, raw):
    """A copy that ended early."""
    return raw[: draw(st.integers(0, len(raw)))]


CHANGES = (put, cell, lines, ends, coded, marked, stopped)


@st.composite
def spoiled(draw, seeds):
    raw = draw(st.sampled_from(seeds))
    for change in draw(st.lists(st.sampled_from(CHANGES), min_size=1, max_size=4)):
        raw = change(draw, raw)
    return raw


def refusal(read, path):
    """What the reader says of a file it refuses; anything but our own error is a failure."""
    try:
        with warnings.catch_warnings(record=True) as heard:
            warnings.simplefilter("always")
            read(path)
    except RecordError as error:
        return str(error)
    left_out = [str(each.message) for each in heard if "left out" in str(each.message)]
    return left_out[0] if left_out else None


@pytest.mark.parametrize("kind", READERS)
def test_a_spoiled_file_is_read_right_or_refused_by_name(kind, tmp_path):
    path = tmp_path / "spoiled.txt"

    @settings(max_examples=200, suppress_health_check=[*HealthCheck])
    @given(spoiled(SEEDS[kind]))
    def check(raw):
        path.write_bytes(raw)
        told = refusal(READERS[kind], path)
        assert told is None or ("spoiled.txt" in told and len(told) < 3000)

    check()


@pytest.mark.parametrize("kind", READERS)
def test_the_seeds_themselves_are_read(kind, tmp_path):
    for seed in SEEDS[kind]:
        (tmp_path / "seed.txt").write_bytes(seed)
        units = {"units": "C"} if b"ATTRIBUTES" in seed else {}
        (read_daily if units else READERS[kind])(tmp_path / "seed.txt", **units)


@pytest.mark.parametrize("kind", READERS)
@pytest.mark.parametrize("coding", ["utf-16", "utf-16-le", "utf-32"])
def test_another_encoding_is_refused_and_what_to_do_is_said(kind, coding, tmp_path):
    path = tmp_path / "spoiled.txt"
    path.write_bytes(SEEDS[kind][0].decode("utf-8").encode(coding))
    told = refusal(READERS[kind], path)
    assert "spoiled.txt" in told
    assert re.search("Save it as (plain text|'CSV UTF-8')|Write key = value", told)


# --- what no program would write, but somebody might --------------------------------------

CELLS = {
    "date": [
        *("0000-01-01", "-0001-01-01", "1699-12-31", "2201-01-01", "9999-12-31"),
        *("292277026596-12-04", "2001-02-29", "NaT", "inf", "2001-05-\ufeff03"),
        "".join(chr(0x660 + int(c)) if c.isdigit() else c for c in "2001-05-03"),
    ],
    "number": [
        *("inf", "-Infinity", "1e999", "1e400", "9" * 5000, "0x10", "1_0", "3\ufeff.5", "1e-"),
        *(
            "\N{ARABIC-INDIC DIGIT THREE}",
            "\N{FULLWIDTH DIGIT THREE}",
            "\N{SUPERSCRIPT TWO}",
        ),
    ],
}
TABLES_OF = {
    "daily": "date,tmin,tmax\n{date},{number},15\n2001-05-04,3,16\n",
    "logger": "time,temperature\n{date} 10:00,{number}\n2001-05-04 11:00,4\n2001-05-04 12:00,4\n",
    "trial": "block,plot,treatment,planted,heads\n1,1,a,{date},{number}\n1,2,b,2001-05-03,4\n",
}


@pytest.mark.parametrize(
    ("kind", "what", "cell"),
    [(k, what, cell) for k in TABLES_OF for what in CELLS for cell in CELLS[what]],
)
def test_a_cell_that_is_no_date_or_number_is_refused_by_its_line(kind, what, cell, tmp_path):
    path = tmp_path / "odd.txt"
    path.write_text(TABLES_OF[kind].format(**{"date": "2001-05-03", "number": "3", what: cell}))
    told = refusal(READERS[kind], path)
    assert "odd.txt" in told
    assert "line 2" in told
    assert "Write them as" in told or "Correct them" in told


@pytest.mark.parametrize("kind", TABLES_OF)
@pytest.mark.parametrize("word", ["nan", "NaN", "NA", "null", "-9999", ""])
def test_words_for_missing_are_missing(kind, word, tmp_path):
    path = tmp_path / "odd.txt"
    path.write_text(TABLES_OF[kind].format(date="2001-05-03", number=word))
    assert refusal(READERS[kind], path) is None


HOSTILE_TOML = {
    "lists in lists": b"name = " + b"[" * 300_000,
    "tables in tables": b"name = " + b"{a=" * 100_000,
    "a long dotted key": b"a." * 400_000 + b"a = 1",
    "a long header": b"[" + b"a." * 400_000 + b"a]",
    "many dotted keys": b"".join(b"a." * 100 + b"b%d = 1\n" % n for n in range(4700)),
    "many dotted headers": b"".join(b"[" + b"a." * 100 + b"b%d]\n" % n for n in range(4600)),
    "lists in lists, line by line": b"name = " + b"[\n" * 300_000,
    "a number of 5000 digits": b"need_days = " + b"9" * 5000,
    "a number of 900,000 bits": b"need_days = 0x" + b"f" * 225_000,
    "no number": b"name = nan",
    "year 0": b"name = 0000-01-01",
    "year 9999": b"name = 9999-12-31T23:59:59Z",
    "a lone surrogate": b'name = "\\ud800"',
    "a surrogate's bytes": b"name = '\xed\xa0\x80'",
    "a mark in the middle": b"name = 'a'\n\xef\xbb\xbfcrop = 'b'",
    "zero bytes": b"name = 'a\0b'",
}


@pytest.mark.parametrize("what", HOSTILE_TOML)
@pytest.mark.parametrize("kind", ["crop", "club"])
def test_hostile_toml_is_refused_at_once(kind, what, tmp_path):
    path = tmp_path / "odd.toml"
    path.write_bytes(HOSTILE_TOML[what])
    began = time.process_time()
    told = refusal(READERS[kind], path)
    assert "odd.toml" in told
    assert len(told) < 3000
    assert time.process_time() - began < MOST_S


def test_no_reader_is_left_out():
    """Where the package opens a file, and which strategy above or below spoils such files."""
    opened = {
        "batch/checkpoint": None,  # its own parts of a run, whole or not there
        "batch/run": None,  # what it has just written
        "batch/stations": "stations",  # through `delimited`
        "cli/reading": "daily",
        "crops/catalogue": "crop",
        "io/delimited": "daily",
        "io/grids": "netCDF",
        "io/daily": "daily",
        "io/loggers": "logger",
        "io/files": "netCDF",
        "io/structured": "crop",
        "page/club_file": "club",
        "page/notebook": None,  # the package's own template
        "page/record_file": "netCDF",
        "stations/cache": "netCDF",
        "trials/analysis": "trial",
        "cli/writing": None,  # looks for the mark of a file that climwin wrote
        "report/sentences_caveats": None,  # words on a record that is in memory
        "trials/plausibility": "trial",
        "trials/sowings": "sowings",
    }
    opens = r"\.open\(|open_dataset\(|load_dataset\(|delimited\.encoding\(|read_toml\(|def read_"
    found = {name for name, text in SOURCES.items() if re.search(opens, text)}
    own = {
        "stations/meteostat_client"
    }  # meteostat's files: test_history and test_archive spoil them
    assert found - own - {"cli/running"} == {*opened}  # it opens the null device
    assert {*filter(None, opened.values())} - {"netCDF"} <= {*READERS}


# --- netCDF, in another process: the library beneath could bring it down -------------------

SPOIL_NETCDF = """
import sys, warnings
from pathlib import Path
import numpy as np
from climwin.stations import cache
from climwin.io.grids import as_stations, open_grid
from climwin.core.errors import RecordError
warnings.simplefilter("ignore")
folder, rounds = Path(sys.argv[1]), int(sys.argv[2])
rng = np.random.default_rng(20261125)
told = {"read": 0, "refused": 0, "set aside": 0}
seeds = [*sorted(folder.glob("seed*.nc"))]
kept = (folder / "station-PLB01.nc").read_bytes()
def spoil(raw):
    raw = bytearray(raw)
    for _ in range(rng.integers(1, 30)):
        raw[rng.integers(0, len(raw))] = rng.integers(0, 256)
    return bytes(raw[: rng.integers(0, len(raw))] if rng.random() < 0.3 else raw)
for n in range(rounds):
    path = folder / "spoiled.nc"
    path.unlink(missing_ok=True)
    path.write_bytes(spoil(seeds[n % len(seeds)].read_bytes()))
    try:
        as_stations(open_grid(path)).close()
        told["read"] += 1
    except RecordError as error:
        assert "spoiled.nc" in str(error), error
        told["refused"] += 1
    except ValueError as error:
        assert "needs the coordinates" in str(error), error
        told["refused"] += 1
    own = folder / "station-PLB01.nc"
    for old in folder.glob("station-PLB01*"):
        old.unlink()
    own.write_bytes(spoil(kept))
    found = cache.load("PLB01", folder)
    told["read" if found is not None else "set aside"] += 1
    assert own.exists() is (found is not None)
    own.with_name(f"{own.name}.damaged").unlink(missing_ok=True)
import json
print(json.dumps(told))
"""


def test_a_spoiled_netcdf_file_is_read_refused_or_set_aside(tmp_path, kept_station):
    from records import weather
    from written import a_grid

    (tmp_path / "station-PLB01.nc").write_bytes(kept_station)
    grid = a_grid([weather(n, years=1) for n in range(6)])
    grid.to_netcdf(tmp_path / "seed4.nc", engine="netcdf4")
    grid.to_netcdf(tmp_path / "seed3.nc", engine="scipy")
    told = json.loads(ran(SPOIL_NETCDF, tmp_path, 120).stdout)
    assert sum(told.values()) == 240
    assert min(told.values()) > 0


PACKED = """
import resource, sys, warnings
from pathlib import Path
import cf_xarray, netCDF4
from climwin.stations import cache
from climwin.io.grids import as_stations, open_grid
warnings.simplefilter("ignore")
folder = Path(sys.argv[1])
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
for path in sorted(folder.glob("*.nc")):
    try:
        own = path.stem == "station-A1"
        found = cache.load("A1", folder) if own else as_stations(open_grid(path))
        print(path.name, found if found is None else found.sizes)
    except ValueError as error:
        print(path.name, type(error).__name__, error)
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""


def packed(path, sizes, variables):
    """A small netCDF file that claims to hold far more."""
    with netCDF4.Dataset(path, "w") as file:
        for name, size in sizes.items():
            file.createDimension(name, size)
        for name, (dims, attrs) in variables.items():
            chunks = [min(sizes[dim], 1000 if len(dims) > 1 else 1_000_000) for dim in dims]
            options = {"zlib": True, "chunksizes": chunks, "fill_value": -9999.0}
            file.createVariable(name, "f8", dims, **options).setncatts(attrs)


def test_packed_netcdf_that_would_fill_the_memory_is_refused_with_its_size(tmp_path):
    days = {"units": "days since 1900-01-01", "standard_name": "time"}
    heat = {name: {"units": "degC"} for name in ("tasmin", "tasmax")}
    long = {"time": (("time",), days)} | {n: (("time",), a) for n, a in heat.items()}
    packed(tmp_path / "long.nc", {"time": 10**11}, long)
    packed(tmp_path / "station-A1.nc", {"time": 10**11}, long)
    wide = {
        "lat": (("y", "x"), {"units": "degrees_north", "standard_name": "latitude"}),
        "lon": (("y", "x"), {"units": "degrees_east", "standard_name": "longitude"}),
        "time": (("time",), days),
    } | {
        name: (("time", "y", "x"), attrs | {"coordinates": "lat lon"})
        for name, attrs in heat.items()
    }
    packed(tmp_path / "wide.nc", {"time": 1, "y": 10**6, "x": 10**6}, wide)
    with netCDF4.Dataset(tmp_path / "wide.nc", "a") as file:
        file["time"][:] = [0]
    assert sum(path.stat().st_size for path in tmp_path.iterdir()) < 1_000_000
    *told, megabytes = ran(PACKED, tmp_path).stdout.splitlines()
    said = dict(line.split(" ", 1) for line in told)
    assert "RecordError" in said["long.nc"]
    assert "800,000,000,000 bytes, and at most 20,000,000 are read" in said["long.nc"]
    assert "1,000,000,000,000 cells, and at most 1,000,000" in said["wide.nc"]
    assert said["station-A1.nc"] == "None"
    assert (tmp_path / "station-A1.nc.damaged").exists()
    assert int(megabytes) < MOST_MB


# --- memory -------------------------------------------------------------------------------

HUGE = """
import resource, sys, time
from pathlib import Path
from climwin.batch.stations import read_stations
from climwin.page.club_file import read_club
from climwin.crops.catalogue import read_crop
from climwin.io.grids import open_grid
from climwin.io.loggers import read_logger
from climwin.io.daily import read_unchecked as read_daily
from climwin.trials.analysis import read_trial
import cf_xarray, pandas, netCDF4
reader, path = globals()[sys.argv[1]], Path(sys.argv[2])
if len(sys.argv) > 3:  # what is there already, and this much more
    held = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (held + int(sys.argv[3]) * 1_000_000,) * 2)
before, began = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
try:
    reader(path)
except ValueError as error:
    print(type(error).__name__, error)
after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print((after - before) // 1024, time.process_time() - began)
"""
TABLES = ["read_daily", "read_logger", "read_trial", "read_stations"]
MOST_MB, MOST_S = 40, 5.0  # a block of 1 MB and what Python takes beside; of the processor's time


def ran(code, *arguments):
    command = [sys.executable, "-c", code, *map(str, arguments)]
    here = Path(__file__).parent
    done = subprocess.run(command, capture_output=True, text=True, cwd=here, check=False)
    assert done.returncode == 0, done.stderr
    return done


def refused(reader, path):
    """What a reader says of a huge file, after it kept to its bounds."""
    *told, measured = ran(HUGE, reader, path).stdout.splitlines()
    megabytes, seconds = map(float, measured.split())
    assert megabytes < MOST_MB
    assert seconds < MOST_S
    return "\n".join(told)


@pytest.fixture(scope="module")
def huge(tmp_path_factory):
    """A file of 2 GB in one line, one of 190 MB in one line, one of 10 million rows."""
    where = tmp_path_factory.mktemp("huge")
    with (where / "2gb.csv").open("wb") as file:
        file.truncate(2 * 1024**3)
    with (where / "line.csv").open("wb") as file:
        file.writelines([b"1,2;" * 250_000] * 190)
    with (where / "rows.csv").open("wb") as file:
        file.write(b"date,tmin,tmax\n")
        file.writelines([b"2001-05-03,1,2\n" * 100_000] * 100)
    yield where
    for file in where.iterdir():
        file.unlink()


@pytest.mark.parametrize("reader", [*TABLES, "read_crop", "read_club", "open_grid"])
def test_two_gigabytes_in_one_line_are_refused_unread(huge, reader):
    told = refused(reader, huge / "2gb.csv")
    assert told.startswith("RecordError")
    assert "2gb.csv" in told
    if reader in TABLES:
        assert "2,147,483,648 bytes, and at most 200,000,000 are read" in told


@pytest.mark.parametrize("reader", TABLES)
def test_a_line_within_the_size_of_a_file_is_refused_in_bounded_memory(huge, reader):
    assert "line.csv, line 1: " in refused(reader, huge / "line.csv")


@pytest.mark.parametrize("reader", TABLES)
def test_ten_million_rows_are_refused_with_their_number(huge, reader):
    told = refused(reader, huge / "rows.csv")
    assert "rows.csv has 10,000,001 lines, and at most 2,000,000 are read" in told


LITTLE_MB = 60


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="needs Linux' count of memory")
@pytest.mark.parametrize("name", ["line.csv", "rows.csv"])
@pytest.mark.parametrize("reader", ["read_daily", "read_logger", "read_crop", "open_grid"])
def test_where_memory_is_short_a_huge_file_is_refused_the_same(huge, reader, name):
    told = ran(HUGE, reader, huge / name, LITTLE_MB).stdout
    assert told.startswith("RecordError")
    assert name in told


@pytest.mark.parametrize("read", [read_crop, read_club])
def test_a_page_of_text_is_expected_of_toml(tmp_path, read):
    (tmp_path / "own.toml").write_bytes(b"#" * (LARGEST + 1))
    with pytest.raises(RecordError, match=r"own\.toml is larger than 1 MB"):
        read(tmp_path / "own.toml")
