"""A workshop's morning: every cure looked at anew, what is to be weighed, what the storeroom wants, and the day's digest.

Each step finds its own work done if it runs again, and the day is noted together with its notices:
a morning that is cut off is begun again by the next tick and tells nothing twice.
"""

import logging
from datetime import date, datetime

from django.db import transaction

from curehouse.common.uploads import forget_drafts
from curehouse.flows.assess import assess_all_this_morning
from curehouse.flows.due import renew_due
from curehouse.flows.foretell import foretell_this_morning
from curehouse.flows.milk_notices import renew_milk
from curehouse.flows.order_notices import renew_orders
from curehouse.flows.place_notices import renew_places
from curehouse.flows.proposal_notices import renew_proposals
from curehouse.flows.propose import propose_this_morning
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.turn_notices import renew_turning
from curehouse.notices.services import tell_morning
from curehouse.workshops.models import Workshop
from curehouse.workshops.mornings import claim_morning, morning_due
from curehouse.workshops.services import forget_submissions
from curehouse.workshops.services.brake import forget_ended
from curehouse.workshops.sessions import forget_sessions

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
    foretell_this_morning(workshop=workshop, at=at)
    propose_this_morning(workshop=workshop, at=at)
    with transaction.atomic():
        if not claim_morning(workshop=workshop, day=day):
            return None
        renew_due(workshop=workshop, at=at, tells_new=True)
        renew_places(workshop=workshop, at=at, tells_new=True)
        renew_milk(workshop=workshop, at=at)
        renew_turning(workshop=workshop, at=at, tells_new=True)
        renew_stock(workshop=workshop, at=at, tells_new=True)
        renew_orders(workshop=workshop, at=at, tells_new=True)
        renew_proposals(workshop=workshop, at=at, tells_new=True)
        tell_morning(workshop=workshop, day=day, at=at)
        forget_submissions(workshop=workshop, at=at)
        forget_sessions(at=at)
        forget_ended(at=at)
    forget_drafts(at=at)
    logger.info("morning done: workshop=%s day=%s", workshop.pk, day)
    return day
