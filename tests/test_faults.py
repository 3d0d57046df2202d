"""What goes wrong outside: full disks, read-only folders, damage, kills, clocks, locales, names.

Each ends in a right answer or one clear error, and no history that was kept is lost. The network's
faults stand in ``test_archive.py`` and ``test_history.py``.
"""

import contextlib
import datetime as dt
import errno
import io
import os
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace
from unittest import mock

import numpy as np
import pytest
import xarray as xr
from records import weather
from standin import StandIn, pointed_at

import climwin as cw
from climwin.batch.run import run_stations
from climwin.batch.stations import read_stations
from climwin.cli import lab
from climwin.cli.main import main
from climwin.core.errors import StationError
from climwin.io import files as files_module
from climwin.io.daily import read_daily
from climwin.io.exports import to_csv, to_netcdf
from climwin.io.files import atomic_write
from climwin.io.grids import open_grid
from climwin.io.loggers import read_logger
from climwin.io.samples import sample
from climwin.page.assets import plain
from climwin.page.club_file import read_club
from climwin.page.write import write_text
from climwin.stations import cache, history
from climwin.stations.history import fetch_history
from climwin.trials.analysis import read_trial

STATION = "station-PLB01.nc"
TODAY = dt.date(2024, 9, 10)


@pytest.fixture
def server():
    with StandIn(today=TODAY) as server, pointed_at(server):
        yield server


@pytest.fixture
def kept(kept_station, tmp_path):
    """A store with ten years of a station."""
    (tmp_path / "store").mkdir()
    (tmp_path / "store" / STATION).write_bytes(kept_station)
    return tmp_path / "store"


def litter(folder):
    """Half-written files."""
    return [path.name for path in folder.rglob("*part*")]


# --- a file whole or not at all -----------------------------------------------------------


@pytest.mark.parametrize("alone", [False, True])
def test_what_fails_half_way_leaves_the_old_file_and_no_litter(tmp_path, alone):
    target = tmp_path / "kept.txt"
    target.write_text("before")

    def fail_half_way():
        with atomic_write(target, single_writer=alone) as part:
            part.write_text("half")
            raise RuntimeError("HDF error")

    with pytest.raises(OSError, match=r"kept\.txt cannot be written \(HDF error\)\. Is the disk"):
        fail_half_way()
    assert target.read_text() == "before"
    assert list(tmp_path.iterdir()) == [target]


def test_what_is_whole_takes_its_place(tmp_path):
    target = tmp_path / "kept.txt"
    target.write_text("before")
    with atomic_write(target) as part:
        part.write_text("after")
    assert target.read_text() == "after"
    assert target.stat().st_mode & 0o777 == 0o644
    assert list(tmp_path.iterdir()) == [target]


# --- disk full ----------------------------------------------------------------------------


@contextlib.contextmanager
def tmpfs(folder, *options):
    """A disk of a few kilobytes, where this user may mount one."""
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", ",".join(options), "tmpfs", str(folder)]
    try:
        done = subprocess.run(command, capture_output=True, check=False).returncode
    except FileNotFoundError:
        done = 1
    if done:
        pytest.skip("no disk can be mounted here")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


@pytest.fixture(scope="module")
def daily():
    return read_daily(sample())


def few_stations(daily):
    return xr.concat([daily.assign_coords(station=name) for name in ("a", "b")], "station")


WRITERS = {
    "csv.csv": to_csv,
    "result.nc": to_netcdf,
    "page.html": lambda daily, path: write_text(path, f"{daily.attrs}" * 1000),
    "part.nc": lambda daily, path: run_stations(few_stations(daily), [cw.crop("pea")], path),
}


@pytest.mark.parametrize("name", WRITERS)
def test_on_a_full_disk_a_result_is_one_error_and_the_old_file_stays(tmp_path, daily, name):
    with tmpfs(tmp_path / "full", "size=64k") as disk:
        target = disk / name
        if name != "part.nc":  # a result of many is never written over
            target.write_text("before")
        with pytest.raises(OSError, match=r"cannot be written.*Is the disk full"):
            WRITERS[name](daily, target)
        assert name == "part.nc" or target.read_text() == "before"
        assert not [path for path in disk.rglob("*.part*") if path.is_file()]


def test_on_a_full_disk_what_was_fetched_stays_and_the_rest_comes_later(tmp_path, server):
    with tmpfs(tmp_path / "full", "size=500k") as disk:
        with pytest.raises(OSError, match=rf"{STATION} cannot be written.*Is the disk full"):
            fetch_history("PLB01", 1985, 2010, where=disk)
        held = cache.load("PLB01", disk)
        assert 0 < held.sizes["year"] < 26
        server.asked.clear()
        assert litter(disk) == []
        subprocess.run(["mount", "-o", "remount,size=8m", str(disk)], check=True)
        daily = fetch_history("PLB01", 1985, 2010, where=disk)
        assert daily["tmin"].notnull().all()
        assert server.count("/daily/") == 26 - held.sizes["year"]


def no_space(*_, **__):
    raise OSError(errno.ENOSPC, "No space left on device")


def read_only(*_, **__):
    raise OSError(errno.EROFS, "Read-only file system")


@pytest.mark.parametrize("fault", [no_space, read_only])
@pytest.mark.parametrize("name", WRITERS)
def test_a_disk_that_fails_at_the_last_step(tmp_path, monkeypatch, daily, name, fault):
    monkeypatch.setattr(files_module, "_sync", fault)
    with pytest.raises(OSError, match=r"cannot be written \((No space|Read-only)"):
        WRITERS[name](daily, tmp_path / name)
    assert not (tmp_path / name).exists()
    assert not [path for path in tmp_path.rglob("*.part*") if path.is_file()]


@pytest.mark.parametrize("fault", [no_space, read_only])
def test_a_store_that_cannot_be_written_keeps_what_it_has(kept, monkeypatch, server, fault):
    before = (kept / STATION).read_bytes()
    monkeypatch.setattr(files_module, "_sync", fault)
    with pytest.raises(
        OSError, match=rf"{STATION} cannot be written.*earlier version of the file is unchanged"
    ):
        fetch_history("PLB01", 1999, 2010, where=kept)
    with pytest.raises(OSError, match=r"mine\.nc cannot be written"):
        cache.export("PLB01", kept / "mine.nc", kept)
    with pytest.raises(OSError, match=r"mine\.csv cannot be written"):
        cache.export("PLB01", kept / "mine.csv", kept)
    assert (kept / STATION).read_bytes() == before
    assert {path.name for path in kept.iterdir()} <= {STATION, f"{STATION}.lock", "stations.db"}


def test_a_notebook_that_was_copied_in_half_is_not_left(tmp_path, monkeypatch):
    monkeypatch.setattr(files_module, "_sync", no_space)
    with pytest.raises(OSError, match="No space"):
        lab.copy_notebooks(tmp_path)
    assert list(tmp_path.iterdir()) == []
    monkeypatch.undo()
    assert any(lab.copy_notebooks(tmp_path).glob("*.ipynb"))


# --- the command --------------------------------------------------------------------------


def climwin(*arguments, where, env=()):
    command = [sys.executable, "-m", "climwin", *map(str, arguments)]
    run_env = os.environ | {"CLIMWIN_DATA": str(where / "store")} | dict(env)
    return subprocess.run(
        command, cwd=where, env=run_env, capture_output=True, check=False, timeout=300
    )


def in_this_process(*arguments, where, store=None):
    """The same, for what no process of its own is needed: to start one takes a second."""
    said = io.StringIO()
    with (
        contextlib.chdir(where),
        mock.patch.dict(os.environ, {"CLIMWIN_DATA": str(store or where / "store")}),
        contextlib.redirect_stdout(io.StringIO()),
        contextlib.redirect_stderr(said),
    ):
        code = main([*map(str, arguments)])
    return SimpleNamespace(returncode=code, stderr=said.getvalue().encode())


def failed(done):
    """The one line of a command that could not be done."""
    said = done.stderr.decode()
    assert done.returncode == 1, said
    assert said.startswith("climwin: ")
    assert said.count("\n") == 1
    return said


def test_a_command_on_a_read_only_disk_is_one_line(tmp_path):
    dates = ["dates", sample(), "--crop", "pea", "--sow", "04-20", "--out"]
    with tmpfs(tmp_path / "ro", "size=64k") as disk:
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        for name in ("d.ics", "d.csv"):
            said = failed(in_this_process(*dates, disk / name, where=tmp_path))
            assert "Read-only file system" in said
        assert "Read-only" in failed(climwin("lab", disk / "desk", where=tmp_path))
        assert "Read-only" in failed(
            in_this_process("trial", "plan", "a", "b", "--out", disk / "t.csv", where=tmp_path)
        )


def test_a_store_that_cannot_be_made_or_written_to_names_the_way_out(tmp_path):
    (tmp_path / "file").touch()
    nearby = ["stations", "--lat", "46", "--lon", "7"]
    with tmpfs(tmp_path / "ro", "size=64k") as disk:
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        for store, why in ((disk, "Read-only"), (disk / "s", "Read-only"), ("file/s", "Not a")):
            said = failed(in_this_process(*nearby, where=tmp_path, store=store))
            assert f"Downloads are stored in {store}, which cannot be made" in said
            assert why in said
            assert "CLIMWIN_DATA" in said


def test_a_filled_sheet_is_not_written_over(tmp_path):
    (tmp_path / "trial.csv").write_text("filled in")
    assert "is there already" in failed(in_this_process("trial", "plan", "a", "b", where=tmp_path))
    assert (tmp_path / "trial.csv").read_text() == "filled in"


def test_a_command_on_a_missing_folder_or_a_folder_is_one_line(tmp_path):
    dates = ["dates", sample(), "--crop", "pea", "--sow", "04-20", "--out"]
    assert "no folder nowhere" in failed(in_this_process(*dates, "nowhere/d.ics", where=tmp_path))
    assert "is a folder, a pipe or a device" in failed(
        in_this_process("inspect", ".", where=tmp_path)
    )


# --- files that are none ------------------------------------------------------------------

READERS = {
    "daily": read_daily,
    "logger": read_logger,
    "trial": read_trial,
    "stations": read_stations,
    "crop": cw.read_crop,
    "club": read_club,
    "grid": open_grid,
    "store": lambda path: cache.load(path.stem.removeprefix("station-"), path.parent),
}
"""Every reader of a file; `test_fuzz.test_no_reader_is_left_out` looks whether one is missing."""


def pipe(path):
    os.mkfifo(path)


def device(path):
    path.symlink_to("/dev/zero")


def socket_file(path):
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(str(path))


MAKE = {"pipe": pipe, "device": device, "folder": Path.mkdir, "socket": socket_file}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs pipes that have names")
@pytest.mark.parametrize("kind", MAKE)
@pytest.mark.parametrize("reader", READERS)
def test_what_is_no_file_is_refused_at_once(tmp_path, monkeypatch, reader, kind):
    monkeypatch.chdir(tmp_path)  # a socket's name is short
    path = Path("station-A1.nc")
    MAKE[kind](path)
    began = time.process_time()  # of this process alone: others may keep the machine busy
    with pytest.raises(cw.RecordError, match=r"station-A1\.nc"):
        READERS[reader](path)
    assert time.process_time() - began < 5  # a module that is loaded first included


COMMANDS = {
    "record": ["inspect", "it"],
    "logger": ["space", "it", sample(), "--crop", "pea"],
    "beside a logger": ["space", sample("frame_logger.csv"), "it", "--crop", "pea"],
    "crop": ["dates", sample(), "--crop", "it.toml", "--sow", "04-20"],
    "club": ["club", "it"],
    "stations": ["batch", "it", "--crop", "pea"],
    "grid": ["batch", "it.nc", "--crop", "pea"],
    "sheet": ["trial", "read", "it", "--measure", "heads"],
    "store": ["store", "list"],
}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs pipes that have names")
@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_that_is_given_a_pipe_is_one_line(tmp_path, command):
    (tmp_path / "store").mkdir()
    for name in ("it", "it.toml", "it.nc", "store/station-A1.nc"):
        os.mkfifo(tmp_path / name)
    assert "a pipe" in failed(climwin(*COMMANDS[command], where=tmp_path))


def test_a_name_that_can_be_none_is_refused(tmp_path):
    for read in (read_daily, cw.read_crop, open_grid):
        with pytest.raises(cw.RecordError, match="cannot be the name of a file"):
            read(f"{tmp_path}/a\0b.csv")


# --- a store of another user --------------------------------------------------------------

as_root = pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root can be another user"
)


NOBODYS = """  # what it needs is loaded first: nobody may be kept from the interpreter's own files
import contextlib, io, os, sys
import filelock
from climwin.cli.main import main
where, os.environ["CLIMWIN_DATA"] = os.environ["CLIMWIN_DATA"], sys.argv[1]
with contextlib.redirect_stdout(io.StringIO()):
    assert main(["store", "list"]) == 0
    assert main(["store", "export", "PLB01", f"{sys.argv[1]}/a.csv"]) == 0
os.environ["CLIMWIN_DATA"] = where
os.setgroups([])
os.setgid(65534)
os.setuid(65534)
sys.exit(main(sys.argv[2:]))
"""


@pytest.fixture
def as_nobody(tmp_path, kept, kept_station, tmp_path_factory):
    """The command, run by a user who owns nothing but may enter the folder of the store."""
    warm = tmp_path_factory.mktemp("warm")
    (warm / STATION).write_bytes(kept_station)
    # Up to pytest's own folder, which in several processes lies one deeper.
    for folder in (tmp_path, *tmp_path.parents[:3]):
        if folder.name.startswith(("test_", "popen-", "pytest-")):
            folder.chmod(0o755)
    kept.chmod(0o755)

    def run(*arguments):
        return subprocess.run(
            [sys.executable, "-c", NOBODYS, *map(str, (warm, *arguments))],
            env=os.environ | {"CLIMWIN_DATA": str(kept)},
            capture_output=True,
            check=False,
            timeout=300,
        )

    return run


@as_root
def test_a_store_of_another_user_may_be_read_and_is_left_as_it_is(kept, as_nobody):
    (kept / STATION).chmod(0o644)
    before = (kept / STATION).read_bytes()
    done = as_nobody("store", "list")
    assert done.returncode == 0, done.stderr
    assert b"Pellbrook Mill" in done.stdout
    said = failed(as_nobody("store", "remove", "PLB01"))
    assert "Permission denied" in said
    said = failed(as_nobody("store", "export", "PLB01", kept / "x.csv"))
    assert "Permission denied" in said
    assert (kept / STATION).read_bytes() == before
    assert {path.name for path in kept.iterdir()} == {STATION}


@as_root
def test_a_station_that_another_user_keeps_to_himself_is_one_line(kept, as_nobody):
    (kept / STATION).chmod(0o600)
    before = (kept / STATION).read_bytes()
    assert "Permission denied" in failed(as_nobody("store", "list"))
    (kept / STATION).write_bytes(b"half")
    (kept / STATION).chmod(0o644)  # damaged, and it cannot be set aside
    said = failed(as_nobody("store", "list"))
    assert "cannot be set aside (Permission denied)" in said
    (kept / STATION).write_bytes(before)
    kept.chmod(0o700)
    assert "Permission denied" in failed(as_nobody("store", "list"))
    assert {path.name for path in kept.iterdir()} == {STATION}


# --- a damaged store ----------------------------------------------------------------------


@pytest.mark.parametrize("tenths", range(10))
def test_a_store_cut_at_every_tenth_is_set_aside_and_fetched_anew(kept, server, tenths):
    path = kept / STATION
    cut = path.read_bytes()[: path.stat().st_size * tenths // 10]
    path.write_bytes(cut)
    with pytest.warns(UserWarning, match="is damaged .* set aside"):
        daily = fetch_history("PLB01", 2001, 2010, where=kept)
    assert daily["tmin"].notnull().all()
    assert (kept / f"{STATION}.damaged").read_bytes() == cut


@pytest.mark.parametrize("tenths", range(10))
def test_offline_a_cut_store_is_a_clear_error_and_the_damaged_file_is_kept(kept, server, tenths):
    path = kept / STATION
    cut = path.read_bytes()[: path.stat().st_size * tenths // 10]
    path.write_bytes(cut)
    server.fail("reset", "")
    quick = history.RetryPolicy(timeout=1.0, attempts=1, backoff=0.01)
    with (
        pytest.warns(UserWarning, match="is damaged"),
        pytest.raises(StationError, match="Use a file of your own"),
    ):
        fetch_history("PLB01", 2001, 2010, where=kept, retry_policy=quick)
    assert (kept / f"{STATION}.damaged").read_bytes() == cut


def test_damage_that_comes_again_writes_over_nothing(kept, kept_station):
    for n in range(3):
        (kept / STATION).write_bytes(kept_station[: 9000 + n])
        with pytest.warns(
            UserWarning, match=r"is damaged .* set aside as station-PLB01\.nc\.damaged"
        ):
            assert cache.load("PLB01", kept) is None
    held = {p.name.removeprefix(STATION): p.stat().st_size for p in kept.iterdir()}
    assert held == {".damaged": 9000, ".damaged-2": 9001, ".damaged-3": 9002}


def test_a_hundred_damaged_files_of_a_station_are_enough(kept, monkeypatch):
    monkeypatch.setattr(cache, "_MOST_DAMAGED", 1)
    (kept / f"{STATION}.damaged").write_bytes(b"first")
    (kept / STATION).write_bytes(b"second")
    with pytest.raises(StationError, match=r"cannot be set aside \(there are already 1 damaged"):
        cache.load("PLB01", kept)
    assert (kept / f"{STATION}.damaged").read_bytes() == b"first"
    assert (kept / STATION).read_bytes() == b"second"


def test_what_another_process_has_fetched_meanwhile_is_not_set_aside(
    kept, kept_station, monkeypatch
):
    (kept / STATION).write_bytes(b"half")

    def meanwhile(*_, **__):
        fresh = kept / "fresh"
        fresh.write_bytes(kept_station)
        fresh.replace(kept / STATION)
        raise ValueError("half a file")

    monkeypatch.setattr(cache, "check_declared_size", meanwhile)
    assert cache.load("PLB01", kept) is None
    assert [path.name for path in kept.iterdir()] == [STATION]
    assert (kept / STATION).read_bytes() == kept_station


def test_damage_that_cannot_be_set_aside_is_said(kept, monkeypatch):
    (kept / STATION).write_bytes(b"half")
    monkeypatch.setattr(Path, "replace", read_only)
    with pytest.raises(StationError, match=r"is damaged .*cannot be set aside .Read-only.*Remove"):
        cache.load("PLB01", kept)
    assert (kept / STATION).read_bytes() == b"half"


def test_what_the_system_refuses_is_no_damage(kept, kept_station, monkeypatch):
    def too_many(*_, **__):
        raise OSError(errno.EMFILE, "Too many open files")

    monkeypatch.setattr(Path, "open", too_many)
    with pytest.raises(OSError, match="Too many open files"):
        cache.load("PLB01", kept)
    monkeypatch.undo()
    assert (kept / STATION).read_bytes() == kept_station


# --- killed, at any moment ----------------------------------------------------------------

KILL = """  # imports once, then two children a round: each adds one to a mark, again and again
import os, signal, sys, time
from pathlib import Path
import filelock
import numpy as np
from climwin.stations import cache
where, rounds = Path(sys.argv[1]), int(sys.argv[2])
first = cache.load("PLB01", where)
def child(pipe):
    while True:
        with cache.locked("PLB01", where):
            record = cache.load("PLB01", where)
            mark = int(record.attrs.get("mark", 0)) + 1
            cache.save(record.assign_attrs(mark=mark), where)
            os.write(pipe, b"%d\\n" % mark)
rng, saved = np.random.default_rng(20261125), 0
for n in range(rounds):
    read, write = os.pipe()
    pair = []
    for _ in range(2):
        pid = os.fork()
        if not pid:
            child(write)
        pair.append(pid)
    os.close(write)
    told = os.fdopen(read)
    marks = [int(told.readline())] if n % 2 else []  # every other time after something was saved
    time.sleep(rng.uniform(0, 0.3))
    for pid in pair:
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
    with told:
        marks += map(int, told)
    assert len(marks) == len(set(marks)), "one wrote over what the other saved"
    record = cache.load("PLB01", where)
    assert record is not None, "half a file"
    assert record[["tmin", "tmax"]].equals(first[["tmin", "tmax"]]), "history is lost"
    mark = int(record.attrs.get("mark", 0))
    assert mark >= max(marks, default=saved), "what was saved is lost"
    saved = mark
cache.save(record, where)
print(saved)
"""
ROUNDS = 20


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_killed_at_any_moment_the_store_is_whole_and_loses_nothing(kept):
    command = [sys.executable, "-c", KILL, str(kept), str(ROUNDS)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    assert "damaged" not in done.stderr
    assert int(done.stdout) >= ROUNDS // 2  # they did save meanwhile
    assert {path.name for path in kept.iterdir()} == {STATION, f"{STATION}.lock"}


# --- the clock ----------------------------------------------------------------------------


def test_a_clock_set_back_freezes_no_year(tmp_path, monkeypatch, server):
    now = [dt.datetime(2025, 3, 1)]
    monkeypatch.setattr(history, "_now", lambda: now[0])
    fetch_history("PLB01", 2022, 2024, where=tmp_path)  # a clock half a year ahead
    now[0], server.today = dt.datetime(2024, 11, 10, 6), dt.date(2024, 11, 10)
    server.asked.clear()
    daily = fetch_history("PLB01", 2022, 2024, where=tmp_path)
    assert server.count("/2024/") == 1
    assert daily["tmin"].notnull().all()
    assert daily["time"].values[-1] == np.datetime64("2024-11-09")
    assert daily.attrs["age_days"] == 0
    server.asked.clear()
    fetch_history("PLB01", 2022, 2024, where=tmp_path)
    assert server.asked == []  # put right once


def test_two_clocks_a_little_apart_ask_for_nothing(tmp_path, monkeypatch, server):
    now = [dt.datetime(2024, 9, 10, 6)]
    monkeypatch.setattr(history, "_now", lambda: now[0])
    fetch_history("PLB01", 2022, 2024, where=tmp_path)
    now[0] -= dt.timedelta(minutes=5)
    server.asked.clear()
    fetch_history("PLB01", 2022, 2024, where=tmp_path)
    assert server.asked == []


def test_offline_a_clock_set_back_takes_nothing_away(kept, monkeypatch, server):
    monkeypatch.setattr(history, "_now", lambda: dt.datetime(2015, 1, 1))  # kept: in years to come
    server.fail("reset", "")
    quick = history.RetryPolicy(timeout=1.0, attempts=1, backoff=0.01)
    with pytest.warns(UserWarning, match="not refreshed: 2001-2003"):
        daily = fetch_history("PLB01", 2001, 2010, where=kept, retry_policy=quick)
    assert daily["tmin"].notnull().all()


def test_a_list_of_stations_from_days_to_come_is_fetched_anew(tmp_path, server):
    garden = cw.Garden("Pellbrook", 46.10, 7.20)
    cw.find_stations(garden, where=tmp_path)
    ahead = time.time() + 400 * 86_400
    os.utime(tmp_path / "stations.db", (ahead, ahead))
    cw.find_stations(garden, where=tmp_path)
    assert server.count("stations.db") == 2


# --- locales, homes, names ----------------------------------------------------------------

COMMAS = """
import locale, sys
locale.setlocale(locale.LC_ALL, "de_DE.UTF-8")
assert locale.localeconv()["decimal_point"] == "," and f"{1.5:n}" == "1,5"
from climwin.cli.main import main
sys.exit(main(sys.argv[1:]))
"""
ASCII = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}


@pytest.fixture
def home(tmp_path, kept_station):
    """A home with a store, its name in letters of many kinds."""
    home = tmp_path / "Gärtnerin Müller 'Süd' ñ 庭"
    (home / "store").mkdir(parents=True)
    (home / "store" / STATION).write_bytes(kept_station)
    return home


@pytest.fixture(scope="module")
def german(tmp_path_factory):
    """Environment of a German session, its locale built where the machine has none."""
    where = tmp_path_factory.mktemp("locales")
    if shutil.which("localedef") is None:
        pytest.skip("no locale can be built here")
    command = ["localedef", "-i", "de_DE", "-f", "UTF-8", str(where / "de_DE.UTF-8")]
    if subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("no locale can be built here")
    return {"LOCPATH": str(where), "LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"}


SAYS = {
    "inspect": ["inspect", sample()],
    "dates": ["dates", sample(), "--crop", "pea", "--sow", "04-20", "--out", "it.csv"],
}


@pytest.mark.parametrize("command", SAYS)
def test_decimal_commas_of_a_locale_change_nothing(tmp_path, german, command):
    asked = [*map(str, SAYS[command])]
    (tmp_path / "german").mkdir()
    plainly = climwin(*asked, where=tmp_path)
    assert plainly.returncode == 0, plainly.stderr
    done = subprocess.run(
        [sys.executable, "-c", COMMAS, *asked],
        env=os.environ | german,
        cwd=tmp_path / "german",
        capture_output=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout == plainly.stdout != b""
    for file in tmp_path.glob("it.*"):
        assert (tmp_path / "german" / file.name).read_bytes() == file.read_bytes()


@pytest.mark.parametrize("env", [{}, {"LC_ALL": "C"}], ids=["utf-8", "C"])
def test_a_home_of_spaces_and_umlauts_serves(home, kept_station, env):
    exported = climwin("store", "export", "PLB01", home / "Süd.csv", where=home, env=env)
    assert exported.returncode == 0, exported.stderr
    looked = climwin("inspect", home / "Süd.csv", where=home, env=env)
    assert looked.returncode == 0, looked.stderr
    assert b"tmin: 3,652 of 3,652 days" in looked.stdout


def test_where_the_locale_lacks_the_letters_it_is_one_line(home, kept_station):
    assert "Set PYTHONUTF8=1" in failed(climwin("store", "list", where=home, env=ASCII))
    (home / "Süd.csv").write_bytes(sample().read_bytes())
    assert "Set PYTHONUTF8=1" in failed(climwin("inspect", "Süd.csv", where=home, env=ASCII))
    assert (home / "store" / STATION).read_bytes() == kept_station  # not taken for damaged


def test_where_the_locale_lacks_the_degree_sign_the_answer_stands(tmp_path):
    (tmp_path / "f.csv").write_text("date,Tmin (°F),Tmax (°F)\n2020-07-01,55,75\n", "utf-8")
    done = climwin("inspect", "f.csv", where=tmp_path, env=ASCII)
    assert done.returncode == 0, done.stderr
    assert b"Tmin (?F)" in done.stdout


def test_files_of_windows_read_the_same(tmp_path):
    text = sample().read_bytes()
    for name, raw in {"crlf.csv": text.replace(b"\n", b"\r\n"), "lf.csv": text}.items():
        (tmp_path / name).write_bytes(raw)
    one, other = (read_daily(tmp_path / name) for name in ("crlf.csv", "lf.csv"))
    xr.testing.assert_equal(one, other)


def test_a_list_of_stations_saved_by_windows_is_read(tmp_path):
    text = "\ufeffstation;latitude;longitude;name\r\nA1;46,1;7,2;Pellbrook\r\n".replace(",", ".")
    (tmp_path / "list.csv").write_bytes(text.encode())
    (place,) = read_stations(tmp_path / "list.csv")
    assert (place.station.name, place.station.latitude) == ("Pellbrook", 46.1)


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("CON", "climwin-con"),
        ("lpt1.", "lpt1"),
        ("aux", "climwin-aux"),
        ("..\\..\\etc\\passwd", "etc-passwd"),
        ("../../x", "x"),
        ("C:\\beds\\north", "c-beds-north"),
        ("Mill. ", "mill"),
        ("庭", "climwin"),
        ("a\0b\nc", "a-b-c"),
        ("x" * 300, "x" * 80),
    ],
)
def test_a_name_becomes_a_file_that_every_computer_takes(name, file):
    assert plain(name) == file.replace("lpt1", "climwin-lpt1")


def test_a_crop_named_like_a_path_writes_no_file_elsewhere(tmp_path):
    (tmp_path / "run").mkdir()
    crop = (Path(cw.__file__).parent / "crops" / "data" / "pea.toml").read_text("utf-8")
    name = "../../escaped\\CON"
    lines = [
        f"name = '{name}'" if line.startswith("name = ") and n < 9 else line
        for n, line in enumerate(crop.splitlines())
    ]
    (tmp_path / "mine.toml").write_text("\n".join(lines), "utf-8")
    for n in range(2):
        to_csv(weather(n, years=12), tmp_path / f"{n}.csv")
    rows = "".join(f"S{n},46.{n},7.2,{n}.csv\n" for n in range(2))
    (tmp_path / "list.csv").write_text(f"station,latitude,longitude,record\n{rows}")
    out = tmp_path / "run" / "many.nc"
    asked = ("batch", "list.csv", "--crop", "mine.toml", "--out", out)
    done = in_this_process(*asked, where=tmp_path)
    assert done.returncode == 0, done.stderr
    written = {path.name for path in out.parent.iterdir()}
    assert written == {"many.nc", "many.csv", "many-escaped-con.png"}
