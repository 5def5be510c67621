"""How often the interval of failures to come holds them, at a nominal 90 %.

Workshops with a known Weibull: vehicles come in old, are watched for some years, and their parts
fail and are renewed. The curve's posterior is found as for real records, the failures of the next
year are forecast for the parts in service, and then that year is lived. Run as
`python tests/studies/prediction_coverage.py WORKSHOPS`.
"""

import sys

import numpy as np
import polars as pl

from wornby.curves.few_failures import weibull_posterior
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.decisions.expected import expected_failures
from wornby.histories.counts import Counts

CELLS = [(shape, vehicles) for shape in (1.2, 2.5, 4.0) for vehicles in (100, 300)]
SCALE, RETURNS = 12.0, 0.8


def one_workshop(shape: float, vehicles: int, rng: np.random.Generator) -> tuple[bool, bool]:
    """Whether the count of the next year lay inside, and whether it lay above."""
    entry = rng.uniform(0, 10, vehicles)
    watched = entry + rng.uniform(1, 8, vehicles)
    spent = (entry / SCALE) ** shape + rng.exponential(size=vehicles)
    life = SCALE * spent ** (1 / shape)
    failed = life <= watched
    end = np.minimum(life, watched)
    table = pl.DataFrame(
        {"entry": entry, "lower": end, "upper": np.where(failed, end, np.inf), "count": 1.0}
    )
    counts = Counts(table, "years", "part", "as watched")
    draws = weibull_posterior(counts, prior=CAR_COMPONENT).draws(rng, 2000)
    ages = np.concatenate([watched[~failed], (watched - life)[failed]])
    told = expected_failures(draws, ages, horizon_years=1.0, return_chance=RETURNS)
    chance = RETURNS * -np.expm1((ages / SCALE) ** shape - ((ages + 1) / SCALE) ** shape)
    seen = int((rng.random(ages.size) < chance).sum())
    return told.lower <= seen <= told.upper, seen > told.upper


def main(n: int) -> None:
    """Print a row for each shape and number of vehicles."""
    print("shape  vehicles  inside  above  (standard error of inside)")
    for shape, vehicles in CELLS:
        told = np.array(
            [one_workshop(shape, vehicles, np.random.default_rng([k, vehicles])) for k in range(n)]
        )
        inside, above = told.mean(axis=0)
        error = np.sqrt(inside * (1 - inside) / n)
        print(f"{shape:5.1f}  {vehicles:8d}  {inside:6.1%}  {above:5.1%}  ({error:.1%})")


if __name__ == "__main__":
    main(int(sys.argv[1]))
