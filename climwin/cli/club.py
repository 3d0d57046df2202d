"""One page for several gardens side by side."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

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
from climwin.cli.writing import check_outputs, force_option


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
    """One page for several gardens side by side."""
    from climwin.page.club import write_club

    check_paper(options.style)
    outputs = page_files(options.out, options.style)
    check_outputs(outputs, inputs=[options.file], force=options.force, makes_folder=True)
    made = date_made(options.made)
    page = write_club(
        options.file,
        options.out,
        units=options.style.shown_units,
        made=made,
        few_years=options.few_years,
    )
    say_written(page, options.style)
