"""Two full houses side by side, built once a file."""

from collections.abc import Iterator
from typing import NamedTuple

import pytest
from django.db import transaction

from tests.everything import with_everything
from tests.world import World


class Houses(NamedTuple):
    """A workshop and the one next door, each with a row in every table."""

    ours: World
    theirs: World


@pytest.fixture(scope="module")
def houses(django_db_setup: None, django_db_blocker) -> Iterator[Houses]:
    """Return both houses; each test undoes what it does (mark it ``django_db``)."""
    with django_db_blocker.unblock(), transaction.atomic():
        both = Houses(World(), World(name="Thistlewick Soapery", email="wren@thistlewick.example"))
        for one in both:
            with_everything(one)
        yield both
        transaction.set_rollback(True)
