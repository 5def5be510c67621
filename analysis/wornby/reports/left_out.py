"""What a letter leaves out, and why, so that the rest of it is written."""

from collections.abc import Callable
from typing import Any, TypeVar

import polars as pl

from wornby.errors import EstimateError, RecordError
from wornby.reports.answer import Answer
from wornby.reports.sentences import Sentences

Told = TypeVar("Told")


def where_stated(
    ask: Callable[..., Told], *told: Any, beside: object = None, **options: Any
) -> Told | Sentences:
    """The answer, or in one sentence what the records or workshop.toml do not state for it.

    A letter goes on without what a workshop has no use for or no records of: no shelf, no looks,
    no job at a fixed price. What is asked of an answer that was left out, or goes `beside`
    one, is left out as well, without another word.

    >>> from wornby.errors import EstimateError
    >>> def price(job: str) -> str:
    ...     raise EstimateError(f"{job}: no past job")
    >>> where_stated(price, "belt")
    - Left out: belt: no past job.
    >>> where_stated(len, where_stated(price, "belt"))
    <BLANKLINE>
    """
    if any(isinstance(one, Sentences) for one in (*told, *options.values(), beside)):
        return Sentences(())
    try:
        return ask(*told, **options)
    except (EstimateError, RecordError) as missing:
        return Sentences((f"Left out: {missing}.",))


def told_by(answer: Answer | Sentences, say: Callable[[pl.DataFrame], list[str]]) -> list[str]:
    """What is said of an answer's numbers; nothing of one that was left out."""
    return say(answer.frame) if isinstance(answer, Answer) else []
