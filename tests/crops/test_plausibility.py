"""A crop file of one's own whose numbers no crop of the catalogue comes near is refused."""

import re

import pytest

from climwin.core.errors import RecordError
from climwin.crops.catalogue import crop, crop_names, read_crop
from climwin.crops.plausibility import unlike_all
from climwin.io.samples import sample

SOIL = "[[5, 29], [10, 11], [15, 6], [20, 4], [25, 4], [30, 3]]"
DAYS = "early = 58\nmain = 68\nlate = 85"
COLD = "damaged_at_c = -3.0, killed_at_c = -5.0"
WEEKS = """confidence = "thin"
weeks_under_cover = { usual = 42, fewest = 28, most = 56, source = "own notes" }"""


@pytest.mark.parametrize(
    ("right", "wrong", "said"),
    [
        (DAYS, "early = 400\nmain = 700\nlate = 850", "main is 700; .* 30 to 259, .*too many"),
        (DAYS, "early = 14\nmain = 16\nlate = 20", "main is 16; .*are they weeks"),
        ("emergence_days = 5", "emergence_days = 50", "emergence_days is 50"),
        ('confidence = "thin"', WEEKS, "usual is 42; .*are they days"),
        (
            SOIL,
            "[[5, 696], [10, 264], [20, 96]]",
            "days in germination.* is 696; .*hours",
        ),
        (SOIL, "[[5, 3], [10, 4], [15, 6], [20, 11]]", "after 3 days in soil of 5 degC, and no s"),
        ("maximum_c = 32.0", "maximum_c = 23.0", "response, maximum_c is 23; .*cool-season"),
        ("base_c = 4.0", "base_c = -16.0", "base_c is -16; .*without its sign"),
        ("maximum_from_c = 26.0, ", "maximum_from_c = 2.6, ", "maximum_from_c is 2.6"),
        (COLD, "damaged_at_c = 28, killed_at_c = -5.0", "damaged_at_c is 28; .*in degF"),
        (COLD, "damaged_at_c = 3.0, killed_at_c = -5.0", "has damaged_at_c lost its minus sign"),
        ("killed_at_c = -5.0", "killed_at_c = -50", "killed_at_c is -50"),
        ("hardens_by_c = 2.0", "hardens_by_c = 19", "hardens_by_c is 19"),
        ("day_length_h = 15.0", "day_length_h = 1.5", "day_length_h is 1.5; .*hours of daylight"),
        ("days = 10\n", "days = 1000\n", "long_day_bolting, days is 1000"),
        (
            'from = "sowing"',
            'from = "setting out"',
            'propagation is "seed", which is sown',
        ),
    ],
)
def test_a_number_that_no_crop_comes_near_is_refused(tmp_path, right, wrong, said):
    sound = sample("own_crop.toml").read_text()
    assert right in sound
    file = tmp_path / "own.toml"
    file.write_text(sound.replace(right, wrong, 1))
    with pytest.raises(RecordError, match=f"^own.toml: .*{said}"):
        read_crop(file)


def test_what_is_allowed_is_told_with_what_was_given(tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(sample("own_crop.toml").read_text().replace("late = 85", "late = 850"))
    with pytest.raises(RecordError) as refused:
        read_crop(file)
    told = re.search(r"it is (\S+) to (\S+), and (\S+) to (\S+) is", str(refused.value))
    least, most, low, high = map(float, told.groups())
    late = [each.maturity.late for each in map(crop, crop_names()) if each.maturity]
    assert (least, most) == (min(late), max(late))
    assert 0 < low < least
    assert most < high < 850


def test_crops_judged_by_all_others_pass_but_for_three():
    catalogue = [crop(name) for name in crop_names()]
    odd = [
        each.name for each in catalogue if unlike_all(each, [o for o in catalogue if o is not each])
    ]
    assert odd == ["Florence fennel", "garlic", "strawberry"]


def test_a_kind_of_number_that_few_crops_have_is_not_judged():
    carrot = crop("carrot")
    assert carrot.vernalization is not None
    assert unlike_all(carrot, [crop("pea")] * 3) == ""


def test_an_unusual_crop_is_taken_as_its_file_says(tmp_path):
    """A late maturity of 850 days is refused above; here its grower says that it is right."""
    unusual = sample("own_crop.toml").read_text().replace("late = 85", "late = 850")
    file = tmp_path / "own.toml"
    file.write_text(unusual)
    with pytest.raises(RecordError, match='write "unusual = true" at the top of the file'):
        read_crop(file)
    file.write_text(f"unusual = true\n{unusual}")
    assert read_crop(file).maturity.late == 850


def test_numbers_that_contradict_each_other_are_refused_of_an_unusual_crop_too(tmp_path):
    contradicting = (
        sample("own_crop.toml").read_text().replace('from = "sowing"', 'from = "setting out"')
    )
    file = tmp_path / "own.toml"
    file.write_text(f"unusual = true\n{contradicting}")
    with pytest.raises(RecordError, match="which is sown in place") as refused:
        read_crop(file)
    assert "unusual" not in str(refused.value)
