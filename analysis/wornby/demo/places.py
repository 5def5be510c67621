"""Where the parts of a Merrow sit, and what the catalogue says of them."""

import tomllib
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.demo.parameters import WorldParameters

DATA = files("wornby.demo")


def demo_data(name: str) -> dict[str, Any]:
    """One of the TOML files that lie beside this module."""
    return tomllib.loads(DATA.joinpath(name).read_text(encoding="utf-8"))


@dataclass(frozen=True, eq=False, slots=True)
class Places:
    """Every place of one van in which a component sits; arrays of one length, catalogue order.

    `scale` is in years, or in miles where `by_distance`. `bill_net` is what a failure there
    costs at the workshop: access, its own hours, a genuine part. `frail`: whether the van's own
    frailty bears on it.
    """

    names: tuple[str, ...]
    positions: tuple[str | None, ...]
    component: NDArray[np.int64]
    group: NDArray[np.int64]
    group_names: tuple[str, ...]
    shape: NDArray[np.float64]
    scale: NDArray[np.float64]
    by_distance: NDArray[np.bool_]
    degraded_years: NDArray[np.float64]
    side_correlation: NDArray[np.float64]
    added_by_other: NDArray[np.float64]
    frail: NDArray[np.bool_]
    bill_net: NDArray[np.float64]

    def of(self, name: str) -> int:
        """The first place of a component."""
        return self.names.index(name)

    def wear_per_year(
        self, place: NDArray[np.int64], miles_per_year: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """What a year adds to the age, distance or blend that a life in the place is counted in."""
        added = self.added_by_other[place]
        return np.where(
            self.by_distance[place], miles_per_year + added, 1.0 + added * miles_per_year
        )

    def table(self) -> pl.DataFrame:
        """One row a place: its number, component, position and access group."""
        groups = [self.group_names[g] for g in self.group]
        columns = {"component": self.names, "position": self.positions, "group": groups}
        schema = dict.fromkeys(columns, pl.String)
        return (
            pl.DataFrame(columns, schema=schema).with_row_index("place").cast({"place": pl.Int64})
        )


@dataclass(frozen=True, eq=False, slots=True)
class World:
    """What stays as it is while the world runs: its parameters, the places, the catalogue."""

    parameters: WorldParameters
    places: Places
    catalogue: dict[str, Any]


def merrow_world(parameters: WorldParameters) -> World:
    """The world of the Merrow: workshop.toml and the parameters brought together."""
    catalogue = demo_data("workshop.toml")
    return World(parameters, merrow_places(parameters, catalogue), catalogue)


def merrow_places(parameters: WorldParameters, catalogue: dict[str, Any]) -> Places:
    """The places of a Merrow from workshop.toml, with the true lives of the parameters."""
    groups = tuple(group["name"] for group in catalogue["access_group"])
    rows = [
        (number, component, position, parameters.lives[component["name"]])
        for number, component in enumerate(catalogue["component"])
        for position in component["positions"] or [None]
    ]
    frail = parameters.frail_components or tuple(parameters.lives)
    bills = bills_net(catalogue)
    return Places(
        names=tuple(component["name"] for _, component, _, _ in rows),
        positions=tuple(position for _, _, position, _ in rows),
        component=np.array([number for number, _, _, _ in rows]),
        group=np.array([groups.index(component["access_group"]) for _, component, _, _ in rows]),
        group_names=groups,
        shape=np.array([life.shape for _, _, _, life in rows]),
        scale=np.array([life.scale_value for _, _, _, life in rows]),
        by_distance=np.array([component["scale"] == "distance" for _, component, _, _ in rows]),
        degraded_years=np.array([life.degraded_years for _, _, _, life in rows]),
        side_correlation=np.array([life.side_correlation for _, _, _, life in rows]),
        added_by_other=np.array([life.added_by_other for _, _, _, life in rows]),
        frail=np.array([component["name"] in frail for _, component, _, _ in rows]),
        bill_net=np.array([bills[component["name"]] for _, component, _, _ in rows]),
    )


def bills_net(catalogue: dict[str, Any]) -> dict[str, float]:
    """What each component's failure costs the owner: access and own hours and a genuine part."""
    access = {group["name"]: group["access_hours"] for group in catalogue["access_group"]}
    price = catalogue["money"]["labour_price_per_hour"]
    return {
        component["name"]: price * (access[component["access_group"]] + component["own_hours"])
        + component["part_price_net"]["genuine"]
        for component in catalogue["component"]
    }
