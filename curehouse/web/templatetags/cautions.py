"""The cautions about lye, said once (`core/chemistry/words.py`) and shown wherever lye is; loaded into every template."""

from typing import Any

from django.template import Library

from curehouse.core.chemistry.words import CAUTIONS, FIRST_AID

register = Library()


@register.inclusion_tag("web/parts/lye_cautions.html")
def lye_cautions() -> dict[str, Any]:
    """Show what to mind with lye; what always stands there, and the rest folded away."""
    return {"always": CAUTIONS[:2], "more": CAUTIONS[2:]}


@register.inclusion_tag("web/parts/first_aid.html")
def first_aid() -> dict[str, Any]:
    """Show what to do where lye got onto somebody."""
    return {"lines": FIRST_AID}
