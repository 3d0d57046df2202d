"""The catalogue of crops, and crop files of your own."""

from __future__ import annotations

import re
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from climwin.core.errors import Call, InputError, RecordError, nearest_names
from climwin.core.formatting import as_typed
from climwin.crops.model import Crop
from climwin.crops.plausibility import out_of_step, unlike_all
from climwin.io.structured import from_toml, read_toml

WARMEST_DEATH_C = 3.0
"""Air at this temperature kills no plant, hardened or not: basil, the most tender crop of the
catalogue, dies at 2 degC (common practice). In a panel one may move the limit further. [degC]"""


@lru_cache
def crop_names() -> tuple[str, ...]:
    """Names of the crops in the catalogue, in alphabetical order.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.crop_names()[:3]
    ('amaranth', 'apple', 'artichoke')
    """
    names = [file.name for file in files("climwin.crops").joinpath("data").iterdir()]
    found = [name[:-5].replace("-", " ") for name in names if name.endswith(".toml")]
    return tuple(sorted(found, key=str.casefold))


OTHER_NAMES = {
    "aubergine": "eggplant",
    "beetroot": "beet",
    "black eyed pea": "cowpea",
    "bok choy": "pak choi",
    "bush bean": "snap bean",
    "butternut squash": "winter squash",
    "cantaloupe": "muskmelon",
    "capsicum": "sweet pepper",
    "celery root": "celeriac",
    "cherry": "sweet cherry",
    "chili": "hot pepper",
    "chili pepper": "hot pepper",
    "chilli": "hot pepper",
    "chilli pepper": "hot pepper",
    "cilantro": "coriander",
    "collard greens": "collards",
    "corn": "sweet corn",
    "courgette": "summer squash",
    "edamame": "vegetable soybean",
    "escarole": "endive",
    "fava bean": "broad bean",
    "french bean": "snap bean",
    "globe artichoke": "artichoke",
    "green bean": "snap bean",
    "green onion": "spring onion",
    "haricot bean": "dry bean",
    "kumara": "sweet potato",
    "leaf beet": "chard",
    "maize": "sweet corn",
    "mangetout": "pea",
    "marrow": "summer squash",
    "melon": "muskmelon",
    "napa cabbage": "Chinese cabbage",
    "oyster plant": "salsify",
    "physalis": "cape gooseberry",
    "pole bean": "snap bean",
    "radicchio": "chicory",
    "rocket": "arugula",
    "savoy": "savoy cabbage",
    "scallion": "spring onion",
    "silverbeet": "chard",
    "snow pea": "pea",
    "southern pea": "cowpea",
    "string bean": "snap bean",
    "sugar snap": "pea",
    "sugar snap pea": "pea",
    "sunchoke": "Jerusalem artichoke",
    "swede": "rutabaga",
    "sweetcorn": "sweet corn",
    "swiss chard": "chard",
    "zucchini": "summer squash",
}
"""Other common names of some crops."""


def crop(name: str) -> Crop:
    """A crop of the catalogue.

    Parameters
    ----------
    name : str
        One of `crop_names`, or another common name of the crop; capitals, spaces, hyphens and the
        plural do not matter. Or the path of your own file that ends in ``.toml``, see `read_crop`.

    Raises
    ------
    ValueError
        If there is no such crop; the message suggests similar names.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.crop("Brussels Sprouts").botanical
    'Brassica oleracea var. gemmifera'
    >>> cw.crop("courgettes").name
    'summer squash'
    """
    if name.endswith(".toml"):
        return read_crop(name)
    known = _known_names()
    if _plain(name) not in known:
        near = dict.fromkeys(known[each] for each in nearest_names(_plain(name), known))
        nearest = f" Nearest: {', '.join(near)}." if near else ""
        msg = (
            f"The catalogue has no crop {name!r}.{nearest} ",
            Call("crop_names"),
            " lists all; ",
            Call("read_crop", ("path",)),
            " reads a file of your own.",
        )
        raise InputError(*msg, parameter="crop")
    return _from_catalogue(known[_plain(name)])


@lru_cache
def _known_names() -> dict[str, str]:
    """Names of the catalogue by all known names, in `_plain` form."""
    names = {_plain(each): each for each in crop_names()}
    return names | {_plain(each): meant for each, meant in OTHER_NAMES.items()}


def _plain(name: str) -> str:
    """Name in lower case, with the last word in the singular."""
    plain = re.sub(r"[\s_-]+", " ", name).strip().casefold()
    if plain.endswith("ies"):
        return f"{plain[:-3]}y"
    if plain.endswith(("oes", "shes", "ches")):
        return plain[:-2]
    return plain.removesuffix("s") if not plain.endswith(("ss", "us")) else plain


@lru_cache
def _from_catalogue(name: str) -> Crop:
    file = f"{name.replace(' ', '-')}.toml"
    return from_toml(Crop, files("climwin.crops").joinpath("data", file).read_bytes(), file)


def read_crop(path: str | Path) -> Crop:
    """Read a crop from your own TOML file, in the form of the catalogue's files.

    Parameters
    ----------
    path : str or Path
        A UTF-8 file of at most 1 MB.

    Raises
    ------
    RecordError
        If the file cannot be used; the message names the file, the table and key, what was given
        and what is allowed.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.read_crop("mine.toml")  # doctest: +SKIP
    """
    read = read_toml(Crop, path)
    for stage in read.stages:
        if stage.cold.killed_at_c >= WARMEST_DEATH_C:
            msg = (
                f"{Path(path).name}, stage {stage.name!r}: killed_at_c must be below "
                f"{as_typed(WARMEST_DEATH_C)} degC, got {as_typed(stage.cold.killed_at_c)}. Has it "
                "lost its minus sign, or is it in degF?"
            )
            raise RecordError(msg)
    wrong = "" if read.unusual else unlike_all(read, map(crop, crop_names()))
    if wrong:
        wrong += ' If it is right, write "unusual = true" at the top of the file.'
    wrong = wrong or out_of_step(read)
    if wrong:
        msg = f"{Path(path).name}: {wrong}"
        raise RecordError(msg)
    return read
