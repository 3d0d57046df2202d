"""The result of a check: how a record departs from those of all land stations, and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from climwin.core.formatting import difference, temperature
from climwin.core.schema import Units
from climwin.core.wording import capitalized, listed

NAMES = {"tmin": "the minimum", "tmax": "the maximum", "tmean": "the mean"}
"""Temperatures of a day, in a sentence."""

CHECK_FIRST = "Check the record first: "
"""Beginning of a sentence on why a record may be wrong."""

_SHOWN_RUNS = 4  # runs of years that a sentence lists


@dataclass(frozen=True, slots=True)
class Degrees:
    """A temperature, or a temperature difference, to be written in the reader's unit.

    Parameters
    ----------
    value : float
        [degC]
    is_difference : bool
        Whether it is a difference.
    is_exact : bool
        Whether tenths are told, as of a value that somebody has to find in a file.
    """

    value: float
    is_difference: bool = False
    is_exact: bool = False

    def text(self, units: Units) -> str:
        """The number with its unit."""
        if self.is_difference:
            return difference(self.value, units)
        return temperature(self.value, units, int(self.is_exact))


Evidence = tuple[str | Degrees, ...]
"""Pieces of a sentence."""


@dataclass(frozen=True, slots=True)
class Departure:
    """One way in which a record departs from what every land station's record shows.

    Parameters
    ----------
    test : str
        Name of the test.
    what : tuple of str or Degrees
        The evidence: which variable, which years, what number, and what is normal.
    advice : str
        What to do.
    years : tuple of int
        Years that it concerns; empty for the whole record.
    refused : bool
        Whether no weather could cause it, so that a file with it is refused.
    variable : str
        The variable that it is about, if it is only one.
    also : tuple of str
        Other variables for which the same is true, in the same years.
    """

    test: str
    what: Evidence
    advice: str
    years: tuple[int, ...] = ()
    refused: bool = False
    variable: str = ""
    also: tuple[str, ...] = ()

    def text(self, units: Units = "C") -> str:
        """The evidence and the advice in words."""
        return f"{self.evidence(units)} {self.advice}"

    def evidence(self, units: Units = "C") -> str:
        """What is wrong, in words, without what to do about it."""
        pieces = [each.text(units) if isinstance(each, Degrees) else each for each in self.what]
        evidence = "".join(pieces)
        others = " and ".join(NAMES[name] for name in self.also)
        too = f" The same is true of {others}." if others else ""
        return f"{capitalized(evidence)}{too}"


def merged(found: Iterable[Departure]) -> list[Departure]:
    """Departures, with those of one test for several variables in the same years as one."""
    first: dict[object, Departure] = {}
    for number, each in enumerate(found):
        key: object = (each.test, each.years) if each.variable else number
        if key not in first:
            first[key] = each
            continue
        before = first[key]
        also = (*before.also, *({each.variable} - {before.variable, *before.also}))
        first[key] = replace(before, also=also, refused=before.refused or each.refused)
    return list(first.values())


def listed_years(years: Iterable[int]) -> str:
    """Years in a sentence, with runs given by their first and last.

    Examples
    --------
    >>> listed_years([1981, 1982, 1983, 1990])
    '1981 to 1983 and 1990'
    """
    runs: list[list[int]] = []
    for year in sorted(int(year) for year in years):
        if runs and year == runs[-1][1] + 1:
            runs[-1][1] = year
        else:
            runs.append([year, year])
    shown = [str(first) if first == last else f"{first} to {last}" for first, last in runs]
    if len(shown) > _SHOWN_RUNS:
        count = sum(last - first + 1 for first, last in runs[_SHOWN_RUNS - 1 :])
        shown = [*shown[: _SHOWN_RUNS - 1], f"{count} more years"]
    return listed(shown)
