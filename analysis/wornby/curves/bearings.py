"""Lives that many textbooks fit curves to, for examples: 23 deep-groove ball bearings.

Millions of turns to failure, watched from new (Lieblein & Zelen 1956, as in Lawless 2003; some
books print 48.48 for 48.40).
"""

import polars as pl

from wornby.histories.counts import Counts

TURNS = [17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.40, 51.84, 51.96, 54.12, 55.56, 67.80]
TURNS += [68.64, 68.64, 68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40]

BEARINGS = Counts(
    pl.DataFrame({"entry": 0.0, "lower": TURNS, "upper": TURNS, "count": 1.0}),
    unit="million turns",
    what="ball bearing",
    rule="watched from new",
)
