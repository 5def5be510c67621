"""A frame of lives: vehicle, entry, lower, upper, count, as `histories.counts` means them."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.errors import EstimateError
from wornby.histories.counts import check_counts


def check_lives(lives: pl.DataFrame, what: str) -> None:
    """Refuse, with an EstimateError, the first life that cannot be, or that has no vehicle."""
    check_counts(lives, what)
    if nameless := lives["vehicle"].null_count():
        raise EstimateError(f"{what}: {nameless} of {lives.height} rows name no vehicle")


def vehicle_places(vehicle: pl.Series) -> NDArray[np.int64]:
    """Each row's vehicle as a place, from nought, in the order of the names."""
    return (vehicle.rank("dense").cast(pl.Int64) - 1).to_numpy()
