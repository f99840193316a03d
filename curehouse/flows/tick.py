"""The tick: find what is due in all workshops and nudge it.

Nothing is done here, so nothing that fails can hold up the rest. The nudges go into the queue the
ticks come from: the next tick is read after them or expires, so they do not pile up.
"""

from datetime import datetime

from curehouse.common.nudges import nudge
from curehouse.curing.models import Cure, CureLearning
from curehouse.curing.services.cures import FORETELL_TASK
from curehouse.curing.services.forecasts import LEARN_TASK
from curehouse.intake.models import Import
from curehouse.intake.services import TASK
from curehouse.notices.channels.mailbox import mail_is_set_up
from curehouse.notices.models import Delivery
from curehouse.notices.services import revive_without_mail
from curehouse.workshops.models import Workshop
from curehouse.workshops.mornings import morning_due

MOST_CURES = 50
MOST_DELIVERIES = 20
MOST_IMPORTS = 5


def look_for_due(at: datetime) -> None:
    """Nudge assessments, imports, mornings and deliveries that are due at *at*, the oldest first."""
    wanting = Cure.unscoped.wanting_assessment().values_list("workshop_id", "batch_id")
    for workshop_id, batch_id in wanting[:MOST_CURES]:
        nudge("jobs.assess", workshop_id, batch_id)
    for workshop_id in Cure.unscoped.wanting_forecast().values_list("workshop_id", flat=True).order_by().distinct():
        nudge(FORETELL_TASK, workshop_id)
    for workshop_id in CureLearning.unscoped.free(at=at).values_list("workshop_id", flat=True):
        nudge(LEARN_TASK, workshop_id)
    for workshop_id, import_id in Import.unscoped.free(at=at).values_list("workshop_id", "pk")[:MOST_IMPORTS]:
        nudge(TASK, workshop_id, import_id)
    for workshop in Workshop.objects.order_by("pk"):
        if morning_due(workshop=workshop, at=at) is not None:
            nudge("jobs.morning", workshop.pk)
    if mail_is_set_up() and Delivery.unscoped.without_mail(at=at).exists():
        revive_without_mail(at=at)
    for workshop_id, delivery_id in Delivery.unscoped.due(at=at).values_list("workshop_id", "pk")[:MOST_DELIVERIES]:
        nudge("jobs.deliver", workshop_id, delivery_id)


def nudge_next_delivery(*, at: datetime) -> None:
    """Nudge the delivery that has been due longest at *at*: it may have found another on its way."""
    due = Delivery.unscoped.due(at=at).values_list("workshop_id", "pk").first()
    if due is not None:
        nudge("jobs.deliver", *due)
