"""What the past says of the forecast: the demo cut off at a year's end, and the year after it.

Run as `python tests/studies/past_forecasts.py 2019 2020 2021 2022 2023`. Failures are those of the
vehicles that were in the book at the cut, as the whole records have them.
"""

import re
import shutil
import sys
import tempfile
from datetime import date
from pathlib import Path

import polars as pl

from wornby.decisions.book import vehicles_in_the_book
from wornby.decisions.expected import combined
from wornby.histories.recurring import FOR_CAUSE
from wornby.reports.forecasts import forecast
from wornby.reports.workshop import Workshop, open_workshop

DEMO = Path(__file__).parents[2] / "data_demo"


def cut_off(year: int, to: Path) -> Workshop:
    """The demo as it stood at the end of a year, without prices: they move no forecast."""
    folder = shutil.copytree(DEMO, to / str(year), ignore=shutil.ignore_patterns("truth"))
    told = (folder / "workshop.toml").read_text()
    told = told.replace("records_until = 2024-12-31", f"records_until = {year}-12-31")
    told = re.sub(r"\[\[price_list\]\].*?(?=\[\[)", "", told, flags=re.DOTALL)
    (folder / "workshop.toml").write_text(told)
    return open_workshop(folder, confidence=0.90, seed=1)


def seen_in(whole: Workshop, year: int, book: pl.DataFrame) -> dict[str, int]:
    """Parts of these vehicles that failed or were renewed as degraded in a year."""
    ended = whole.histories.fitments.join(book.select("vehicle"), on="vehicle", how="semi").filter(
        pl.col("ending").is_in(FOR_CAUSE)
        & pl.col("ended_on").is_between(date(year, 1, 1), date(year, 12, 31))
    )
    parts = ended.select("vehicle", "component", "position").unique()
    return dict(parts.group_by("component").len().iter_rows())


def main(years: list[int]) -> None:
    """Print a row for each year, and how many components' intervals held what came."""
    whole, inside, n = open_workshop(DEMO, confidence=0.90, seed=1), 0, 0
    with tempfile.TemporaryDirectory() as to:
        for year in years:
            then = cut_off(year, Path(to))
            seen = seen_in(whole, year + 1, vehicles_in_the_book(then.records))
            told = {
                c.name: forecast(then, c, horizon_years=1.0).failures
                for c in then.catalogue.components.values()
            }
            held = [f.lower <= seen.get(name, 0) <= f.upper for name, f in told.items()]
            inside, n = inside + sum(held), n + len(held)
            total = combined(list(told.values()))
            print(
                f"{year + 1}: expected {total.mean:.0f} ({total.lower} to {total.upper}), "
                f"came {sum(seen.values())}; {sum(held)} of {len(held)} components within"
            )
    print(f"all years: {inside} of {n} within, nominal 90 %")


if __name__ == "__main__":
    main([int(year) for year in sys.argv[1:]])
