"""The kinds of notice, and which of them leave the house the moment they are written."""

from enum import StrEnum


class Kind(StrEnum):
    """What a notice is about; its key begins with the same word."""

    READY = "ready"
    CHECK_DUE = "check_due"
    CHECK_FAILED = "check_failed"
    CAUSTIC = "caustic"
    TOO_SOFT = "too_soft"
    LOOK_AGAIN = "look_again"
    SOFT_LIKELY = "soft_likely"
    READY_SOON = "ready_soon"
    MOVED = "moved"
    WEIGH = "weigh"
    TURN = "turn"
    EXPIRING = "expiring"
    EXPIRED = "expired"
    RUN_AT_RISK = "run_at_risk"
    RUN_PLACES = "run_places"
    MILK = "milk"
    ORDER_LATE = "order_late"
    ORDER_TO_DECIDE = "order_decide"
    MORNING = "morning"


# The others stand on Today and go out with the morning digest: one mail for twenty bars to weigh.
AT_ONCE = frozenset({Kind.READY, Kind.CHECK_DUE, Kind.CHECK_FAILED, Kind.CAUSTIC, Kind.TOO_SOFT})
# What is foretold of a cure; what is measured of it ends all three.
FORETOLD = (Kind.SOFT_LIKELY, Kind.READY_SOON, Kind.MOVED)
# What people plan by: said of no bars that go to nobody.
PROMISED = (Kind.READY_SOON, Kind.MOVED)
# Thirty lots that expire are one look into the storeroom: they stand together, after what cures.
STOCK = frozenset({Kind.RUN_AT_RISK, Kind.EXPIRING, Kind.EXPIRED})
