"""Small published sets, each through the loader of ready-made lives or of job lines."""

from pathlib import Path

import pytest
from open_data.where import open_folder

from wornby.curves.intervals import turnbull
from wornby.curves.nonparametric import kaplan_meier
from wornby.curves.parametric import WeibullCurve, weibull
from wornby.curves.recurrence import mean_cumulative_function
from wornby.histories.counts import Counts, count_lives
from wornby.histories.recurring import recurrences
from wornby.records.lives import read_lives
from wornby.records.reading import read_records


def counts_of(name: str, folder: Path, *, rows: int) -> Counts:
    """The set's counts, with every row accepted."""
    lives = read_lives(open_folder(name, folder))
    assert (lives.ledger.n_read, lives.ledger.n_accepted) == (rows, rows)
    (counts,) = count_lives(lives.table, rule="watched from new").values()
    return counts


def scale_and_shape(curve: WeibullCurve) -> tuple[float, float]:
    """The two numbers that a book prints."""
    return curve.scale, curve.shape


def test_bearing_cages(tmp_path: Path) -> None:
    """Abernethy et al. 1983; Meeker & Escobar 1998, example 8.16: beta 2.035, eta 11,792 hours
    (recalled from memory).
    """
    counts = counts_of("bearing_cage", tmp_path, rows=25)
    assert (counts.n_lives, counts.n_failures) == (1703, 6)
    assert scale_and_shape(weibull(counts)) == pytest.approx((11_792, 2.035), rel=5e-4)


def test_shock_absorbers(tmp_path: Path) -> None:
    """O'Connor 1985; Meeker & Escobar 1998, table C.2: scale 27,718.7 km, shape 3.16047
    (computed with R's survival package). The file's header says miles; the book kilometres.
    """
    counts = counts_of("shock_absorber", tmp_path, rows=38)
    assert (counts.n_lives, counts.n_failures) == (38, 11)
    assert scale_and_shape(weibull(counts)) == pytest.approx((27_718.7, 3.16047), rel=1e-5)
    assert float(kaplan_meier(counts, confidence=0.95).survival(6_700)) == pytest.approx(37 / 38)


def test_heat_exchanger_tubes(tmp_path: Path) -> None:
    """Meeker & Escobar 1998, chapter 1 and 3. Weibull: R's survreg; the nonparametric answer
    1, 0.98667, 0.96162, 0.94180: R's survfit on interval data (both computed).
    """
    counts = counts_of("heat_exchanger", tmp_path, rows=9)
    assert (counts.n_lives, counts.n_failures) == (300, 11)
    assert scale_and_shape(weibull(counts)) == pytest.approx((23.6199239, 1.34551503), rel=2e-5)
    survival = turnbull(counts).survival([1, 2, 3])
    assert survival.tolist() == pytest.approx([0.98667, 0.96162, 0.94180], abs=5e-6)


def test_part_cracking(tmp_path: Path) -> None:
    """`cracks` in R's survival package: successive looks at 167 parts, 73 uncracked at the end
    (its documentation, recalled from memory). At each look the share cracked so far is the
    nonparametric answer: a count, no estimate.
    """
    counts = counts_of("part_cracking", tmp_path, rows=9)
    assert (counts.n_lives, counts.n_failures) == (167, 94)
    looks = [186, 606, 902, 1077, 1209, 1377, 1592, 1932]
    cracked = [5, 21, 33, 51, 69, 71, 77, 94]
    survival = turnbull(counts).survival(looks)
    assert survival.tolist() == pytest.approx([1 - n / 167 for n in cracked], abs=1e-9)


def test_valve_seats(tmp_path: Path) -> None:
    """Nelson & Doganaksoy 1989, Nelson 1995; `valveSeat` in R's survival package. Mean number
    of replacements for each engine by 61, 76 and 653 days: R (computed), 1.5427 at the end
    with the two replacements of one engine on day 653 kept at one age.
    """
    records = read_records(open_folder("valve_seat", tmp_path))
    history = recurrences(records, "valve seat")
    assert history.filter("failed").height == 48
    mcf = mean_cumulative_function(history, confidence=0.95)
    days = [61 / 365.25, 76 / 365.25, 653 / 365.25]
    assert mcf.mean(days).tolist() == pytest.approx([1 / 41, 2 / 41, 1.5427], abs=5e-5)
    assert history["vehicle"].n_unique() == 41
