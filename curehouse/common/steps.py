"""Many values a few at a time: a statement takes only so many (SQLite 32,766), and a long one is slow to read."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import TypeVar

Value = TypeVar("Value")
# Few enough for any database, and so many that the way there and back costs little.
A_STEP = 500


def in_steps(values: Iterable[Value]) -> Iterator[Sequence[Value]]:
    """Yield *values* in their order, :data:`A_STEP` at a time."""
    rest = iter(values)
    while part := list(islice(rest, A_STEP)):
        yield part
