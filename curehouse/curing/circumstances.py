"""What is known of a batch besides its own cure and may have kept it soft: its formula, and how such batches dry."""

from dataclasses import replace

from curehouse.core.chemistry.fatty_acids import Group, grouped
from curehouse.core.cure.causes import loss_since_cut
from curehouse.core.cure.findings import find
from curehouse.core.cure.formula_curve import expected_curve
from curehouse.core.cure.rule import BatchAtMoment, Circumstances, Drying, RuleLimits
from curehouse.curing.airs import humidity_since_cut
from curehouse.curing.models import CureLearning, CurePrior
from curehouse.making.fats import fat_kinds
from curehouse.making.models import Batch, FormulaVersion
from curehouse.workshops.models import Workshop

# Of fats that are hardly known the share of double bonds says nothing.
_LEAST_KNOWN = 0.9
_DOUBLE = (Group.ONE_DOUBLE, Group.MORE_DOUBLE)


def with_circumstances(known: BatchAtMoment, batch: Batch, limits: RuleLimits) -> BatchAtMoment:
    """Return the batch as known at a moment with what else may have kept it soft (four queries and more with rooms).

    What is expected of its drying is what the house has learnt by now, also for a moment that is past.
    """
    version = batch.version
    beside = Circumstances(
        planned_liquid_pct=None if version is None else _planned_liquid_pct(version),
        lye_of_asked_pct=None if version is None else _lye_of_asked_pct(batch, version),
        double_bonds_pct=_double_bonds_pct(batch),
        drying=_drying(known, batch, limits),
        room_humidity_pct=humidity_since_cut(batch, batch.workshop, days=known.whole_days),
    )
    return replace(known, circumstances=beside)


def prior_now(workshop: Workshop) -> CurePrior | None:
    """Return what the workshop goes by now, or None where it has learnt nothing yet (two queries).

    It is the one learnt without logs of rooms, also in a house that keeps them: what is asked of it is how batches dry in
    whatever air there is (a formula's curve, a pour to come), and by the other a batch is only known with its air.
    """
    stages = CureLearning.objects.within(workshop).values_list("stages", flat=True).first()
    return CurePrior.objects.within(workshop).filter(pk=stages[-1][1]).first() if stages else None


def _planned_liquid_pct(version: FormulaVersion) -> float:
    if version.liquid_share is not None:
        return 100 * float(version.liquid_share)
    return 100 * float(version.liquid_g) / float(version.fats_g)


def _lye_of_asked_pct(batch: Batch, version: FormulaVersion) -> float | None:
    """Return the lye in % of what the version asks: by its fats' superfat, which counts both alkalis and their lots."""
    if batch.superfat_middle is None:
        return None
    return 100 * (1 - float(batch.superfat_middle)) / (1 - float(version.superfat))


def _double_bonds_pct(batch: Batch) -> float | None:
    """Return the share of fatty acids with double bonds in the fats as they were reckoned at the pour, in %."""
    if batch.reckoned is None:
        return None
    kinds = fat_kinds()
    profiles = [
        (part["mass_g"], kinds[part["key"]].fatty_acids or None if part["key"] in kinds else None)
        for part in batch.reckoned["fats"]
    ]
    groups = grouped(profiles)
    if groups.known < _LEAST_KNOWN:
        return None
    return 100 * sum(one.share for one in groups.shares if one.group in _DOUBLE)


def _drying(known: BatchAtMoment, batch: Batch, limits: RuleLimits) -> Drying | None:
    seen = loss_since_cut(find(known, limits))
    prior = None if seen is None or known.water_share is None else prior_now(batch.workshop)
    if seen is None or prior is None or known.water_share is None:
        return None
    day, loss_pct = seen
    (point,) = expected_curve(prior.prior, batch.formula.name, water_share=known.water_share, days=[day])
    if point.low_pct == point.high_pct:
        return None
    return Drying(day, loss_pct, 100 - point.high_pct, 100 - point.middle_pct, 100 - point.low_pct)
