"""What the page of a formula says of the value that counts for each fat."""

from dataclasses import dataclass

from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.counted import counted_of


@dataclass(frozen=True, slots=True)
class CountedLine:
    """A fat with its saponification value in mg KOH per g: as counted, between what ends, and by what."""

    name: str
    counted: str
    may_be: str
    by: str


def counted_lines(one: Planned) -> list[CountedLine]:
    """Return the fats of a plan with the values that count for them."""
    return [
        CountedLine(
            each.name, _figure(each.value.middle), f"{_figure(each.value.low)} to {_figure(each.value.high)}", each.said
        )
        for each in counted_of(one)
    ]


def _figure(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
