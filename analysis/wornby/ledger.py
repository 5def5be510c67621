"""Where every row went: read = accepted + set aside + rejected, always."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import polars as pl


@dataclass(frozen=True, slots=True)
class Ledger:
    """The account of one stage; one that does not balance cannot be made.

    A row set aside still serves another purpose (costs, say, but not lives); a rejected row
    serves none. Both carry their reasons, and so do those accepted rows that were mended first.
    """

    what: str
    n_read: int
    n_accepted: int
    set_aside: dict[str, int] = field(default_factory=dict)
    rejected: dict[str, int] = field(default_factory=dict)
    mended: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse an account that does not add up."""
        accounted = self.n_accepted + sum(self.set_aside.values()) + sum(self.rejected.values())
        if accounted != self.n_read or sum(self.mended.values()) > self.n_accepted:
            raise AssertionError(f"the ledger does not balance: {self}")

    def table(self) -> pl.DataFrame:
        """One row for the accepted and one for each reason: what, fate, reason, rows."""
        as_written = self.n_accepted - sum(self.mended.values())
        rows = [(self.what, "accepted", "", as_written)]
        rows += [(self.what, "accepted", why, n) for why, n in self.mended.items()]
        rows += [(self.what, "set aside", why, n) for why, n in self.set_aside.items()]
        rows += [(self.what, "rejected", why, n) for why, n in self.rejected.items()]
        return pl.DataFrame(rows, schema=["what", "fate", "reason", "rows"], orient="row")


def ledger_from(what: str, fates: pl.DataFrame) -> Ledger:
    """Count a frame with the columns fate and reason, one row for each row read.

    An accepted row with a reason was mended, and the reason says how.
    """
    counts = fates.group_by("fate", "reason").len().sort("fate", "len", "reason")
    by_fate = {
        fate: {why: n for f, why, n in counts.iter_rows() if f == fate}
        for fate in ("accepted", "set aside", "rejected")
    }
    return Ledger(
        what,
        n_read=fates.height,
        n_accepted=sum(by_fate["accepted"].values()),
        set_aside=by_fate["set aside"],
        rejected=by_fate["rejected"],
        mended={why: n for why, n in by_fate["accepted"].items() if why},
    )


def ledger_table(ledgers: Sequence[Ledger]) -> pl.DataFrame:
    """All ledgers one under the other, in the order of the stages."""
    return pl.concat([ledger.table() for ledger in ledgers])
