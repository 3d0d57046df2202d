"""Tables are read by anyone: plain heads, units, dates; the numbers stay what they were."""

import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import climwin as cw
from climwin.core.seasons import day_name
from climwin.report.tables import BLANK, MINUS, in_words


@pytest.fixture(scope="module")
def daily():
    return cw.read_daily(cw.sample())


def cells(table):
    """Rows of a table, their blanks plain."""
    return [[label, *row] for label, row in zip(table.index, plain(table), strict=True)]


def plain(table):
    return [[text.replace(BLANK, " ") for text in row] for row in table.to_numpy()]


def test_days_become_dates_and_odds_become_chances(daily):
    odds = cw.freeze_odds(daily)
    table = in_words(odds, ["last_spring", "freeze_free_days"])
    assert table.columns.name == "Chance"
    assert list(table.columns) == [
        "Spring: a frost on this day or later",
        "Days without frost, at least",
    ]
    assert table.index[0] == "1 in 10".replace(" ", BLANK)
    day = day_name(int(np.floor(float(odds["last_spring"][0]) + 0.5)))  # halves are rounded up
    assert plain(table)[0] == [day, f"{float(odds['freeze_free_days'][0]):.0f}"]


def test_two_ends_stand_in_one_column():
    found = xr.Dataset({"low": ("part", [0.264, np.nan]), "high": ("part", [0.5162, np.nan])})
    table = in_words(found.assign_coords(part=["rise", "fall"]), ["low to high"])
    assert cells(table) == [
        ["Spring's mild spell", "26 % to 52 %"],
        ["Autumn's mild spell", "unknown"],
    ]


def test_a_result_without_dimensions_stands_below_itself():
    found = xr.Dataset({"both": 4, "difference": -0.359, "low": -0.5, "high": 0.02})
    table = in_words(found, ["both", "difference", "low to high"])
    assert list(table.index) == [
        *("Both gave a harvest", "Share of the first less that of the second"),
        "Likely range in the long run",
    ]
    assert plain(table) == [["4"], [f"{MINUS}36 %"], [f"{MINUS}50 % to 2 %"]]


# 1.8 degF are 1 degC of difference; 10 degC are 50 degF.
@pytest.mark.parametrize(
    ("units", "wanted"), [("C", ["10.0", f"{MINUS}1.0"]), ("F", ["50.0", f"{MINUS}1.8"])]
)
def test_temperatures_and_their_differences_have_the_unit_in_the_head(units, wanted):
    found = xr.Dataset(
        {
            name: ("station", [v], {"units": "degC"})
            for name, v in (("mean", 10), ("difference", -1))
        }
    ).assign_coords(station=["Pass"])
    table = in_words(found, ["mean", "difference"], units=units)
    assert list(table.columns) == [f"Mean (°{units})", f"Warmer than the first (°{units})"]
    assert cells(table) == [["Pass", *wanted]]


def test_windows_have_dates_and_say_what_is_not_known():
    found = xr.Dataset(
        {
            "start": ("season", np.array(["2001-04-23", "NaT"], "datetime64[s]")),
            "length": ("season", [72.0, np.nan]),
            "status": ("season", ["observed", "unknown"]),
        },
        coords={"season": [2001, 2002]},
    )
    assert cells(in_words(found, ["start", "length", "status"])) == [
        ["2001", "23 Apr", "72", "yes"],
        ["2002", "", "", "no: a gap hides it"],
    ]


@pytest.mark.parametrize(("seasons", "head"), [([2001], "Year"), (["spring"], "Season")])
def test_a_season_is_a_year_or_one_of_the_seasons_of_dates(seasons, head):
    found = xr.Dataset({"season": ("span", seasons), "share": ("span", [0.9])})
    table = in_words(found, ["season", "share"])
    assert table.columns.name == head
    assert cells(table) == [[str(seasons[0]), "90 %"]]


def test_a_table_is_said_as_a_result_is_and_names_without_words_stay():
    table = pd.DataFrame({"crop": ["pea"], "cover": ["none"], "of_ours": ["x"]})
    told = in_words(table, ["crop", "cover", "of_ours"])
    assert told.columns.tolist() == ["Cover", "Of ours"]
    assert cells(told) == [["pea", "sown outdoors", "x"]]


def test_a_crop_without_cover_is_sown_planted_or_stands_there_already():
    rows = {
        "crop": ["pea", "potato", "pear", "leek"],
        "cover": ["none", "none", "none", "cold frame"],
    }
    rows |= {
        "propagation": ["seed", "tubers", "perennial", "seed or plants"],
        "weeks": [0, 0, 0, 8],
    }
    coords = {name: ("plan", values) for name, values in rows.items()}
    days = {"first_day": ("plan", [60.0, 90, 1, 50]), "last_day": ("plan", [70.0, 99, 1, 52])}
    table = in_words(xr.Dataset(days, coords), ["crop", "cover", "weeks", "first_day to last_day"])
    assert cells(table) == [
        ["pea", "sown outdoors", "", "1 Mar to 11 Mar"],
        ["potato", "planted outdoors", "", "31 Mar to 9 Apr"],
        ["pear", "established plants", "", "no date"],
        ["leek", "cold frame", "8", "19 Feb to 21 Feb"],
    ]


def test_a_crop_that_never_suits_has_no_dates(daily):
    found = xr.Dataset(
        {"crop": ("plan", ["pea", "okra"]), "first_day": ("plan", [60.0, np.nan])}
    ).assign(last_day=("plan", [70.0, np.nan]), weeks=("plan", [0, 3]))
    told = in_words(found, ["crop", "weeks", "first_day to last_day"])
    assert cells(told) == [["pea", "0", "1 Mar to 11 Mar"], ["okra", "3", "no date"]]


@pytest.mark.parametrize(
    ("column", "words", "opposite"),
    [
        ("last_spring", "Spring or later", "earlier"),
        ("first_autumn", "Autumn or earlier", "later"),
        ("freeze_free_days", "without at least", "with a"),
        ("freeze_day", "First killing", "Last"),
        ("warm_soil_day", "warm", "cold"),
        ("shorter", "too short", "long"),
        ("shorter_share", "too short", "long"),
        ("known", "known", "not"),
        ("unknown", "not known", "all"),
        ("start", "Begins", "Ends"),
        ("end", "Ends", "Begins"),
        ("begin_day", "Begins", "Ends"),
        ("end_day", "Ends", "Begins"),
        ("harvest_begin", "begins", "ends"),
        ("harvest_end", "ends", "begins"),
        ("both", "Both a harvest", "either"),
        ("only_plan", "Only first", "second"),
        ("only_other", "Only second", "first"),
        ("neither", "Neither", "Both"),
        ("harvested", "with a harvest", "good"),
        ("good", "good", "poor"),
        ("good_share", "good", "poor"),
        ("elsewhere_share", "left out chosen", "kept"),
        ("elsewhere_known", "left out", "kept"),
        ("elsewhere_harvested", "Harvests left out", "kept"),
        ("skill", "Better than", "Worse"),
        ("held", "that held", "missed"),
        ("followed", "followed", "before"),
        ("came", "in which it came", "not"),
        ("days_outdoors", "outdoors to the first harvest", "indoors"),
        ("killed", "cold ended", "heat"),
        ("seen", "so far", "to come"),
        ("failed", "Failed", "Succeeded"),
        ("coldest", "Coldest inside", "outside"),
        ("hottest", "Hottest inside", "outside"),
        ("too_cold", "too cold", "hot"),
        ("too_hot", "too hot", "cold"),
        ("present", "present", "missing"),
        ("missing", "missing", "present"),
        ("set_aside", "rejected", "present"),
        ("break_year", "after the step", "before"),
        ("tmin", "Minimum", "Maximum"),
        ("tmax", "Maximum", "Minimum"),
        ("tmin_days", "from days", "years"),
        ("tmin_years", "of years", "days"),
        ("weeks", "under cover", "outdoors"),
        ("own_share", "your harvests", "others"),
        ("freezes", "with a frost", "without"),
        ("limit", "limits", "helps"),
        ("growth", "1 best temperature", "worst"),
        ("expected_crop", "of the best", "worst"),
        ("harvest_usual", "begins typical", "ends"),
        ("emergence", "came up", "down"),
        ("set_out", "Set out", "in"),
        ("best_day", "Best about", "worst"),
        ("best_for", "Best for", "worst"),
        ("start_day", "Sow", "plant"),
        ("rule", "Odds from", "until"),
    ],
)
def test_a_head_says_what_stands_below_it(column, words, opposite):
    number = pd.DataFrame({"name": ["x"], column: [np.nan]})
    head = in_words(number, ["name", column]).columns[0]
    assert {word.lower() for word in words.split()} <= {*re.findall(r"\w+", head.lower())}
    assert head != column.replace("_", " ").capitalize() or words == head  # it has a head
    assert not re.search(rf"\b{opposite}\b", head, re.IGNORECASE)


@pytest.mark.parametrize(
    ("criterion", "said"),
    [("mean", "mean"), ("extremes", "minimum and maximum"), ("hours", "half of its hours")],
)
def test_how_a_day_counts_is_told_by_its_rule(criterion, said):
    table = in_words(pd.DataFrame({"name": ["x"], "criterion": [criterion]}), ["name", "criterion"])
    assert said in table.iloc[0, 0]


@pytest.mark.parametrize(
    ("variable", "said"),
    [("tmin", "minimum"), ("tmax", "maximum"), ("tmean", "mean"), ("precip", "rain")],
)
def test_what_was_measured_has_its_name(variable, said):
    table = in_words(pd.DataFrame({"name": ["x"], "variable": [variable]}), ["name", "variable"])
    assert said in table.iloc[0, 0].split()


@pytest.mark.parametrize("pair", ["harvest_first to harvest_last", "begin_first to begin_last"])
def test_a_span_of_dates_holds_in_eight_years_of_ten(pair):
    first, last = pair.split(" to ")
    table = in_words(pd.DataFrame({"name": ["x"], first: [190.0], last: [215.0]}), ["name", pair])
    assert "8 years out of 10" in table.columns[0]
    assert table.columns[0].startswith("Harvest begins,") is pair.startswith("harvest")
    assert table.iloc[0, 0].replace(BLANK, " ") == "9 Jul to 3 Aug"


def test_less_the_first_is_a_difference_from_it():
    found = xr.Dataset(
        {"difference": ("station", [-1.0], {"units": "degC"})}, {"station": ["Pass"]}
    )
    [head] = in_words(found, ["difference"]).columns
    assert head.startswith("Warmer than the first")


@pytest.mark.parametrize(
    ("column", "head"),
    [
        ("last_spring", "Spring: a frost on this day or later"),
        ("first_autumn", "Autumn: a frost on this day or earlier"),
        ("warm_soil_day", "Soil warm by"),
        ("odds", "Chance"),
        ("leaning", "Years that hang on missing days"),
        ("first_day to last_day", "Sow or plant"),
        ("reason", "Why it failed"),
        ("odds_given", "Odds given"),
        ("p", "Chance alone, p"),
        ("harvested", "Years with a harvest"),
        ("good", "Years with a good one"),
        ("good_share", "Share of a good harvest"),
        ("seen", "Years that came so far"),
        ("came", "Years in which it came"),
        ("followed", "Years that followed"),
        ("held", "Ranges that held"),
        ("freezes", "Days a year with a frost"),
        ("freeze_free_days", "Days without frost, at least"),
        ("own_share", "Rests on your harvests"),
        ("growth", "Growth, 1 is the best that temperature allows"),
        ("expected_crop", "Expected crop, of the best"),
        ("coldest", "Coldest inside (°C)"),
        ("hottest", "Hottest inside (°C)"),
        ("explained", "Variance explained"),
        ("criterion", "A day counts if"),
        ("break_year", "First year after the step"),
        ("killed", "Years in which cold ended it"),
        ("freeze_day", "First killing frost"),
        ("expected_date", "Harvest expected, middle year"),
        ("model_date", "Harvest by the model of that year"),
        ("days_outdoors", "Days outdoors to the first harvest"),
        ("harvest_usual", "Harvest begins, typical year"),
        ("elsewhere_share", "Share in years left out when the date was chosen"),
        ("elsewhere_known", "Years left out when the date was chosen"),
        ("elsewhere_harvested", "Harvests in years left out when the date was chosen"),
        ("difference", "Share of the first less that of the second"),
        ("window_median", "Mild spell, typical year (days)"),
        ("sowings", "Harvests that count"),
        ("days", "Days on a packet"),
        ("error", "Error on days left out (°C)"),
        *((f"{name}_days", "from days") for name in ("tmin", "tmax", "tmean")),
        *((f"{name}_years", "of years") for name in ("tmin", "tmax", "tmean")),
        *((f"{name}_se", "give or take") for name in ("tmin", "tmax", "tmean")),
    ],
)
def test_a_head_says_on_which_side_of_its_day_or_of_what_it_is(column, head):
    """Of one word's difference: a day or a night, earlier or later, failed or not."""
    ends = column.split(" to ")
    table = in_words(pd.DataFrame({"name": ["x"], **{end: [np.nan] for end in ends}}),
                     ["name", column])  # fmt: skip
    assert table.columns[0].rstrip(" ") == head  # blanks keep equal heads apart


@pytest.mark.parametrize(
    ("column", "said"),
    [
        ("next_low to next_high", r"^Likely .*next ten years"),
        ("good_next_low to good_next_high", r"good one: likely .*next ten years"),
        ("low to high", r"^Likely range in the long run"),
        ("freeze_low to freeze_high", r"^That frost: likely range"),
        ("skill_low to skill_high", r"^likely range"),
        ("elsewhere_low to elsewhere_high", r"^That share: likely range in the long run"),
        ("good_low to good_high", r"^A good one: likely range in the long run"),
        ("warm_soil_low to warm_soil_high", r"^Likely range in the long run"),
        ("expected_first to expected_last", r"expected, in 8 years of 10"),
    ],
)
def test_a_range_is_likely(column, said):
    pair = column.split(" to ")
    frame = pd.DataFrame({"name": ["x"], pair[0]: [np.nan], pair[1]: [np.nan]})
    assert re.search(said, in_words(frame, ["name", column]).columns[0])


@pytest.mark.parametrize(
    ("status", "said"), [("observed", "yes"), ("none", "yes: none"), ("unknown", "no: a gap hides")]
)
def test_a_spell_is_known_to_be_none_or_hidden_by_a_gap(status, said):
    table = in_words(pd.DataFrame({"name": ["x"], "status": [status]}), ["name", "status"])
    assert table.columns[0] == "Known"
    assert table.iloc[0, 0].startswith(said)


def test_a_day_counts_within_its_limits():
    frame = pd.DataFrame({"name": ["x"], "criterion": ["mean"]})
    assert in_words(frame, ["name", "criterion"]).iloc[0, 0].endswith("is within the limits")


@pytest.mark.parametrize(
    "column",
    ["start", "end", "emergence", "set_out", "harvest_begin", "harvest_end", "harvest",
     "expected_date", "model_date"],
)  # fmt: skip
def test_the_days_of_a_year_are_told_without_it(column):
    found = pd.DataFrame({"name": ["x"], column: [np.datetime64("2001-05-03")]})
    assert plain(in_words(found, ["name", column])) == [["3 May"]]
