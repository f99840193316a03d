"""Which superfat to set so that it comes to a wanted one with the milk's own fat."""

import math
from dataclasses import dataclass, replace
from decimal import Decimal

from curehouse.common.errors import Invalid
from curehouse.core.chemistry.finding import Finding
from curehouse.core.chemistry.findings import judge
from curehouse.core.chemistry.formula import setting_for_effective
from curehouse.making.formulas.adapter import Planned

_MOST_WANTED = Decimal("0.5")
_STEPS = 10_000
_NOISE = 1e-7
_CAUSTIC = ("superfat_below_zero", "batch_too_small", "may_be_caustic")


@dataclass(frozen=True, slots=True)
class Setting:
    """A wanted effective superfat and the setting over the fats alone that brings it, as shares (0.05 is 5 %).

    Below 0 no setting that may be poured brings it: the milk brings more fat than the wanted superfat leaves.
    ``finding`` is what is found of the lye at this setting: that it may be caustic, or that it is too much.
    """

    effective: float
    setting: float
    finding: Finding | None = None

    @property
    def may_be_poured(self) -> bool:
        """The setting is 0 or more."""
        return self.setting >= 0


def setting_wanted(one: Planned, effective: Decimal) -> Setting:
    """Return the setting for a wanted *effective* superfat (0-1), up to the next hundredth of a point: never more lye."""
    if not effective.is_finite() or not 0 <= effective <= _MOST_WANTED:
        raise Invalid("superfat", "The superfat wanted lies between 0 and 50\u00a0%; 5\u00a0% is usual.", field="effective")
    exact = setting_for_effective(one.formula, float(effective))
    setting = math.ceil(exact * _STEPS - _NOISE) / _STEPS
    return Setting(float(effective), setting, _about_lye(one, setting))


def _about_lye(one: Planned, setting: float) -> Finding | None:
    # With far more milk than fats there is no such formula.
    if setting <= -1:
        return None
    found = judge(replace(one.formula, superfat=setting)).findings
    return next((finding for finding in found if finding.code in _CAUSTIC), None)
