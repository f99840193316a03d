"""What a run needs of each material: a formula's items, and the blends among them down to their parts.

A blend is an item that is made of others in fixed shares, such as lye dissolved beforehand; a part
may be a blend again. Where something is lost as it is made the shares come to more than it. Amounts are grams.
"""

from collections.abc import Mapping
from graphlib import CycleError, TopologicalSorter

# An item and its share: of a formula, for each gram of oils; of a blend, of its own weight.
Parts = tuple[tuple[str, float], ...]
# Shares that are written to four places add to one within this.
_WHOLE_WITHIN = 1e-6


def blends_first(blends: Mapping[str, Parts]) -> tuple[str, ...]:
    """Return the blends, each before those among its parts.

    Raises
    ------
    ValueError
        A blend that is made of itself, however far down; one whose parts are less than its whole; a
        share that is not above zero.
    """
    order: TopologicalSorter[str] = TopologicalSorter()
    for blend, parts in blends.items():
        _check_parts(f"the blend {blend}", parts)
        whole = sum(share for _part, share in parts)
        if whole < 1 - _WHOLE_WITHIN:
            raise ValueError(f"the parts of the blend {blend} come to {whole:.2%} of it: let them come to 100 %")
        order.add(blend)
        for part, _share in parts:
            order.add(part, blend)
    try:
        return tuple(item for item in order.static_order() if item in blends)
    except CycleError as error:
        ring = ", which is made of ".join(error.args[1])
        raise ValueError(f"a blend cannot be made of itself: {ring}; take one of them out of the other") from error


def check_nothing_lost(blends: Mapping[str, Parts]) -> None:
    """Raise ValueError for a blend whose parts come to more than it."""
    for blend, parts in blends.items():
        whole = sum(share for _part, share in parts)
        if whole > 1 + _WHOLE_WITHIN:
            raise ValueError(f"the parts of the blend {blend} come to {whole:.2%} of it: let them come to 100 %")


def needs_of(formulas: Mapping[str, Parts], formula: str, oil_g: float) -> dict[str, float]:
    """Return what a run of *oil_g* grams of oils needs of each item, blends as they stand.

    Raises
    ------
    ValueError
        A formula that is not in *formulas*; oils that weigh nothing or less; a share not above zero.
    """
    if formula not in formulas:
        raise ValueError(f"the formula {formula} is not known: enter it, or choose one of {', '.join(sorted(formulas))}")
    if not 0 < oil_g < float("inf"):
        raise ValueError(f"oils of {oil_g:g} g make no run of {formula}: give a weight above zero")
    _check_parts(f"the formula {formula}", formulas[formula])
    needs: dict[str, float] = {}
    for item, share in formulas[formula]:
        needs[item] = needs.get(item, 0.0) + oil_g * share
    return needs


def explode(needs: Mapping[str, float], blends: Mapping[str, Parts]) -> dict[str, float]:
    """Return *needs* with every blend replaced by its parts; raises as ``blends_first`` does."""
    left = dict(needs)
    for blend in blends_first(blends):
        put_parts(left, blends[blend], left.pop(blend, 0.0))
    return left


def from_stock_first(needs: Mapping[str, float], blends: Mapping[str, Parts], left: dict[str, float]) -> dict[str, float]:
    """Return *needs* with of each blend first what is *left* of it here, then its parts; what is taken goes off *left*.

    Raises as ``blends_first`` does.
    """
    found = dict(needs)
    for blend in blends_first(blends):
        wanted = found.pop(blend, 0.0)
        here = min(left.get(blend, 0.0), wanted)
        if here > 0:
            found[blend] = here
            left[blend] -= here
        put_parts(found, blends[blend], wanted - here)
    return found


def put_parts(needs: dict[str, float], parts: Parts, amount: float) -> None:
    """Add to *needs* what *amount* grams of a blend are made of."""
    if amount > 0:
        for part, share in parts:
            needs[part] = needs.get(part, 0.0) + amount * share


def _check_parts(what: str, parts: Parts) -> None:
    for item, share in parts:
        if not 0 < share < float("inf"):
            raise ValueError(f"{what} has a share of {share:g} of {item}: give one above zero, or leave it out")
