"""A panel for JupyterLab: choose a component, a scale, a version and a rule; the curve follows."""

import html
from typing import Any

from wornby.errors import EstimateError
from wornby.records.catalogue import SCALES
from wornby.reports.asked_life import (
    ORIGINS,
    AskedLife,
    asked_curve,
    asked_life_answer,
    rules_to_ask,
    versions_seen,
)
from wornby.reports.life_figures import draw_lives
from wornby.reports.workshop import Workshop


def shown_life(workshop: Workshop, asked: AskedLife) -> str:
    """Curve and numbers as HTML, or why there are none."""
    try:
        curve = asked_curve(workshop, asked)
        answer = asked_life_answer(workshop, asked, curve)
        drawings = draw_lives({curve.component: curve}, confidence=workshop.confidence)
    except EstimateError as error:
        return f"<p>{html.escape(str(error))}</p>"
    return drawings._repr_html_() + answer._repr_html_()


def life_panel(workshop: Workshop) -> Any:
    """Controls over one component's life; what they show is reckoned anew at each change.

    An ipywidgets VBox. Taking a component sets the scale on which its catalogue says that it wears.
    """
    import ipywidgets

    components = workshop.catalogue.components
    words: dict[str, tuple[str, ...]] = {
        "component": tuple(components),
        "scale": SCALES,
        "version": versions_seen(workshop),
        "rule": tuple(rules_to_ask(workshop)),
        "origin": ORIGINS,
    }
    chosen = {
        what: ipywidgets.Dropdown(options=known, description=what) for what, known in words.items()
    }
    shown = ipywidgets.HTML()

    def follow(change: dict[str, Any] | None) -> None:
        if change is not None and change["owner"] is chosen["component"]:
            wanted = components[change["new"]].scale
            if chosen["scale"].value != wanted:
                chosen["scale"].value = wanted
                return
        asked = AskedLife(**{name: control.value for name, control in chosen.items()})
        shown.value = shown_life(workshop, asked)

    chosen["scale"].value = components[chosen["component"].value].scale
    for control in chosen.values():
        control.observe(follow, names="value")
    follow(None)
    row = ipywidgets.Layout(flex_flow="row wrap")
    return ipywidgets.VBox([ipywidgets.HBox([*chosen.values()], layout=row), shown])
