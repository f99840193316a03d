"""Why a batch may stay too soft, said while there is time: what its figures show, and what to do, in one set of words."""

from curehouse.core.cure.advice import early_advice
from curehouse.curing.adapter import batch_at, batch_rows, limits_of
from curehouse.curing.circumstances import with_circumstances
from curehouse.curing.models import Cure
from curehouse.workshops.models import Workshop


def early_words(cure: Cure, workshop: Workshop) -> tuple[str, ...]:
    """Return the causes of a batch (its forecast at hand) and the remedies, a sentence or two each (nine queries and more).

    As of the last weighing that its forecast knows.
    """
    known = batch_at(batch_rows(cure.batch), workshop, moment=max(cure.forecast.moment, cure.batch.cut_at))
    limits = limits_of(cure.batch, workshop)
    return early_advice(with_circumstances(known, cure.batch, limits), limits)
