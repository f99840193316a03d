"""The brake at the door, and the only writer of its counts.

A try is taken *before* it is looked at, by one conditional UPDATE (or the INSERT that begins a count), so of
any number that arrive at one moment no more are looked at than the limit says, on SQLite and PostgreSQL alike.
A count ends once nothing was looked at for the limit's window, not so long after its first try: between two
counts lies a whole window, so within none are more looked at than the limit says, at whatever moments they come.
What is over the limit is not looked at: neither does the right password come in then, nor does a wrong one
cost anything, and a name nobody has is counted like any other.

Our own table and not django-axes: there a count is read, the password looked at and the count written after
it, so that tries sent together all pass; and a device that is known has no count of its own.
"""

import logging
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil

from django.db import IntegrityError, transaction
from django.db.models import F, Value
from django.db.models.functions import Greatest
from django.utils.crypto import salted_hmac

from curehouse.common.errors import TooMany
from curehouse.workshops.models import DoorCount

logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Limit:
    """How many tries are looked at until none was for a whole window; so within no window are more."""

    kind: str
    tries: int
    window: timedelta


_WINDOW = timedelta(minutes=15)
# Of an account from anywhere; from one address (of IPv6, its /64) whatever the account; from a device that
# signed in to the account before, which the two others do not count.
ACCOUNT = Limit("account", 10, _WINDOW)
ADDRESS = Limit("address", 30, _WINDOW)
DEVICE = Limit("device", 10, _WINDOW)
# Codes of the second step, after a right password: of six digits three are right at a time, so that more than
# these in a day would be found by patience. An account's from anywhere, or those of a device it knows.
CODE = Limit("code", 20, timedelta(days=1))
# The present password, which a person is asked for on their own page.
PRESENT = Limit("present", 10, _WINDOW)
# Whoever joins by an invitation is told that an address is somebody's here already: by invitation.
INVITATION = Limit("invitation", 10, _WINDOW)
# Tokens of the API and set-up keys that open nothing, by address.
TOKEN = Limit("token", 30, _WINDOW)


@dataclass(frozen=True, slots=True)
class Try:
    """Something that is counted: under which limit, and whose."""

    limit: Limit
    whose: str

    @property
    def key(self) -> str:
        """Return what the count is kept under; addresses and names cannot be read from it."""
        return key_of(self.limit, self.whose)


def key_of(limit: Limit, whose: str) -> str:
    """Return the key of a count."""
    return f"{limit.kind}:{salted_hmac('curehouse.brake', whose, algorithm='sha256').hexdigest()}"


def take(one: Try, *, at: datetime) -> int:
    """Take a try; return 0 if it may be looked at, or else for how many seconds none is."""
    for _ in range(3):
        with transaction.atomic():
            if _taken(one, at):
                return 0
            row = DoorCount.objects.under(one.key, at).first()
            if row is not None and row.tries >= one.limit.tries:
                logger.warning("brake: kind=%s", one.limit.kind)
                return max(1, ceil((row.ends_at - at).total_seconds()))
        # Another began or ended the count between our two looks.
    return 1


def check(one: Try, *, at: datetime) -> None:
    """Take a try, or raise :class:`TooMany`."""
    wait_seconds = take(one, at=at)
    if wait_seconds:
        raise TooMany("too_many_tries", f"Too many tries: try again {in_words(wait_seconds)}.", wait_seconds=wait_seconds)


def in_words(wait_seconds: int) -> str:
    """Return ``in 12 minutes``."""
    minutes = -(-wait_seconds // 60)
    if minutes > 120:
        return f"in {-(-minutes // 60)} hours"
    return "in a minute" if minutes == 1 else f"in {minutes} minutes"


def _taken(one: Try, at: datetime) -> bool:
    counts = DoorCount.objects
    if (
        counts.under(one.key, at)
        .filter(tries__lt=one.limit.tries)
        .update(tries=F("tries") + 1, ends_at=Greatest("ends_at", Value(at + one.limit.window)))
    ):
        return True
    window = {"tries": 1, "began_at": at, "ends_at": at + one.limit.window, "refused_at": None}
    if counts.over(at).filter(key=one.key).update(**window):
        return True
    if counts.filter(key=one.key).exists():
        return False
    try:
        with transaction.atomic():
            counts.create(key=one.key, **window)
    except IntegrityError:
        return False
    return True


@transaction.atomic
def note_refused(one: Try, *, at: datetime) -> None:
    """Write down that a try was refused; done for every name, so that a name somebody has takes no longer."""
    DoorCount.objects.filter(key=one.key).update(refused_at=at)


@transaction.atomic
def give_back(one: Try) -> None:
    """Take one try back that turned out right."""
    DoorCount.objects.filter(key=one.key, tries__gt=0).update(tries=F("tries") - 1)


@transaction.atomic
def forget(*ones: Try) -> int:
    """Begin anew under these keys; return how many counts were forgotten."""
    forgotten, _by_model = DoorCount.objects.filter(key__in=[one.key for one in ones]).delete()
    return forgotten


@transaction.atomic
def forget_all() -> int:
    """Let go of every brake of the house; return how many counts were forgotten."""
    forgotten, _by_model = DoorCount.objects.all().delete()
    return forgotten


@transaction.atomic
def forget_ended(*, at: datetime) -> int:
    """Forget the counts that are over; return how many that were."""
    forgotten, _by_model = DoorCount.objects.over(at).delete()
    return forgotten
