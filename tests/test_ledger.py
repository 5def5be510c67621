"""A ledger that does not balance cannot be made."""

import pytest

from wornby.ledger import Ledger


def test_a_ledger_that_does_not_balance_cannot_be_made() -> None:
    with pytest.raises(AssertionError, match="does not balance"):
        Ledger("rows", n_read=3, n_accepted=1, set_aside={"credit": 1})


def test_a_balanced_ledger_tells_every_fate() -> None:
    told = Ledger("rows", n_read=3, n_accepted=1, set_aside={"credit": 1}, rejected={"no date": 1})
    assert told.table()["rows"].to_list() == [1, 1, 1]
