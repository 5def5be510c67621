"""Worked examples of raking and of Turnbull's curve that others printed."""

import numpy as np
import pytest

from wornby.curves.intervals import turnbull
from wornby.survey.weighting import rake

from .curve_data import counts_of

MARRIED_LAST_YEAR = [
    [1306, 83, 0], [619, 765, 3], [263, 1194, 9], [173, 1372, 28],
    [171, 1393, 51], [159, 1372, 81], [208, 1350, 108], [1116, 4100, 2329],
]  # fmt: skip
OF_AN_AGE, OF_A_STATUS = [1412, 1402, 1450, 1541, 1681, 1532, 1662, 7644], [3988, 11702, 2634]
MARRIED_NOW = [
    [1325.27, 86.73, 0.00], [615.56, 783.39, 3.05], [253.94, 1187.18, 8.88],
    [165.13, 1348.55, 27.32], [173.41, 1454.71, 52.87], [147.21, 1308.12, 76.67],
    [202.33, 1352.28, 107.40], [1105.16, 4181.04, 2357.81],
]  # fmt: skip
"""Persons of eight ages by marital status, brought to the totals of the year after.

Bishop, Fienberg & Holland, Discrete Multivariate Analysis (1975), as in the example "Iterative
Proportional Fitting" of the SAS/IML user's guide, where last year's table and the totals were
looked up. The adjusted table printed there is given from memory and was confirmed, to the two
decimals of the print, by 5,000 rounds of plain scaling in R.
"""


def test_raking_gives_the_printed_table_of_ages_by_marital_status() -> None:
    found = rake(MARRIED_LAST_YEAR, [OF_AN_AGE, OF_A_STATUS]).table
    assert found == pytest.approx(np.array(MARRIED_NOW), abs=0.005)


LOWER = [0, 6, 24, 24, 48, 48, 168, 168, 500, 500, 1000, 1000, 2000]
UPPER = [6, 12, 48, np.inf, 168, np.inf, 500, np.inf, 1000, np.inf, 2000, np.inf, np.inf]
COUNT = [6, 2, 2, 1, 1, 839, 1, 150, 2, 149, 1, 147, 122]
FAILED_BY = {6: 0.0042, 12: 0.0056, 48: 0.0070, 168: 0.0088, 500: 0.0111}
"""Microprocessors looked at now and then, in hours: Nelson, Accelerated Testing (1990).

Data looked up in the SAS/STAT user's guide, LIFEREG procedure, example of probability plotting
with arbitrary censoring. The Turnbull estimates printed there are given from memory; since no
two intervals overlap they are also those of a product over the looks, by hand, in the next test.
"""


def test_turnbull_gives_the_printed_shares_of_microprocessors() -> None:
    curve = turnbull(counts_of(LOWER, UPPER, count=COUNT))
    found = 1 - curve.survival(list(FAILED_BY))
    assert found == pytest.approx(np.array(list(FAILED_BY.values())), abs=0.00005)


def test_turnbull_is_the_product_over_looks_where_intervals_do_not_overlap() -> None:
    """Failed of those still under test at each look, counted off the table."""
    failed = np.array([6, 2, 2, 1, 1, 2, 1])
    under_test = np.array([1423, 1417, 1414, 573, 422, 272, 123])
    curve = turnbull(counts_of(LOWER, UPPER, count=COUNT))
    by_hand = np.cumprod(1 - failed / under_test)
    assert curve.survival([6, 12, 48, 168, 500, 1000, 2000]) == pytest.approx(by_hand, abs=1e-9)
