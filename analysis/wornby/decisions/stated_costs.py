"""The costs that workshop.toml states, in the shape that decisions take."""

from wornby.decisions.costs import AccessGroup, PartCosts
from wornby.errors import RecordError
from wornby.records.catalogue import Catalogue, Component, FollowOn, Money


def money_of(catalogue: Catalogue) -> Money:
    """The workshop's rates and the risk it bears; a decision cannot do without."""
    if catalogue.money is None:
        raise RecordError("workshop.toml: no [money]; decisions need its rates and risks")
    return catalogue.money


def part_costs(catalogue: Catalogue, name: str, *, grade: str) -> PartCosts:
    """What an owner pays for renewing the component once it can be reached, by part grade."""
    component = catalogue.component(name)
    hours, consequence = component.own_hours, component.failure_consequence_net
    if hours is None or consequence is None:
        raise RecordError(
            f"workshop.toml: component {name!r}: no own_hours or failure_consequence_net; add both"
        )
    price = money_of(catalogue).labour_price_per_hour
    return PartCosts(
        component=name,
        own_hours=hours,
        part_price_net=part_price(component, grade)
        + sum(catalogue.companion_parts[p].part_price_net for p in component.companion_parts)
        + sum(follow_on_price(catalogue.follow_on[w], price) for w in component.follow_on),
        failure_consequence_net=consequence,
        safety=component.safety,
    )


def part_price(component: Component, grade: str) -> float:
    """What the workshop charges for the part in this grade."""
    if grade not in component.part_price_net:
        known = ", ".join(component.part_price_net) or "none"
        raise RecordError(
            f"workshop.toml: component {component.name!r}: no part_price_net for {grade!r}; "
            f"it has {known}"
        )
    return component.part_price_net[grade]


def access_costs(catalogue: Catalogue, name: str) -> AccessGroup:
    """What an owner pays for opening the group and for what that always entails."""
    catalogue.group(name)
    group = catalogue.access_groups[name]
    price = money_of(catalogue).labour_price_per_hour
    return AccessGroup(
        name=name,
        access_hours=group.access_hours,
        follow_on_cost_net=sum(
            follow_on_price(catalogue.follow_on[work], price) for work in group.follow_on
        ),
    )


def access_of(catalogue: Catalogue, component: Component) -> AccessGroup:
    """The component's access; where it lies open, one that costs nothing."""
    if component.access_group is None:
        return AccessGroup(component.name, access_hours=0.0, follow_on_cost_net=0.0)
    return access_costs(catalogue, component.access_group)


def follow_on_price(work: FollowOn, labour_per_hour: float) -> float:
    """Follow-on work at a rate for labour, its materials and sublet work at cost."""
    return work.labour_hours * labour_per_hour + work.materials_cost_net + work.sublet_cost_net
