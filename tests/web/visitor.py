"""Somebody at the pages of the cure, at the world's moment, and batches in the states they show."""

import uuid
from collections.abc import Callable
from typing import Any

from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curehouse.curing.models import Position
from curehouse.flows.assess import assess_batch
from curehouse.flows.check import check
from curehouse.making.models import Batch
from curehouse.workshops.services import change_preferences
from tests.web.on_round import text_of
from tests.world import World

LIMIT = "pH 10.0 or less on a wetted bar"
DRYING = {0: "130.0", 21: "121.0", 28: "120.4", 35: "120.1"}
STILL_LOSING = {0: "130.0", 28: "124.0", 35: "122.0", 42: "120.0", 49: "118.0", 56: "116.0", 63: "114.0"}


class Visitor:
    """A signed-in person; ``post`` sends a form with a key of its own unless one is given."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.client = Client()
        self.client.force_login(world.owner)

    def get(self, name: str, *args: int, query: str = "") -> HttpResponse:
        """Open a page."""
        return self.client.get(reverse(f"web:{name}", args=args) + query)

    def words(self, name: str, *args: int, query: str = "") -> str:
        """Return a page's words."""
        answer = self.get(name, *args, query=query)
        assert answer.status_code == 200
        return text_of(answer)

    def post(self, name: str, /, *args: int, form_key: str = "", **fields: Any) -> HttpResponse:
        """Send a form."""
        sent = {"form_key": form_key or str(uuid.uuid4()), **fields}
        return self.client.post(reverse(f"web:{name}", args=args), sent)

    def queries(self, name: str, *args: int) -> int:
        """Return how many queries a page takes."""
        with CaptureQueriesContext(connection) as captured:
            assert self.get(name, *args).status_code == 200
        return len(captured)


def assess(world: World, batch: Batch) -> None:
    """Let the house look at what is on record of a batch."""
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)


def pass_or_fail(world: World, batch: Batch, *, passed: bool) -> None:
    """Enter a safety check, by a limit the maker has written down."""
    change_preferences(workshop=world.workshop, changes={"check_limit": LIMIT, "check_method": "pH strip"})
    found = {"method": "pH strip", "value": "9.6", "note": "", "checked_at": world.days_ago(0.1), "at": world.now}
    check(actor=world.actor, batch=batch, passed=passed, **found)
    assess(world, batch)


def dry_batch(world: World, **changes: Any) -> Batch:
    """Return a batch that is dry enough, its check due."""
    batch = world.batch(cut_days_ago=36, **changes)
    world.weigh_series(batch, DRYING)
    assess(world, batch)
    return batch


def ready_batch(world: World, **changes: Any) -> Batch:
    """Return a batch that is ready."""
    batch = dry_batch(world, **changes)
    pass_or_fail(world, batch, passed=True)
    return batch


def soft_batch(world: World, **changes: Any) -> Batch:
    """Return a batch that is past its latest day and still losing."""
    batch = world.batch(cut_days_ago=64, **changes)
    world.weigh_series(batch, STILL_LOSING)
    assess(world, batch)
    return batch


def doubtful_batch(world: World, **changes: Any) -> Batch:
    """Return a batch whose last weights are in doubt: 120.1 typed as 102.1."""
    batch = world.batch(cut_days_ago=36, **changes)
    world.weigh_series(batch, {**DRYING, 35: "102.1"})
    assess(world, batch)
    return batch


def each_place(world: World) -> Callable[[], Position]:
    """Return a way to get the next free position, on a rack large enough for a test."""
    rack = world.rack("Long wall", levels=10, places=4, capacity=24)
    places = iter(Position.objects.within(world.workshop).filter(rack=rack).in_walking_order())
    return lambda: next(places)
