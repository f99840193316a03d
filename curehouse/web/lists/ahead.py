"""What will be here of a material, day by day."""

from decimal import Decimal

from django.http import QueryDict

from curehouse.flows.stock_ahead import stock_ahead
from curehouse.web.access import Visit
from curehouse.web.lists.table import ListOut, TableOut, amount, measured_in
from curehouse.web.reading.ahead_words import Words
from curehouse.web.reading.stock_ahead import HEADS, figures_of, happens_on
from curehouse.workshops.roles import Right
from inventory.models import Material


def _days(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    material = Material.objects.within(visit.workshop).select_related("workshop").get_here(pk or 0, what="material")
    ahead = stock_ahead(material=material, at=visit.at)
    happens, unit = happens_on(ahead, Words(ahead)), measured_in(material, visit)
    lines = (
        [
            material.name,
            one.day,
            *(amount(Decimal(str(figure)), material, visit) for figure in figures_of(one)),
            unit,
            "; ".join(happens.get(one.day, ())),
        ]
        for one in ahead.days
    )
    return TableOut(("Material", "Date", *HEADS, "Unit", "What happens"), lines)


LISTS = (ListOut("material_ahead", "materials/<int:pk>/ahead", "Stock ahead", _days, Right.SEE),)
