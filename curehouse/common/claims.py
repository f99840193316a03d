"""Claiming due work by one conditional write with a lease.

Whoever wins the write has the work until the lease ends; a worker that dies leaves a lease that
runs out, and the next tick claims again. Nothing is held while the work is done.
"""

from datetime import datetime, timedelta

from django.db import models
from django.db.models import Q


def claim(queryset: models.QuerySet, *, at: datetime, lease: timedelta, field: str = "claimed_until", **also: object) -> bool:
    """Claim the one row of *queryset*; return whether this caller won it.

    *also* are fields written in the same statement (an attempt counted, a state entered).
    """
    free = Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__lte": at})
    return queryset.filter(free).update(**{field: at + lease}, **also) == 1
