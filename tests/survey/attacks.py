"""An attack on what a club publishes: solve for every number that was withheld.

It shares no code with what chooses the numbers to withhold. The attacker has all published tables
and knows, beyond them, how many members of each model year and version answered, what each of
them weighs to three digits, and how many answers made no life.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from survey.drawn_clubs import PARTS, DrawnClub

Array = NDArray[np.float64]
STATES = ("renewed", "original", "unsure")


@dataclass
class Attack:
    """What an attacker knows of one component: equations over unknown whole numbers from 0 up."""

    members: Array
    rows: list[Array] = field(default_factory=list)
    least: list[float] = field(default_factory=list)
    most: list[float] = field(default_factory=list)

    @property
    def unknowns(self) -> int:
        """Answers by stratum and state, and the lives of renewed and of original parts."""
        return 3 * self.members.size + 2

    def told(self, row: Array, least: float, most: float) -> None:
        """Learn that a sum lies between two numbers."""
        self.rows.append(row)
        self.least.append(least)
        self.most.append(most)

    def solution(self, objective: Array) -> Array:
        """Whole numbers that agree with all that is known and make the objective least."""
        found = milp(
            objective,
            constraints=LinearConstraint(np.array(self.rows), self.least, self.most),
            bounds=Bounds(0, np.inf),
            integrality=np.ones(self.unknowns, dtype=np.int64),
        )
        assert found.x is not None, found.message
        return np.round(found.x)


def row_of(strata: NDArray[np.bool_], what: str, weight: Array | None = None) -> Array:
    """The row that sums a state, or all answers, over some of the strata."""
    table = np.zeros((strata.size, 3))
    columns = range(3) if what == "answers" else [STATES.index(what)]
    for column in columns:
        table[strata, column] = 1.0 if weight is None else weight[strata]
    return np.append(table.ravel(), [0.0, 0.0])


@dataclass(frozen=True)
class Withheld:
    """One number that was withheld: where, what it was, and its row."""

    where: str
    truth: float
    row: Array


def attacked(club: DrawnClub) -> Iterator[tuple[Attack, list[Withheld]]]:
    """For each component published what an attacker knows, and what was withheld."""
    strata, said = members_and_answers(club)
    for component in club.published.by_component["component"].to_list():
        of_one = said.filter(component=component)
        truth = true_unknowns(club, component, of_one, strata)
        yield one_attack(club, component, strata, truth)


def members_and_answers(club: DrawnClub) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Each stratum of members, and what each member said in the sheet itself."""
    weighed = club.weighted.answers.select(
        "respondent", "model_year", "weight", "weight_group", "version_group"
    )
    stratum = pl.struct("weight_group", "version_group").rank("dense") - 1
    placed = weighed.with_columns(stratum=stratum.cast(pl.Int64))
    strata = (
        placed.group_by("stratum")
        .agg(
            pl.col("weight", "version_group").first(),
            members=pl.len(),
            first=pl.col("model_year").min(),
            last=pl.col("model_year").max(),
        )
        .sort("stratum")
    )
    long = club.sheet.unpivot(PARTS, index="respondent", variable_name="component")
    words = {"renewed": "renewed", "original": "original", "don't know": "unsure"}
    said = long.filter(pl.col("value").is_in(list(words))).with_columns(
        state=pl.col("value").replace_strict(words)
    )
    return strata, said.join(placed.select("respondent", "stratum"), on="respondent")


def true_unknowns(
    club: DrawnClub, component: str, said: pl.DataFrame, strata: pl.DataFrame
) -> Array:
    """What the unknowns are in truth, from the sheet."""
    table = np.zeros((strata.height, 3))
    for stratum, state in said.select("stratum", "state").iter_rows():
        table[stratum, STATES.index(state)] += 1
    lived = club.lives.lives.filter(component=component)
    states = said.join(lived.select("respondent"), on="respondent")["state"].to_list()
    return np.append(table.ravel(), [states.count("renewed"), states.count("original")])


def one_attack(
    club: DrawnClub, component: str, strata: pl.DataFrame, truth: Array
) -> tuple[Attack, list[Withheld]]:
    members = strata["members"].to_numpy().astype(float)
    attack, hidden = Attack(members), []
    everyone = np.ones(strata.height, dtype=bool)
    for n, there in enumerate(members):
        attack.told(row_of(np.arange(strata.height) == n, "answers"), 0, there)
    lives = np.zeros(attack.unknowns)
    lives[-2:] = 1
    for n, state in enumerate(("renewed", "original")):
        without = row_of(everyone, state)
        without[-2 + n] -= 1
        attack.told(without, float(without @ truth), float(without @ truth))
    for where, held, told in published_rows(club, component, strata):
        for what in ("answers", *STATES):
            row = row_of(held, what)
            if told[what] is None:
                hidden.append(Withheld(f"{where}: {what}", float(row @ truth), row))
            else:
                assert told[what] == row @ truth, f"{component}, {where}: {what} is not true"
                attack.told(row, told[what], told[what])
        if where == "whole club":
            if told["base"] is None:
                hidden.append(Withheld("base", float(lives @ truth), lives))
            else:
                attack.told(lives, told["base"], told["base"])
            if told["share"] is not None:
                weight = np.round(1000 * strata["weight"].to_numpy())
                part = row_of(everyone, "renewed", weight)
                whole = part + row_of(everyone, "original", weight)
                half = told["share_rounded_to"] / 2
                low, high = (round(1000 * (told["share"] + sign * half)) for sign in (-1, 1))
                attack.told(1000 * part - low * whole, 0, np.inf)
                attack.told(1000 * part - high * whole, -np.inf, 0)
    return attack, hidden


def published_rows(
    club: DrawnClub, component: str, strata: pl.DataFrame
) -> Iterator[tuple[str, NDArray[np.bool_], dict[str, Any]]]:
    """Every published row of a component, and the strata of which it speaks."""
    everyone = np.ones(strata.height, dtype=bool)
    for row in club.published.by_component.filter(component=component).to_dicts():
        yield "whole club", everyone, row
    groups = strata["version_group"].to_list()
    for row in club.published.by_version.filter(component=component).to_dicts():
        parts = set(row["version"].split(" or "))
        held = np.array([set(name.split(" or ")) <= parts for name in groups])
        yield row["version"], held, row
    first, last = strata["first"].to_numpy(), strata["last"].to_numpy()
    for row in club.published.by_years.filter(component=component).to_dicts():
        inside = (first >= row["model_year_from"]) & (last <= row["model_year_to"])
        yield f"{row['model_year_from']} to {row['model_year_to']}", inside, row


def least_apart(attack: Attack, hidden: list[Withheld], wanted: float) -> list[float]:
    """By how much the least and the most of each withheld number differ, once that is enough.

    Solutions found for one number often show another open too: solving stops as soon as the
    values seen are `wanted` apart, and goes to both ends where they never are.
    """
    values: list[list[float]] = [[one.truth] for one in hidden]
    for n, one in enumerate(hidden):
        for sign in (1.0, -1.0):
            if max(values[n]) - min(values[n]) >= wanted:
                break
            found = attack.solution(sign * one.row)
            for seen, other in zip(values, hidden, strict=True):
                seen.append(float(other.row @ found))
    return [max(seen) - min(seen) for seen in values]
