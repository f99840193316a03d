"""Who may do what: one table for the people of a workshop, one for its devices.

A page and a resource of the API say which right they need; nothing is open to a member because
nobody thought of it. The owner keeps the house: people, devices, what the workshop is called and
counts in. A maker makes soap and everything that belongs to it. A helper has the work of hands:
rounds, counts, pours; what things cost is not theirs to know. A reader reads the books with their
costs and writes nothing.
"""

from collections.abc import Mapping
from enum import StrEnum

from django.db import models


class Right(StrEnum):
    """Something a member or a device may do in a workshop."""

    # One's own account, which any member has.
    SELF = "self"
    # What a weighing needs to be seen: bars, scales, weights so far.
    SEE_ROUND = "see_round"
    SEE = "see"
    SEE_COSTS = "see_costs"
    WEIGH = "weigh"
    COUNT = "count"
    # What is done by hand with a batch: pour, cut, place, turn, use materials, check; and tick a notice off.
    POUR = "pour"
    # What the air of a room is like.
    LOG_ROOM = "log_room"
    # What is decided: stock that comes and goes, rulings, racks, scales, rules, bars taken out, imports.
    MAKE = "make"
    KEEP_HOUSE = "keep_house"


class Role(models.TextChoices):
    """What a member is in a workshop."""

    OWNER = "owner", "owner"
    MAKER = "maker", "maker"
    HELPER = "helper", "helper"
    READER = "reader", "reader"

    @property
    def one(self) -> str:
        """Return ``a helper``, ``an owner``."""
        return f"{'an' if self.label[0] in 'aeiou' else 'a'} {self.label}"


class Reach(models.TextChoices):
    """How far a device's token reaches."""

    WEIGHS = "weighs", "weighs only"
    SENSES = "senses", "sends the air of rooms only"
    READS = "reads", "reads, without costs"
    WORKS = "works", "all a maker may do"


_HANDS = frozenset({Right.SEE_ROUND, Right.SEE, Right.WEIGH, Right.COUNT, Right.POUR, Right.LOG_ROOM})
_MAKER = _HANDS | {Right.SEE_COSTS, Right.MAKE}

OF_ROLE: Mapping[str, frozenset[Right]] = {
    Role.OWNER: _MAKER | {Right.SELF, Right.KEEP_HOUSE},
    Role.MAKER: _MAKER | {Right.SELF},
    Role.HELPER: _HANDS | {Right.SELF},
    Role.READER: frozenset({Right.SELF, Right.SEE_ROUND, Right.SEE, Right.SEE_COSTS}),
}
OF_REACH: Mapping[str, frozenset[Right]] = {
    Reach.WEIGHS: frozenset({Right.SEE_ROUND, Right.WEIGH}),
    Reach.SENSES: frozenset({Right.LOG_ROOM}),
    Reach.READS: frozenset({Right.SEE_ROUND, Right.SEE}),
    Reach.WORKS: _MAKER,
}


def rights_of_member(role: str) -> frozenset[Right]:
    """Return what a member of a role may do."""
    return OF_ROLE[role]


def rights_of_device(reach: str, giver_role: str | None) -> frozenset[Right]:
    """Return what a device may do: as far as it reaches, and never more than who gave it its token may now."""
    return frozenset() if giver_role is None else OF_REACH[reach] & OF_ROLE[giver_role]


def who_may(right: Right) -> str:
    """Return which people have a right, in words: ``the owner and makers``."""
    words = {Role.OWNER: "the owner", Role.MAKER: "makers", Role.HELPER: "helpers", Role.READER: "readers"}
    named = [words[role] for role in Role if right in OF_ROLE[role]]
    return named[0] if len(named) == 1 else f"{', '.join(named[:-1])} and {named[-1]}"
