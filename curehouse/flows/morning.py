"""A workshop's morning: every cure looked at anew, what is to be weighed, and the day's digest.

Each step finds its own work done if it runs again, and the day is noted together with its notices:
a morning that is cut off is begun again by the next tick and tells nothing twice.
"""

import logging
from datetime import date, datetime

from django.db import transaction

from curehouse.common.time import day_words, local_day
from curehouse.curing.models import Cure
from curehouse.flows.assess import assess_all_this_morning
from curehouse.flows.verdict_notices import about
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import tell, tell_morning, withdraw
from curehouse.workshops.models import Workshop
from curehouse.workshops.mornings import claim_morning, morning_due

logger = logging.getLogger(__name__)


def begin_day(*, workshop_id: int, at: datetime) -> date | None:
    """Do a workshop's morning if it has come; return the local day, or None if there was none to do."""
    workshop = Workshop.objects.filter(pk=workshop_id).first()
    if workshop is None:
        return None
    day = morning_due(workshop=workshop, at=at)
    if day is None:
        return None
    assess_all_this_morning(workshop=workshop, at=at)
    with transaction.atomic():
        if not claim_morning(workshop=workshop, day=day):
            return None
        _tell_what_to_weigh(workshop=workshop, day=day, at=at)
        tell_morning(workshop=workshop, day=day, at=at)
    logger.info("morning done: workshop=%s day=%s", workshop.pk, day)
    return day


def _tell_what_to_weigh(*, workshop: Workshop, day: date, at: datetime) -> None:
    """Tell of each batch that is due, once a due day; take back what is not due any more."""
    due = {f"{Kind.WEIGH}:{about(cure.batch_id)}:{cure.due_on}": cure for cure in Cure.objects.within(workshop).due(on=day)}
    for stale in Notice.objects.within(workshop).open().of_kind(Kind.WEIGH).exclude(key__in=due):
        reason = "It is not due on that day any more."
        withdraw(workshop=workshop, about=stale.about, kinds=[Kind.WEIGH], reason=reason, at=at)
    for key, cure in due.items():
        tell(
            workshop=workshop,
            key=key,
            kind=Kind.WEIGH,
            about=about(cure.batch_id),
            mark="",
            title=f"Weigh {cure.batch}",
            body=_last_weighed(cure, workshop, today=day),
            path=f"/batches/{cure.batch_id}/",
            at=at,
        )


def _last_weighed(cure: Cure, workshop: Workshop, *, today: date) -> str:
    if cure.last_weighed_at is None:
        return "Its sample bars have not been weighed yet. Weigh them as soon as they are cut."
    last = local_day(cure.last_weighed_at, workshop.time_zone)
    return f"Its sample bars were last weighed on {day_words(last, today=today)}."
