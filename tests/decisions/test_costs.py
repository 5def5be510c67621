import pytest

from wornby.decisions.costs import (
    AccessGroup,
    PartCosts,
    failure_cost,
    opening_cost,
    planned_cost,
    renewal_cost,
)

SEAL = PartCosts(
    "rear main seal",
    own_hours=0.5,
    part_price_net=30.0,
    failure_consequence_net=120.0,
    safety=False,
)
GEARBOX_OUT = AccessGroup("gearbox out", access_hours=6.0, follow_on_cost_net=40.0)


def test_a_bill_adds_up_by_hand() -> None:
    rate = 70.0
    assert opening_cost(GEARBOX_OUT, labour_price_per_hour=rate) == 460.0
    assert renewal_cost(SEAL, labour_price_per_hour=rate) == 65.0
    assert planned_cost(SEAL, GEARBOX_OUT, labour_price_per_hour=rate) == 525.0
    assert failure_cost(SEAL, GEARBOX_OUT, labour_price_per_hour=rate) == 645.0


@pytest.mark.parametrize("amount", ["own_hours", "part_price_net", "failure_consequence_net"])
def test_a_negative_part_cost_is_named(amount: str) -> None:
    amounts = {"own_hours": 1.0, "part_price_net": 1.0, "failure_consequence_net": 1.0}
    with pytest.raises(ValueError, match=f"seal: {amount} is -1"):
        PartCosts("seal", **(amounts | {amount: -1.0}), safety=False)


def test_a_negative_access_cost_is_named() -> None:
    with pytest.raises(ValueError, match="gearbox out: access_hours is -6"):
        AccessGroup("gearbox out", access_hours=-6.0, follow_on_cost_net=0.0)


def test_an_unknown_cost_is_not_taken_for_a_cost() -> None:
    with pytest.raises(ValueError, match="follow_on_cost_net is nan"):
        AccessGroup("gearbox out", access_hours=6.0, follow_on_cost_net=float("nan"))
