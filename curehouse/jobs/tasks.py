"""Doors for Celery: ids in, one flow call, out. Every task may run twice or find its row gone."""

from celery import shared_task
from django.utils import timezone

from curehouse.flows import answer_news as answering
from curehouse.flows import deliver as delivering
from curehouse.flows import foretell as foretelling
from curehouse.flows import morning as mornings
from curehouse.flows import tick as ticks
from curehouse.flows.bring_in import door as bringing


@shared_task(name="jobs.tick")
def tick() -> None:
    """Look for what is due, in all workshops."""
    ticks.look_for_due(timezone.now())


@shared_task(name="jobs.assess")
def assess(workshop_id: int, batch_id: int) -> None:
    """Assess one batch."""
    answering.answer_news(workshop_id=workshop_id, batch_id=batch_id, at=timezone.now())


@shared_task(name="jobs.foretell")
def foretell(workshop_id: int) -> None:
    """Make the forecasts that are wanted in a workshop."""
    foretelling.foretell_wanting(workshop_id=workshop_id, at=timezone.now())


@shared_task(name="jobs.learn")
def learn(workshop_id: int) -> None:
    """Learn what is new from a workshop's cures, and foretell anew what rests on it."""
    foretelling.learn_and_foretell(workshop_id=workshop_id, at=timezone.now())


@shared_task(name="jobs.deliver")
def deliver(workshop_id: int, delivery_id: int) -> None:
    """Try to deliver one notice to one person, then nudge the next that is due by now."""
    if delivering.deliver_in_turn(workshop_id=workshop_id, delivery_id=delivery_id, at=timezone.now()):
        ticks.nudge_next_delivery(at=timezone.now())


@shared_task(name="jobs.morning")
def morning(workshop_id: int) -> None:
    """Begin a workshop's day, if its morning has come."""
    mornings.begin_day(workshop_id=workshop_id, at=timezone.now())


@shared_task(name="jobs.bring_in")
def bring_in(workshop_id: int, import_id: int) -> None:
    """Check a file that is to come in, or bring it in."""
    bringing.carry_on(workshop_id=workshop_id, import_id=import_id, at=timezone.now())
