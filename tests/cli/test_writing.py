"""No command writes over what is not its own: the rule by itself, and on commands as typed."""

import matplotlib.pyplot as plt
import pytest

from climwin.cli.main import main
from climwin.cli.writing import PICTURE, check_outputs
from climwin.io.samples import sample


@pytest.fixture
def at(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", ["page.html", "dates.ics", "calendar.csv", "map.png", "r.nc"])
def test_a_file_of_somebody_else_is_not_overwritten_unasked(tmp_path, name):
    path = tmp_path / name
    path.write_text("mine")
    with pytest.raises(ValueError, match=r"climwin did not write it.*--force"):
        check_outputs([path])
    check_outputs([path], force=True)
    path.write_text("")  # nothing to lose
    check_outputs([path])


def test_a_notebook_is_never_overwritten_unasked(tmp_path):
    # People work on in it, so that it is theirs whoever wrote it first.
    path = tmp_path / "page.ipynb"
    path.write_text('{"cells": ["import climwin"]}')
    with pytest.raises(ValueError, match="climwin did not write it"):
        check_outputs([path])


def test_a_pdf_belongs_to_its_page(tmp_path):
    (tmp_path / "page.pdf").write_text("%PDF")
    with pytest.raises(ValueError, match=r"page\.pdf is there already"):
        check_outputs([tmp_path / "page.pdf"])
    page = '<meta charset="utf-8"><meta name="generator" content="climwin">'
    (tmp_path / "page.html").write_text(page)
    check_outputs([tmp_path / "page.pdf"])


def test_what_is_read_is_not_even_overwritten_by_force(tmp_path):
    record = tmp_path / "record.csv"
    record.write_text("date,tmin,tmax\n# written by: climwin 1.0\n")
    (tmp_path / "link.csv").symlink_to(record)
    for name in ("record.csv", "link.csv"):
        with pytest.raises(ValueError, match="is a file that this command reads"):
            check_outputs([tmp_path / name], inputs=[record, None], force=True)


def test_a_missing_folder_is_called_so(tmp_path):
    with pytest.raises(ValueError, match=r"there is no folder .*deep/er\. Make it first"):
        check_outputs([tmp_path / "deep" / "er" / "dates.ics"])
    check_outputs([tmp_path / "deep" / "er" / "page.html"], makes_folder=True)
    (tmp_path / "file").write_text("")
    with pytest.raises(ValueError, match="is a file, not a folder"):
        check_outputs([tmp_path / "file" / "page.html"], makes_folder=True)
    with pytest.raises(ValueError, match=r"is a folder\. Give the name of a file"):
        check_outputs([tmp_path])


def test_a_picture_carries_its_mark(tmp_path):
    figure, _ = plt.subplots()
    figure.savefig(tmp_path / "a.png", metadata=PICTURE)
    figure.savefig(tmp_path / "b.png")
    plt.close(figure)
    check_outputs([tmp_path / "a.png"])
    with pytest.raises(ValueError, match=r"b\.png is there already"):
        check_outputs([tmp_path / "b.png"])


PLAN = ("--crop", "pea", "--sow", "04-10", "--lat", "46", "--lon", "7")


@pytest.mark.parametrize("name", ["dates.ics", "dates.csv"])
def test_dates_replace_their_own_file_and_no_other(at, capsys, name):
    command = ["dates", str(sample()), *PLAN, "--out", name]
    assert main(command) == 0
    assert main(command) == 0  # its own
    (at / name).write_text("my notes")
    assert main(command) == 1
    assert f"{name} is there already" in capsys.readouterr().err
    assert (at / name).read_text() == "my notes"
    assert main([*command, "--force"]) == 0
    assert (at / name).read_text() != "my notes"


def test_a_calendar_never_replaces_the_record_it_reads(at, capsys):
    record = at / "calendar.csv"
    record.write_bytes(sample().read_bytes())
    for more in ([], ["--force"]):
        assert main(["calendar", "calendar.csv", "--crop", "pea", *more]) == 1
        assert "calendar.csv is a file that this command reads" in capsys.readouterr().err
    assert record.read_bytes() == sample().read_bytes()


def test_a_batch_never_replaces_its_list(at, capsys):
    text = "station,latitude,longitude,record\nA,46,7,none.csv\n"
    (at / "stations.csv").write_text(text)
    assert main(["batch", "stations.csv", "--crop", "pea", "--out", "stations.nc"]) == 1
    assert "stations.csv is a file that this command reads" in capsys.readouterr().err
    (at / "other.csv").write_text("mine")
    assert main(["batch", "stations.csv", "--crop", "pea", "--out", "other.nc"]) == 1
    err = capsys.readouterr().err
    assert "other.csv is there already" in err
    assert "--force" not in err  # the command has no such option
    assert "climwin did not" not in err  # its table has no mark: nobody knows who wrote it
    assert (at / "stations.csv").read_text() == text
    assert (at / "other.csv").read_text() == "mine"


def test_a_page_refuses_before_it_reads_a_record(at, capsys):
    (at / "page.html").write_text("my own page")
    command = ["page", "none.csv", "--place", "Our plot", "--crop", "pea", "--out", "page.html"]
    assert main(command) == 1
    assert "climwin did not write it" in capsys.readouterr().err
    assert (at / "page.html").read_text() == "my own page"
