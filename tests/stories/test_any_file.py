"""Whatever breaks in the files, rows, vehicles, renewals and fitments are all accounted for.

That each ledger balances its own constructor sees to; here they also join, one to the next.
"""

from contextlib import suppress
from pathlib import Path

import polars as pl
from drawn import JOB_COLUMNS, workshop_folder
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wornby.errors import RecordError
from wornby.histories.fitments import histories
from wornby.histories.observation import RULES
from wornby.histories.watching import episodes
from wornby.records.reading import Records, read_records

VEHICLES = """
vehicle | first_registered
V1      | 2005-01-01
V2      | 2007-06-01
V3      | 2009-03-01
"""
LOOKS = """
vehicle | date       | component     | position | condition | origin
V1      | 2013-01-01 | water pump    |          | sound     | original
V2      | 2013-02-01 | water pump    |          | sound     | renewed
V2      | 2013-02-01 | transfer pipe | left     | sound     | original
V3      | 2014-03-01 | thermostat    |          | degraded  | original
"""
JOBS = """
date       | vehicle | odometer | text                                 | quantity | price
2013-01-01 | V1      | 80000    | oil service                          | 1        | 90
2013-02-01 | V2      | 60000    | oil service                          | 1        | 90
2014-03-01 | V3      | 41000    | oil service                          | 1        | 90
2015-05-01 | V1      | 93000    | water pump leaking, renewed          | 1        | 310
2016-07-01 | V2      | 90000    | n/s transfer pipe leaking, renewed   | 1        | 240
2016-09-01 | V3      | 60000    | thermostat renewed as a precaution   | 1        | 150
2018-01-01 | V1      | 110000   | thermostat seized, renewed           | 1        | 180
2019-01-01 | V2      | 105000   | both transfer pipes corroded, renewed | 2       | 420
"""
CELLS = st.sampled_from(
    [
        "", "V1", "V9", "2011-13-45", "2016-02-30", "1999-01-01", "2031-01-01", "-7", "1e9", "km",
        "98,000", "water pump renewed", "water pump ok", "transfer pipe leaking", "water pump leak",
    ]
)  # fmt: skip
BREAKS = st.lists(
    st.tuples(st.integers(0, 7), st.sampled_from(JOB_COLUMNS), CELLS), min_size=1, max_size=6
)


def broken(folder: Path, breaks: list[tuple[int, str, str]]) -> None:
    """Overwrite some cells of the job lines, and tell one line twice."""
    path = folder / "job_lines.csv"
    lines = pl.read_csv(path, infer_schema=False)
    for row, column, cell in breaks:
        here = pl.int_range(pl.len()) == row
        lines = lines.with_columns(pl.when(here).then(pl.lit(cell)).otherwise(column).alias(column))
    pl.concat([lines, lines.slice(breaks[0][0], 1)]).write_csv(path)


def read_or_refused(folder: Path) -> Records | None:
    """The records, or None where the file as a whole is refused: most of its dates are none."""
    with suppress(RecordError):
        return read_records(folder)
    return None


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(breaks=BREAKS, rule=st.sampled_from(list(RULES)))
def test_rows_vehicles_renewals_and_fitments_balance(
    tmp_path: Path, breaks: list[tuple[int, str, str]], rule: str
) -> None:
    folder = workshop_folder(tmp_path, jobs=JOBS, vehicles=VEHICLES, looks=LOOKS)
    broken(folder, breaks)
    records = read_or_refused(folder)
    if records is None:
        return
    made = histories(records)
    watched = episodes(made, RULES[rule])
    read = {ledger.what: ledger.n_read for ledger in records.ledgers}
    assert (read["vehicles"], read["job lines"], read["inspections"]) == (3, 9, 4)
    renewed = records.sightings.filter(pl.col("seen") == "renewed").height
    assert made.ledger.n_read == renewed
    assert watched.ledger.n_read == made.fitments.height + made.found.height
    originals = made.fitments.filter(pl.col("origin") == "original").height
    assert made.fitments.height == originals + made.ledger.n_accepted
    assert originals == 4 * records.visits["vehicle"].n_unique()
