"""What can be brought in."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from curehouse.common.errors import Invalid
from curehouse.flows.bring_in.batches import BATCH_COLUMNS, BESIDE_COLUMNS, read_batches, take_in_batches
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.outcome import Outcome
from curehouse.flows.bring_in.work import Work


@dataclass(frozen=True, slots=True)
class ImportKind:
    """Something a file can hold: its columns, and how it is read and taken in.

    ``read`` looks at the file alone. ``take_in`` holds what was read against the house, inside the
    caller's transaction, and writes only where :attr:`Work.writes` says so and no row is refused.
    ``beside`` are the columns of a second table, where the kind knows one.
    """

    key: str
    label: str
    hint: str
    columns: tuple[Column, ...]
    read: Callable[[Work], Any]
    take_in: Callable[[Work, Any], Outcome]
    beside: tuple[Column, ...] = ()


KINDS = {
    kind.key: kind
    for kind in (
        ImportKind(
            key="batches",
            label="Batches with their weighings",
            hint="One row for each weighing. Cut dates may stand in a second file.",
            columns=BATCH_COLUMNS,
            beside=BESIDE_COLUMNS,
            read=read_batches,
            take_in=take_in_batches,
        ),
    )
}


def kind_called(key: str) -> ImportKind:
    """Return a kind, or say which there are."""
    if key not in KINDS:
        raise Invalid("kind", f"Say what the file holds: {', '.join(KINDS)}.", field="kind")
    return KINDS[key]
