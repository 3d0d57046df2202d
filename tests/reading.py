"""A page as a person reads it."""

import base64
import gzip
import json
import re
from html.parser import HTMLParser
from urllib.parse import unquote

import numpy as np

from climwin.core.wording import capitalized
from climwin.crops.naming import plural

LETTERS_OF_BASE85 = str.maketrans(",./", "&<>")
"""What `climwin.page.live` writes for letters that HTML would take for its own."""


class Reader(HTMLParser):
    """Tags, their attributes, headings, and the text that a person reads."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.text, self.heads, self.within = [], [], [], ""
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.within = tag
        if re.fullmatch("h[1-6]", tag):
            self.heads.append([tag, ""])

    def handle_endtag(self, _):
        self.within = ""

    def handle_data(self, data):
        if self.within in ("style", "script"):
            return
        self.text.append(data)
        if re.fullmatch("h[1-6]", self.within):
            self.heads[-1][1] += data

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]

    @property
    def words(self):
        return " ".join(" ".join(self.text).split())


def plan_odds(plan, odds):
    """What the front end says of a plan, from the library's odds of a harvest."""
    harvested, known, good = (int(odds[name]) for name in ("harvested", "known", "good"))
    years = "year" if known == 1 else "years"
    return (
        f"{capitalized(plan.name)}: {plural(plan.crop)} gave a harvest in {harvested} of {known} "
        f"{years}, a good one in {good}"
    )


def carried(address):
    """Kind and text of a file that a link's address carries."""
    kind, _, text = address.partition(",")
    return kind, unquote(text)


def from_letters(text):
    """Whole numbers that `climwin.widgets.payload.letters` wrote."""
    places = np.array([ord(letter) for letter in text], dtype=int)
    return places - ord("#") - np.where(places < 0xD800, 0, 0x800)


def signed(places):
    """0, -1, 1, -2, 2, ... from the numbers that count them."""
    return np.where(places % 2, -(places + 1) // 2, places // 2)


def codes_of(packed):
    """Outcome codes of a plan of `climwin.widgets.payload.outcomes`, shape (years, start days)."""
    codes = signed(from_letters(packed["codes"]))
    return np.repeat(codes, from_letters(packed["code_counts"])).reshape(-1, 365)


def live_numbers(zipped):
    """What a page gives its live chart, and of its plans the way and the outcomes of each."""
    given = json.loads(gzip.decompress(base64.b85decode(zipped.translate(LETTERS_OF_BASE85))))
    columns = given["plans"]
    ways, outcomes = (
        [
            dict(zip(columns[part], row, strict=True))
            for row in zip(*columns[part].values(), strict=True)
        ]
        for part in ("ways", "outcomes")
    )
    plans = [way | {"outcomes": each} for way, each in zip(ways, outcomes, strict=True)]
    return given | {"plans": plans}
