"""A bar on the terminal while work goes on; nothing where nobody watches, or into a pipe.

Only the command line asks for it, so that functions stay silent in Python and in notebooks.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, TypeVar

Item = TypeVar("Item")
WATCHED: ContextVar[bool] = ContextVar("somebody watches", default=False)


def each(items: Sequence[Item], what: str) -> Iterator[Item]:
    """The items one by one; a bar on the terminal's error stream says how many are done.

    >>> list(each(["water pump", "thermostat"], "curves"))
    ['water pump', 'thermostat']
    """
    if not WATCHED.get():
        yield from items
        return
    with _bar(total=len(items), desc=what) as bar:
        for item in items:
            yield item
            bar.update()


@contextmanager
def work(what: str) -> Iterator[None]:
    """What is being done, on the terminal's error stream, for as long as it takes."""
    if not WATCHED.get():
        yield
        return
    with _bar(total=1, desc=what, bar_format="{desc} …"):
        yield


def _bar(**options: Any) -> Any:
    """A bar that goes when it is done, and stays away where the error stream is no terminal."""
    from tqdm import tqdm

    return tqdm(leave=False, disable=None, dynamic_ncols=True, **options)
