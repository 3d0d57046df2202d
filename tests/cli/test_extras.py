"""Commands that need optional packages say which are missing before any work."""

import pytest

from climwin.cli import extras
from climwin.cli.main import main


@pytest.mark.parametrize(
    ("command", "lacking", "said"),
    [
        (("notebook", "start_here"), "nbclient", "Running a notebook takes nbclient"),
        (("batch", "none.csv"), "dask", "Work on many stations takes dask"),
    ],
)
def test_what_is_missing_is_named_with_what_installs_it(
    command, lacking, said, monkeypatch, capsys, tmp_path
):
    here = extras.find_spec
    monkeypatch.setattr(extras, "find_spec", lambda name: None if name == lacking else here(name))
    monkeypatch.chdir(tmp_path)
    options = ["--crop", "pea", "--out", "out.nc"] if command[0] == "batch" else []
    assert main([*command, *options]) == 1
    extra = {"notebook": "notebook", "batch": "many"}[command[0]]
    told = capsys.readouterr().err
    assert told == (
        f"climwin: {said}, not installed here. Install it with: pip install 'climwin[{extra}]'\n"
    )


def test_nothing_is_said_where_all_is_there():
    extras.check_installed("Reading", ["json", "csv"], "many")
    with pytest.raises(ValueError, match="Reading takes nothing_here, not_this, not installed"):
        extras.check_installed("Reading", ["json", "nothing_here", "not_this"], "many")
