"""Crops in sentences: each has one part that is counted, and one verb for bringing it in."""

from collections import Counter

import pytest

from climwin.crops import naming
from climwin.crops.catalogue import crop, crop_names, read_crop
from climwin.io.samples import sample


def test_every_crop_of_the_catalogue_has_one_part_that_is_counted():
    listed = Counter(name for names in naming._PARTS.values() for name in names)
    assert set(listed) == set(crop_names())
    assert set(listed.values()) == {1}


def test_every_crop_has_one_verb():
    listed = Counter(
        name
        for names in (naming.CUT, naming.LIFTED, naming.PULLED, naming.PICKED)
        for name in names
    )
    assert set(listed) <= set(crop_names())
    assert set(listed.values()) == {1}


@pytest.mark.parametrize(
    ("name", "part", "verb"),
    [
        ("potato", "tubers", "lifted"),
        ("cauliflower", "heads", "cut"),
        ("snap bean", "pods", "picked"),
    ],
)
def test_the_words_of_three_crops(name, part, verb):
    assert (naming.harvested_part(crop(name)), naming.harvest_verb(crop(name))) == (part, verb)


def test_a_crop_of_ones_own_has_no_part_of_its_own():
    assert naming.harvested_part(read_crop(sample("own_crop.toml"))) is None
