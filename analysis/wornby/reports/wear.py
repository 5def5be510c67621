"""Whether the places of a component wear alike on one vehicle, stated or told by the records."""

import numpy as np
import polars as pl

from wornby.curves.wear_alike import SharedLives, shared_lives
from wornby.decisions.shared_wear import SharedPlaces
from wornby.errors import EstimateError
from wornby.histories.counts import DAYS_PER_YEAR
from wornby.records.catalogue import Component
from wornby.reports.amounts import in_cases, percent
from wornby.reports.workshop import Workshop

N_WEARS = 2000
STATED = "{name}: its places are taken to wear alike as workshop.toml states, Kendall's tau {tau:g}"
TOLD = (
    "{name}: its places wear alike as the records tell: of two vehicles, the one whose first place "
    "lasts longer has the second that lasts longer with the chance {chance}; 50 % were no tie "
    "(Kendall's tau {value:.2f}, {lower:.2f} to {upper:.2f})"
)
PLAINLY = (
    "{name}: its places wear alike, as {who}: of two vehicles, the one whose first place lasts "
    "longer has the second that lasts longer in {cases}, where 50 would be chance"
)


def told_lives(workshop: Workshop, component: Component) -> SharedLives:
    """How alike the originals in a component's places have lived; refused where it is not known.

    Vehicles on which no line says which place was renewed are left out.
    """
    curve = workshop.original.get(component.name)
    if curve is None or curve.weibull is None:
        raise EstimateError(
            f"{component.name}: no curve is fitted to originals: whether places wear alike is not "
            "known"
        )
    own = workshop.episodes.table.filter(
        (pl.col("component") == component.name) & (pl.col("origin") == "original")
    )
    shared_out = own.filter(pl.col("weight") < 1).select("vehicle").unique()
    whole = own.join(shared_out, on="vehicle", how="anti", maintain_order="left")
    by_age = component.scale == "age"
    lives = whole.select(
        "vehicle",
        "failed",
        entry=pl.col("entry_days") / DAYS_PER_YEAR if by_age else pl.col("entry_mi"),
        sound=pl.col("sound_days") / DAYS_PER_YEAR if by_age else pl.col("sound_mi"),
        exit=pl.col("exit_days") / DAYS_PER_YEAR if by_age else pl.col("exit_mi"),
    ).drop_nulls()
    at = pl.when("failed").then((pl.col("sound") + pl.col("exit")) / 2).otherwise("exit")
    return shared_lives(
        lives.with_columns(exit=at),
        shape=curve.weibull.shape,
        scale=curve.weibull.scale,
        n=N_WEARS,
        rng=workshop.rng(f"{component.name} wear"),
        what=component.name,
    )


def places_alike(workshop: Workshop, component: Component) -> SharedPlaces | None:
    """How alike the places of a component wear; None: one place, or taken as independent.

    What workshop.toml states goes before what the records tell; stated as 0, or not known, the
    places are taken to live independently.
    """
    if len(component.positions) < 2 or component.shared_wear == 0:
        return None
    places = tuple(f"{component.name}, {place}" for place in component.positions)
    if component.shared_wear is not None:
        tau = component.shared_wear
        told = STATED.format(name=component.name, tau=tau)
        plainly = _plainly(component.name, tau, "the workshop states")
        return SharedPlaces(places, np.array([2 * tau / (1 - tau)]), told, plainly)
    try:
        found = told_lives(workshop, component)
    except EstimateError:
        return None
    tau_told = found.estimate(confidence=workshop.confidence)
    chance = percent((1 + (tau_told.value or 0.0)) / 2)
    told = TOLD.format(
        name=component.name,
        value=tau_told.value,
        lower=tau_told.lower,
        upper=tau_told.upper,
        chance=chance,
    )
    plainly = _plainly(component.name, tau_told.value or 0.0, "the records tell")
    return SharedPlaces(places, found.variance, told, plainly)


def _plainly(name: str, tau: float, who: str) -> str:
    return PLAINLY.format(name=name, who=who, cases=in_cases((1 + tau) / 2))
