"""One page for several gardens side by side."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from climwin.cli.notes import caution, progress
from climwin.cli.options import argument, group
from climwin.cli.page import (
    StyleOptions,
    check_paper,
    date_made,
    made_option,
    out_option,
    page_files,
    say_written,
)
from climwin.cli.reading import few_years_option
from climwin.cli.wording import about
from climwin.cli.writing import check_outputs, force_option

LAYOUT = """\
FILE lists two gardens or more, such as:

  name = "Pellbrook garden club"
  crop = "cauliflower"

  [[gardens]]
  name = "Mill allotments"
  record = "valley.csv"
  latitude = 46.1
  longitude = 7.2
  elevation = 420

  [[gardens]]
  name = "Upper terrace"
  record = "hill.csv"
  latitude = 46.12
  longitude = 7.22
  elevation = "3220ft"
  record_units = "F"
  temperatures = "garden"

A record's path begins at the folder of FILE. A height without a unit is in
metres. Two keys may be left out: record_units, C or F, is for a record that
does not say, and temperatures = "garden" moves those of the record to the
garden's height. data_samples/club.toml is a file to copy.
"""
"""How a club's file is written, for the help of the command."""


@dataclass(frozen=True)
class ClubOptions:
    """A club's file, and its page."""

    file: Path = argument("FILE", "the gardens and their records, as TOML", convert=Path)
    few_years: bool = few_years_option()
    made: str | None = made_option()
    style: StyleOptions = group(StyleOptions)
    out: Path = out_option("club.html")
    force: bool = force_option()


def club(options: ClubOptions) -> None:
    """One page for several gardens side by side, and what casts doubt on their records."""
    from climwin.page.club import club_page, save_club
    from climwin.report import sentences_decision as words

    check_paper(options.style)
    outputs = page_files(options.out, options.style)
    check_outputs(outputs, inputs=[options.file], force=options.force, makes_folder=True)
    made = date_made(options.made)
    units = options.style.shown_units
    progress("working out each garden")
    page = club_page(options.file, units=units, made=made, few_years=options.few_years)
    caution(page.doubts)
    with about("out", OSError):
        path = save_club(page, options.out)
    print(f"{page.verdict}.")
    for report in page.reports:
        print(f"{report.garden.name}: {words.verdict(report)}. {words.numbers_behind(report)}")
    say_written(path, options.style)
