"""Which change of a cure is told, and in which words."""

from datetime import datetime

from django.db import transaction

from curehouse.curing.models import Cure
from curehouse.curing.models.verdicts import CHECK_FAILED, State
from curehouse.notices.services import tell, withdraw

# "Not weighed" is told by the morning's list of what is due.
TOLD = {
    State.READY: "{batch} is ready",
    State.CHECK_DUE: "{batch} is dry enough: check due",
    State.TOO_SOFT: "{batch} is too soft",
    State.LOOK_AGAIN: "{batch}: look again",
}
FAILED = "{batch}: its safety check failed"


def about(batch_id: int) -> str:
    """Return the name under which notices speak of a batch."""
    return f"batch:{batch_id}"


@transaction.atomic
def tell_of_change(*, cure: Cure, at: datetime) -> None:
    """Withdraw what was said of the batch's earlier state, and say the new one if it is told."""
    batch, assessment = cure.batch, cure.assessment
    failed = cure.shown_as == CHECK_FAILED
    now = FAILED.format(batch=batch) if failed else f"{batch} is now “{cure.get_state_display()}”"
    withdraw(
        workshop=cure.workshop,
        about=about(batch.pk),
        kinds=[str(state) for state in TOLD],
        reason=f"Changed meanwhile: {now}.",
        at=at,
    )
    if cure.state not in TOLD:
        return
    sentences = [reason["text"] for reason in assessment.reasons] + list(assessment.advice)
    tell(
        workshop=cure.workshop,
        key=f"{cure.state}:{about(batch.pk)}:{cure.episode}" + (f":failed:{assessment.pk}" if failed else ""),
        kind=cure.state,
        about=about(batch.pk),
        mark=cure.shown_as,
        title=(FAILED if failed else TOLD[State(cure.state)]).format(batch=batch),
        body="\n".join(sentences),
        path=f"/batches/{batch.pk}/",
        at=at,
    )
