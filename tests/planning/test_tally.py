"""What became of a year: the order in which conditions settle it."""

import numpy as np
import numpy.testing as npt

from climwin.planning.plan import Conditions
from climwin.planning.tally import (
    OPEN,
    REASONS,
    SUCCEEDED,
    WARM_SOIL_DAYS,
    StageTally,
    Tally,
    count_fates,
)
from climwin.planning.weather import Count

GOOD = {"within": (10, 10), "late": (0, 0), "autumn": (0, 0), "warm": (5, 5), "hot": 0, "cold": 0}
CASES = [
    (GOOD, SUCCEEDED),
    (GOOD | {"within": (7, 7), "hot": 3}, SUCCEEDED),  # 7 of 10 days are enough
    (GOOD | {"within": (6, 8)}, OPEN),
    (GOOD | {"late": (0, 1)}, OPEN),
    (GOOD | {"warm": (4, 5)}, OPEN),
    (GOOD | {"within": (6, 6), "hot": 2, "cold": 2}, "too hot"),
    (GOOD | {"within": (6, 6), "hot": 1, "cold": 3}, "too cold"),
    (GOOD | {"within": (6, 6), "hot": 4, "warm": (4, 4)}, "soil too cold"),
    (GOOD | {"within": (6, 6), "hot": 4, "warm": (4, 4), "autumn": (1, 1)}, "autumn freeze"),
    (GOOD | {"autumn": (1, 1), "late": (1, 1)}, "late freeze"),
    (GOOD | {"autumn": (1, 1), "late": (0, 1)}, "autumn freeze"),  # fails in any case
]


def test_the_first_reason_in_order_settles_a_year():
    def column(name):
        pairs = np.array([case[name] for case, _ in CASES])
        return Count(*pairs.T[:, :, None]) if pairs.ndim == 2 else pairs[:, None]

    stage = StageTally(10, column("within"), column("hot"), column("cold"))
    tally = Tally(Conditions(), [stage], column("late"), column("autumn"), column("warm"))
    codes = [REASONS.index(fate) if isinstance(fate, str) else fate for _, fate in CASES]
    npt.assert_array_equal(tally.fate[:, 0], codes)
    succeeded, known, unknown, failed_by = count_fates(tally.fate)
    assert (succeeded[0], known[0], unknown[0]) == (2, len(CASES) - 3, 3)
    npt.assert_array_equal(failed_by[0], [codes.count(code) for code in range(len(REASONS))])
    assert REASONS == ("late freeze", "autumn freeze", "soil too cold", "too hot", "too cold")


def test_conditions_that_are_not_asked_settle_nothing():
    one = np.array([[1]])
    nothing, always = Count(0 * one, 0 * one), Count(WARM_SOIL_DAYS * one, WARM_SOIL_DAYS * one)
    stage = StageTally(10, Count(3 * one, 3 * one), 7 * one, 0 * one)
    cold_soil = Conditions(share_in_band=0.3, warm_soil=False)
    assert Tally(cold_soil, [stage], nothing, nothing, nothing).fate.item() == SUCCEEDED
    two_nights, night = Conditions(share_in_band=0.3, killing_freezes=2), Count(one, one)
    assert Tally(two_nights, [stage], night, night, always).fate.item() == SUCCEEDED
    assert Tally(two_nights, [stage], night + night, night, always).fate.item() == 1


def test_stages_add_up():
    one = np.array([[1]])
    stages = [StageTally(n, Count(n * one, n * one), one, 2 * one) for n in (4, 6)]
    both = stages[0] + stages[1]
    assert (both.days, both.within.least.item(), both.hot.item(), both.cold.item()) == (
        10,
        10,
        2,
        4,
    )
    assert both.share.item() == 1
    assert np.isnan(StageTally(0, Count(0 * one, 0 * one), one, one).share.item())
