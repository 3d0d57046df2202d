"""Crops in sentences: their names, the part that is counted, and the verb for harvesting it."""

import pytest

from climwin.crops.catalogue import crop, crop_names, read_crop
from climwin.crops.naming import is_plural, plural
from climwin.io.samples import sample


@pytest.mark.parametrize("name", crop_names())
def test_every_crop_of_the_catalogue_has_a_part_that_is_counted(name):
    assert crop(name).harvested_part is not None


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("potato", ("potatoes", True, "lifted", "tubers")),
        ("cauliflower", ("cauliflower", False, "cut", "heads")),
        ("snap bean", ("snap beans", True, "picked", "pods")),
        ("Brussels sprouts", ("Brussels sprouts", True, "cut", "sprouts")),
        ("winter squash", ("winter squash", False, "harvested", "fruits")),
    ],
)
def test_the_words_of_some_crops(name, words):
    kind = crop(name)
    assert (plural(kind), is_plural(kind), kind.harvest_verb, kind.harvested_part) == words


def test_a_crop_of_ones_own_may_say_these_words():
    own = read_crop(sample("own_crop.toml"))
    assert (plural(own), is_plural(own)) == ("Pellbrook winter radishes", True)
    assert (own.harvest_verb, own.harvested_part) == ("pulled", "roots")


def without(text, tmp_path, *words):
    """A file of the text without the lines that begin with these words."""
    file = tmp_path / "mine.toml"
    kept = [line for line in text.splitlines() if not line.startswith(words)]
    file.write_text("\n".join(kept), "utf-8")
    return file


def test_a_crop_of_ones_own_without_these_words_keeps_its_name(tmp_path):
    text = sample("own_crop.toml").read_text("utf-8")
    own = read_crop(without(text, tmp_path, "plural", "harvest_verb", "harvested_part"))
    assert (plural(own), is_plural(own)) == (own.name, False)
    assert (own.harvest_verb, own.harvested_part) == ("harvested", None)


def test_a_verb_that_is_not_known_is_refused(tmp_path):
    text = sample("own_crop.toml").read_text("utf-8").replace('"pulled"', '"mown"')
    with pytest.raises(ValueError, match=r"harvest_verb must be one of cut, lifted.*got 'mown'"):
        read_crop(without(text, tmp_path))
