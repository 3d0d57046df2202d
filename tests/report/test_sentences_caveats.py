"""Doubts in words, on findings made up by hand: which way, how much, since when."""

import re
from types import SimpleNamespace

import pytest
import records
import xarray as xr

import climwin as cw
from climwin.climate.level import LEAST_LEVEL_YEARS, todays_climate
from climwin.core.status import OBSERVED, UNKNOWN
from climwin.io.departure import Degrees, Departure
from climwin.report import caveats
from climwin.report import sentences_caveats as words
from climwin.report.caveats import LastYear, MissingMonths, Step, Warming
from climwin.shelter.covers import COVERS, Cover, Response


def step(**given):
    values = {
        "variable": "tmin",
        "first_year": 1998,
        "size_c": 1.2,
        "earliest": 1998,
        "latest": 1998,
        "kind": "step",
        "drift_c": 0.4,
    }
    return Step(**values | given)


@pytest.mark.parametrize(
    ("size", "way", "other"), [(1.2, "warmer", "colder"), (-1.2, "colder", "warmer")]
)
def test_a_step_is_warmer_or_colder_from_its_year_on(size, way, other):
    text = words._one_step(step(size_c=size), "C")
    assert f"from 1998 on are 1.2 °C {way}" in text
    assert other not in text
    assert "(" not in text


def test_a_sudden_step_is_to_be_held_against_a_neighbour_before_its_older_years_are_trusted():
    text = words._moved((step(),), "C")
    assert "Perhaps the station moved or got another instrument" in text
    assert "with a neighbouring station before you trust the older years" in text


def test_a_steps_doubts_stand_beside_it():
    text = words._one_step(step(earliest=1995, latest=2001, kind="step or drift"), "C")
    assert text.startswith("nights from 1998 on are 1.2 °C warmer (")
    assert "the change came between 1995 and 2001" in text
    assert "slow drift would fit nearly as well" in text  # a step fits better, but not clearly
    near = words._one_step(step(earliest=1962, latest=1963), "C")
    assert "the change came in 1962 or 1963" in near
    moved = words._moved((step(),), "C")
    assert "older years" in moved
    assert words._moved((), "C") == ""


@pytest.mark.parametrize(("drift", "way"), [(0.4, "warmer"), (-0.4, "colder")])
def test_a_drift_is_told_by_decade(drift, way):
    assert f"0.4 °C {way} every ten years" in words._drifts((step(drift_c=drift),), "C")


@pytest.mark.parametrize(
    ("slope", "way", "other"), [(0.3, "warmer", "colder"), (-0.3, "colder", "warmer")]
)
def test_the_years_to_come_go_the_way_of_the_trend(slope, way, other):
    text = words._warming(Warming(slope), "C")
    assert f"grown {way} here, by 0.3 °C every ten years" in text
    assert f"years to come may be {way}" in text
    assert other not in text
    beside = words._warming(Warming(slope, 0.0), "C")
    assert "no clear trend is left" in beside
    assert "by 0.3 °C every ten years" in beside
    assert other not in beside
    turned = words._warming(Warming(slope, -2 * slope), "C")
    assert f"Apart from that sudden change it has grown {other} here, by 0.6 °C every ten" in turned
    assert way not in turned
    assert words._warming(None, "C") == ""


def test_a_record_that_stopped_says_when_and_how_long_ago():
    text = words._old(LastYear(2014, 12))
    assert "stops in 2014, 12 years ago" in text
    assert "If it has grown warmer since, freezes now end earlier and summers are hotter" in text
    assert "Use a station that still reports" in text
    assert words._old(None) == ""


def test_missing_months_are_set_against_the_usual_one():
    text = words._missing(MissingMonths((4, 5), 0.3, 0.02))
    assert text.startswith("Days are missing mostly in April and May: 30 % of them, ")
    assert "against 2 % in the usual month" in text


@pytest.mark.parametrize(
    ("above", "side", "way", "wrong"),
    [(300.0, "above", "colder", "warmer"), (-300.0, "below", "warmer", "colder")],
)
def test_a_higher_garden_is_colder_and_a_lower_one_warmer(above, side, way, wrong):
    text = words._height(above, "C")
    assert f"300 m {side} the station" in text
    assert f"{way}, by the usual" in text
    assert wrong not in text
    assert "2.0 °C" in text or "1.9 °C" in text  # 6.5 degC a kilometre
    assert words._height(None, "C") == ""


def test_a_far_station_has_other_nights():
    text = words._distance(45.0, "C")
    assert "45 km from your garden" in text
    assert "other nights" in text


SPOT = {"latitude": 46.1, "longitude": 7.2}


@pytest.mark.parametrize(
    ("place", "km"),
    [
        ((7.2, 46.1), 5700),  # latitude and longitude in each other's places
        ((-46.1, 7.2), 92.2 * 111.2),  # a degree of latitude: 111.2 km
        ((46.1, 17.2), None),  # ten degrees of longitude: 771 km
        ((46.1, 12.2), 0),  # five: 386 km
        ((46.1, 7.2), 0),
    ],
)
def test_a_garden_of_another_climate_is_doubted_before_anything_else(place, km):
    record = records.weather(8, years=3).assign_attrs(SPOT)
    garden = cw.Garden("Here", *place)
    first = words.record_caveats(record, garden=garden)[0]
    assert first.startswith(words.CHECK_PLACE) is (km != 0)
    if km:
        told = re.search(r"is (\S+) km from the garden", first)[1]
        assert float(told.replace(",", "")) == pytest.approx(km, rel=0.02)
    if km != 0:
        assert "changed places or lost a sign" in first
        assert not any("frosts may come on other nights" in text
                       for text in words.record_caveats(record, garden=garden))  # fmt: skip


@pytest.mark.parametrize("moved", [False, True])
@pytest.mark.parametrize(("height", "metres"), [(3280.0, 1680), (580.0, -1020), (2580.0, None)])
def test_a_garden_at_another_height_is_doubted_before_anything_else(height, metres, moved):
    """A kilometre is 6.5 degC in the standard atmosphere, whether the record was moved or not."""
    record = records.weather(8, years=3).assign_attrs(SPOT | {"elevation": 1600.0})
    garden = cw.Garden("Here", 46.1, 7.2, height)
    record = cw.adjust_to_garden(record, garden) if moved else record
    first, *rest = words.record_caveats(record, garden=garden)
    assert first.startswith(words.CHECK_PLACE) is (metres is not None)
    if metres:
        assert f"is {abs(metres)} m {'above' if metres > 0 else 'below'} the station" in first
        assert f"{abs(metres) * 6.5 / 1000:.1f} °C {'colder' if metres > 0 else 'warmer'}" in first
        assert "in feet" in first
        assert not any("Your garden is" in text for text in rest)


@pytest.mark.parametrize(("given", "is_doubted"), [(9, True), (29, True), (40, False), (170, True)])
def test_a_need_in_weeks_is_doubted(given, is_doubted):
    report = SimpleNamespace(
        given_need_days=given, given_band=None, needs=(60, 80), crop=cw.crop("pea")
    )
    text = words.doubtful_need(report)
    assert bool(text) is is_doubted
    if text:
        assert f"gave {given} days as the need of peas" in text
        assert "the crop stands outdoors for 60 to 80 days to its first harvest" in text
        assert "not in weeks" in text


def test_years_that_missing_days_decide_are_counted_by_what_they_decide():
    ahead = SimpleNamespace(odds=[xr.Dataset({"leaning": 2})])
    report = SimpleNamespace(
        shorter=xr.Dataset({"leaning": 3}), ahead=ahead, best=0, daily=xr.Dataset(),
        crop=cw.crop("pea"), need_days=70,
    )  # fmt: skip
    text = words._report_leaning(report)
    assert text.startswith("In 3 years missing days decide whether the mild spell was long enough")
    assert "harvest. Missing days are filled in many times" in text
    assert "in 2 years missing days decide whether there was a harvest" in text
    assert "Counts, dates and causes of failure are those of the other years" in text
    assert re.search(r"ranges allow for all\b", text)  # what is not counted is drawn
    ahead.odds = [xr.Dataset({"leaning": 0})]
    assert "harvest" not in words._report_leaning(report)
    report.shorter = xr.Dataset({"leaning": 0})
    assert words._report_leaning(report) == ""


@pytest.mark.parametrize(("leads", "mild"), [("record", True), ("today", False)])
def test_the_climate_that_odds_are_of_is_named(leads, mild):
    daily = records.weather(3, years=30)
    of_kind = {"spring freeze": leads}
    report = SimpleNamespace(today=object(), daily=daily, leading=of_kind.__getitem__)
    text = words.which_climate(report)
    assert "globe" not in text
    assert "for today's climate" in text
    assert "past years show those years as they were" in text
    assert ("so mild a place" in text) is mild


def test_a_short_record_says_that_its_warming_is_assumed():
    daily = records.weather(3, years=12)
    report = SimpleNamespace(today=todays_climate(daily), daily=daily, leading=lambda _: "today")
    text = words.which_climate(report)
    assert text.endswith("so the warming of the whole globe is assumed.")


@pytest.mark.parametrize(
    ("count", "known"),
    [
        (0, "no whole year"),
        (1, "only 1 whole year"),
        (LEAST_LEVEL_YEARS - 1, f"only {LEAST_LEVEL_YEARS - 1} whole years"),
    ],
)
def test_a_record_too_short_for_todays_climate_says_so(count, known):
    record = records.weather(3, years=max(count, 1))
    if not count:
        record = record.isel(time=slice(None, 300))
    daily = todays_climate(record)
    assert daily.attrs.get("climate", "record") == "record"
    text = words.which_climate(SimpleNamespace(today=None, daily=daily))
    assert text.startswith(f"With {known}, today's climate cannot be told from that of earlier")
    assert "all odds count the years as they were" in text
    assert "frost is less likely" in text


def test_a_late_step_is_why_todays_climate_is_not_told():
    daily = records.weather(2, years=45)
    later = daily["time"].dt.year > int(daily["time"].dt.year[-1]) - 8
    for name in ("tmin", "tmax", "tmean"):
        daily[name] = (daily[name] + 4.0 * later).assign_attrs(daily[name].attrs)
    daily = todays_climate(daily)
    text = words.which_climate(SimpleNamespace(today=None, daily=daily))
    assert "Too few years have passed since the sudden change" in text
    assert "all odds count the years as they were" in text


def test_a_record_of_todays_climate_needs_no_word_about_it():
    daily = todays_climate(records.weather(3, years=30))
    assert daily.attrs["climate"] == "today"
    assert words.which_climate(SimpleNamespace(today=None, daily=daily)) == ""


@pytest.mark.parametrize("count", [3, LEAST_LEVEL_YEARS - 1])
def test_where_it_may_be_warmer_now_frost_is_less_likely_and_heat_likelier(count):
    daily = todays_climate(records.weather(3, years=count))
    text = words.which_climate(SimpleNamespace(today=None, daily=daily))
    assert (
        "If it is warmer now, frost is less likely than they say, and great heat likelier" in text
    )


def test_so_mild_a_place_is_not_moved_because_that_makes_its_odds_no_better():
    daily = records.weather(3, years=30)
    report = SimpleNamespace(today=object(), daily=daily, leading=lambda _: "record")
    text = words.which_climate(report)
    of_frost = text.removeprefix(words.OF_TODAY)
    assert "The odds of a freeze count the years as they were, too" in of_frost
    assert re.search(r"so mild a place, moving them .* does not improve them\.$", of_frost)


def missing_report(unknown, months=(4, 5)):
    shorter = xr.Dataset({"shorter": 20, "known": 36, "unknown": unknown})
    months = MissingMonths(months, 0.3, 0.02)
    return SimpleNamespace(missing_months=months, shorter=shorter, crop=cw.crop("pea"))


def test_days_are_lost_in_bad_weather_and_years_left_open_bound_the_odds():
    text = words._report_missing(missing_report(4))
    assert text.startswith("Days are missing mostly in April and May: 30 % of them")
    assert "These months decide for peas, and" in text
    july = words._report_missing(missing_report(4, (7,)))
    assert july.startswith("Days are missing mostly in July: ")
    assert "This month decides for peas, and" in july
    assert "not lost by chance alone: cold, wet weeks may be the ones nobody read" in text
    assert "Were all the years left open too short, it would be 24 of 40 years" in text
    assert "were none, 20 of 40 years" in text
    assert "Were" not in words._report_missing(missing_report(0))
    assert words._report_missing(SimpleNamespace(missing_months=None)) == ""


def test_numbers_can_be_moved_to_a_gardens_height_and_a_thermometer_tells_more():
    text = words._height(300.0, "C")
    assert (
        "can be moved to your height, but a thermometer there for a season tells you more" in text
    )


@pytest.mark.parametrize(("km", "doubted"), [(501, True), (499, False)])
def test_a_place_that_far_away_is_another_climate(monkeypatch, km, doubted):
    monkeypatch.setattr(words, "distance_to_station", lambda *_: float(km))
    monkeypatch.setattr(words, "height_difference", lambda *_: None)
    garden = cw.Garden("Here", 46.1, 7.2)
    text = words.misplaced(garden, xr.Dataset(), "C")
    assert bool(text) is doubted
    assert ("That is another climate" in text) is doubted
    beside = "".join(words._elsewhere(garden, xr.Dataset(), "C"))
    assert bool(beside) is not doubted  # said once
    assert words.ANOTHER_PLACE_KM == 500


def test_missing_days_are_filled_in_many_times_from_what_is_known():
    alone = words._how_drawn(xr.Dataset())
    assert alone.startswith(
        "Missing days are filled in many times at random, from the days around them, so "
    )
    assert "such years count in part" in alone
    joined = words._how_drawn(xr.Dataset(dict.fromkeys(words.NEARBY.values(), 0)))
    assert "from stations nearby and the days around them" in joined


def test_odds_of_today_allow_for_a_warming_up_to_today():
    text = words._warming(Warming(0.3), "C", is_moved=True)
    assert "The odds allow for that up to today; the years to come may be warmer still." in text
    assert "than those counted" not in text


def test_what_neighbours_show_is_a_doubt_first_or_the_last_word(monkeypatch):
    monkeypatch.setattr(words, "compared", lambda *_: "It was compared.")
    left = xr.Dataset(attrs={words.CHANGES_LEFT: "tmin step 2012-07 2012-07 1.5 record"})
    for daily, is_left in ((left, True), (xr.Dataset(), False)):
        assert bool(words._changes_left(daily, "C")) is is_left
        assert bool(words._nothing_left(daily, "C")) is not is_left


def beside_with(monkeypatch, kind, size):
    columns = {"p": ("variable", [0.001]), "known": ("variable", [24])}
    monkeypatch.setattr(words, "_likeness", lambda *_: 0.8)
    monkeypatch.setattr(words, "detect_breakpoints", lambda *_: xr.Dataset(columns))
    monkeypatch.setattr(
        words, "clear_changes", lambda _: (step(kind=kind, size_c=size, drift_c=size),)
    )
    return words.beside(xr.Dataset(), xr.Dataset(attrs={"title": "Mill"}))


@pytest.mark.parametrize(("kind", "is_drift"), [("step", False), ("drift", True)])
@pytest.mark.parametrize("size", [1.2, -1.2])
def test_one_of_two_records_was_moved_at_once_or_something_grew_up(
    monkeypatch, kind, is_drift, size
):
    text = beside_with(monkeypatch, kind, size)
    assert text.startswith("Against Mill the record ")
    assert text.count("Mill") == 1
    assert "(24 years in common)" in text
    assert ("warmer" in text, "colder" in text) == (size > 0, size < 0)
    assert ("changes all at once" in text) is not is_drift
    assert ("moved or given another instrument" in text) is not is_drift
    assert ("Trees or houses may have grown up around one of the two" in text) is is_drift
    assert "a third station tells which" in text


@pytest.mark.parametrize(
    ("listed", "own", "asks"),
    [
        (1378.0, 420.0, "If 1378 was meant in feet, write 1378ft. "),  # 420 m
        (-420.0, 420.0, "It is -420 m, below the sea: has it a minus sign too many? "),
        (2200.0, 420.0, ""),
        (700.0, 420.0, None),
        (None, 420.0, None),
        (2200.0, None, None),
    ],
)
def test_a_list_and_a_record_of_two_heights_are_doubted_each_with_its_own(listed, own, asks):
    record = xr.Dataset(attrs={} if own is None else {"elevation": own})
    text = words.other_height(cw.Garden("Here", 46.1, 7.2, listed), record)
    assert text == (
        ""
        if asks is None
        else f"Check the place first: the list says {listed:.0f} m, and the record {own:.0f} m. "
        f"{asks}It may be the record of another station."
    )


def warmer_report(monkeypatch, every=12, windows=40, ways=1, *, winter=False):
    """A report of a record that grew warmer, with its short spells of all and of late years."""
    monkeypatch.setattr(words, "stands_through_winter", lambda _: winter)
    needed = [
        SimpleNamespace(way="sown outdoors", days=75),
        SimpleNamespace(way="after 6 weeks under cover", days=54),
    ]
    monkeypatch.setattr(words, "needs", lambda _: needed[:ways])
    return SimpleNamespace(
        clear_warming=Warming(0.3), today=None, crop=cw.crop("pea"), need_days=75,
        windows=xr.Dataset(coords={"season": range(windows)}),
        shorter=xr.Dataset({"shorter": every, "known": 39}),
        shorter_recently=xr.Dataset({"shorter": 3, "known": 15}),
    )  # fmt: skip


def test_short_spells_of_late_years_are_set_against_those_of_all(monkeypatch):
    warming = words._warming(Warming(0.3), "C")
    counts = "was too short in 3 of the latest 15 years, and in 12 of all 39."
    report = warmer_report(monkeypatch)
    assert words._report_warming(report, "C") == f"{warming} The mild spell {counts}"
    two = words._report_warming(warmer_report(monkeypatch, ways=2), "C")
    assert two == f"{warming} The mild spell for peas sown outdoors {counts}"
    for given in ({"every": 0}, {"windows": words.RECENT_YEARS}, {"winter": True}):
        assert words._report_warming(warmer_report(monkeypatch, **given), "C") == warming
    steady = warmer_report(monkeypatch)
    steady.clear_warming = None
    assert words._report_warming(steady, "C") == ""


@pytest.mark.parametrize("is_frozen", [True, False])
def test_frozen_soil_is_waited_for_until_it_has_thawed(monkeypatch, is_frozen):
    monkeypatch.setattr(words, "has_frozen_ground", lambda _: is_frozen)
    text = words.frozen_ground(xr.Dataset())
    assert bool(text) is is_frozen
    if is_frozen:
        assert text.startswith("Snow and frozen ground are not counted: ")
        assert text.endswith("in spring, wait until your soil has thawed and can be worked.")


def test_a_missing_day_that_may_hide_a_freeze_is_told_and_then_how_it_is_filled(monkeypatch):
    status, drawn = ("season", [UNKNOWN, OBSERVED, UNKNOWN]), (("season", "draw"), [[1.0, 2.0]] * 3)
    seen = ("season", [OBSERVED] * 3)
    columns = {"last_spring_status": status, "first_autumn_status": seen}
    columns |= {"last_spring_drawn": drawn, "first_autumn_drawn": drawn}
    monkeypatch.setattr(words, "freeze_dates", lambda _: xr.Dataset(columns))
    gap = xr.Dataset({"tmin": ("time", [1.0, float("nan")])})
    assert words._leaning(gap) == (
        "In 2 of 3 years a missing day may hide the last or the first freeze. "
        f"{words._how_drawn(gap)}"
    )
    columns["last_spring_status"] = seen
    assert words._leaning(gap) == ""
    assert words._leaning(gap.isel(time=[0])) == ""


def test_a_need_in_days_is_set_against_the_days_of_a_typical_year():
    report = SimpleNamespace(
        given_need_days=9, given_band=None, needs=(60, 60), crop=cw.crop("cauliflower")
    )
    assert words.doubtful_need(report) == (
        "You gave 9 days as the need of cauliflower. In a typical year here the crop stands "
        "outdoors for 60 days to its first harvest. A need is given in days, not in weeks."
    )
    report.given_band = object()
    assert words.doubtful_need(report) == ""


@pytest.mark.parametrize(("crop", "need", "is_said"), [("garlic", 250, False), ("pea", 60, True)])
def test_no_mild_spell_holds_what_stands_through_the_winter(crop, need, is_said):
    report = SimpleNamespace(
        shorter=xr.Dataset({"leaning": 3}), daily=xr.Dataset(), best=0, need_days=need,
        crop=cw.crop(crop), ahead=SimpleNamespace(odds=[xr.Dataset({"leaning": 1})]),
    )  # fmt: skip
    text = words._report_leaning(report)
    assert ("In 3 years missing days decide whether the mild spell was" in text) is is_said
    assert "n 1 year missing days decide whether there was a harvest" in text


@pytest.mark.parametrize(
    ("coldest", "lacking", "is_frozen"), [(-8.0, (), True), (4.0, (), False), (-8.0, "tmax", False)]
)
def test_winters_freeze_the_ground_where_both_extremes_say_so(coldest, lacking, is_frozen):
    daily = records.weather(3, years=2)
    swing = daily["time"].dt.month == 1
    for name in ("tmin", "tmax"):
        daily[name] = xr.where(swing, coldest, 10.0)
    assert caveats.has_frozen_ground(daily.drop_vars(lacking)) is is_frozen


@pytest.mark.parametrize(
    ("step", "said"),
    [
        (1.0, "whole degrees Celsius"),
        (5 / 9, "whole degrees Fahrenheit"),
        (0.5, "half degrees Celsius"),
        (0.1, "tenths of a degree Celsius"),
    ],
)
def test_the_step_of_a_thermometer_is_whole_half_or_a_tenth(monkeypatch, step, said):
    before = 0.1 if step == 1 else 1.0

    def told(*steps):
        found = xr.Dataset({"tmin": ("year", list(steps))}, {"year": [2001, 2002]})
        monkeypatch.setattr(words, "resolution", lambda _: found)
        return words.read_in(xr.Dataset())

    assert told(step, step) == f"Minima were read in {said}."
    assert told(before, step).endswith(
        f", in {said} from 2002 on. Thresholds allow for half a step."
    )


def test_a_height_that_may_be_in_feet_is_asked_about_after_what_it_means():
    """The station lies at 420 m, which are 1378 ft; air is 6.5 degC colder a kilometre higher."""
    text = words._height(1378.0 - 420.0, "C", 1378.0)
    assert re.fullmatch(
        r"Your garden is 958 m above the station, so expect it to be about 6\.2 °C colder, by the "
        r"usual 6\.5 °C \S.* If 1378 was meant in feet, write 1378ft\. The numbers can be moved .*",
        text,
    )


@pytest.mark.parametrize("leads", ["record", "today"])
def test_a_live_chart_names_the_climate_of_its_freezes(leads):
    of_kind = {"spring freeze": leads}
    report = SimpleNamespace(today=object(), leading=of_kind.__getitem__)
    text = words.chart_climate(report)
    assert text.startswith("Harvests ")
    of_today, as_they_were = text.split("; ")
    assert ("chances of a freeze" in of_today) is (leads == "today")
    assert ("chances of a freeze" in as_they_were) is (leads == "record")
    assert "in today's climate" in of_today
    assert as_they_were.endswith("of the years as they were.")
    assert "mild spells" in as_they_were
    report.today = None
    assert words.chart_climate(report) == ""


def test_a_logger_is_to_be_checked_before_what_is_wrong_with_it(monkeypatch):
    doubt = SimpleNamespace(text=lambda units: f"it is warm ({units}).")
    monkeypatch.setattr(words, "logger_departures", lambda *_: [doubt])
    assert words.logger_caveats(xr.Dataset(), units="F") == (
        "Check the logger first: it is warm (F).",
    )


def test_the_doubts_of_a_space_are_those_of_its_logger_and_told_in_the_readers_unit():
    warm = Departure("sun", ("its days are ", Degrees(10.0, is_difference=True), " hotter."), "Do.")
    space = Cover(name="x", coldest=Response(intercept_c=0), warmest=Response(intercept_c=0),
                  source="", doubts=(warm,))  # fmt: skip
    assert words.space_caveats(space, "F") == (
        "Check the logger first: Its days are 18.0 \N{DEGREE SIGN}F hotter. Do.",
    )
    assert words.space_caveats(COVERS["fleece"]) == ()


def test_a_record_that_holds_beside_its_neighbour_has_no_step_and_no_drift(monkeypatch):
    columns = {"p": ("variable", [0.6]), "known": ("variable", [24])}
    monkeypatch.setattr(words, "detect_breakpoints", lambda *_: xr.Dataset(columns))
    monkeypatch.setattr(words, "clear_changes", lambda _: ())
    monkeypatch.setattr(words, "_likeness", lambda *_: 0.8)
    text = words.beside(xr.Dataset(), xr.Dataset(attrs={"title": "Mill"}))
    assert text == ("Against Mill the record holds: no sudden step or drift in 24 years in common.")


@pytest.mark.parametrize(("crop", "is_told"), [("pea", True), ("apple", False)])
def test_only_what_is_begun_in_spring_waits_for_thawed_soil(monkeypatch, crop, is_told):
    monkeypatch.setattr(words, "_elsewhere", lambda *_: ("", "Somewhat higher.", ""))
    monkeypatch.setattr(words, "report_departures", lambda *_: ())
    monkeypatch.setattr(words, "frozen_ground", lambda _: "Snow.")
    for name in (
        "doubtful_need",
        "_report_warming",
        "_report_missing",
        "_report_leaning",
        "joined",
    ):
        monkeypatch.setattr(words, name, lambda *_: "")
    monkeypatch.setattr(words, "old_record", lambda *_: None)
    garden = cw.Garden("Here", 46.1, 7.2)
    report = SimpleNamespace(
        crop=cw.crop(crop), garden=garden, daily=xr.Dataset(), sudden_steps=(), plans=()
    )  # fmt: skip
    told = words._report_caveats(report, None, "C", "Of today.")
    assert told == ("Of today.", *["Snow."] * is_told, "Somewhat higher.")


# --- plants that wait, and a neighbour that is none ----------------------------------------


@pytest.mark.parametrize(
    ("name", "weeks", "usual"),
    [
        ("cauliflower", 10, ""),
        ("cauliflower", 11, "Cauliflower is usually raised for 5 to 7 weeks."),
        ("radish", 6, ""),
        ("radish", 7, "Radishes are usually sown in place."),
    ],
)
def test_plants_that_wait_too_long_under_cover_are_doubted(name, weeks, usual):
    text = words.old_seedlings(cw.Plan(cw.crop(name), "03-05", weeks, "cold frame"))
    assert bool(text) is bool(usual)
    assert usual in text
    if usual:
        assert text.startswith(f"You raise the plants for {weeks} weeks under cover.")


def test_a_neighbour_with_other_weather_says_nothing_of_steps():
    record, other = (records.weather(seed, years=15) for seed in (1, 2))
    text = words.beside(record, other.assign_attrs(station_name="Far"))
    assert text.startswith("Far says nothing of steps in this record: their days have too little")
    assert "Take a nearer station" in text
    near = record.assign_attrs(station_name="Near") + 0.0
    near["tmin"].attrs, near["tmax"].attrs = record["tmin"].attrs, record["tmax"].attrs
    assert "says nothing" not in words.beside(record, near)
