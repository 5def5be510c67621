"""Random data sets, by seed, that R's survival package was asked about; see r/answers.R."""

import numpy as np
import polars as pl

SEEDS = range(1, 51)


def world(seed: int) -> pl.DataFrame:
    """Lives of parts, some of one vehicle, entered late, in tenths of a year so that ages tie.

    `looked` is the age of one look at the part; `count` how many lives share the row.
    """
    rng = np.random.default_rng(seed)
    n = int(rng.integers(40, 160))
    grade, use = rng.choice(["a", "b"], n), np.round(rng.normal(size=n), 3)
    entry = np.where(rng.random(n) < 0.5, 0.0, np.round(rng.uniform(0, 4, n), 1))
    scale = 7 * np.exp(-0.3 * use + 0.3 * (grade == "b"))
    exit_ = np.round(entry + 0.1 + scale * rng.weibull(rng.uniform(0.8, 3), n), 1)
    ending = rng.choice(["failed", "renewed", "in service"], n, p=[0.5, 0.2, 0.3])
    return pl.DataFrame(
        {
            "vehicle": rng.integers(0, n // 2, n),
            "grade": grade,
            "use": use,
            "entry": entry,
            "exit": exit_,
            "ending": ending,
            "failed": ending == "failed",
            "looked": np.round(rng.uniform(0.5, 10, n), 1),
            "count": rng.integers(1, 4, n).astype(float),
        }
    )
