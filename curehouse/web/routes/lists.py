"""Every list of the house, to be taken along."""

from django.urls import URLPattern, path

from curehouse.web.lists import ahead, air, cure, formulas, house, orders, past, storeroom
from curehouse.web.views.lists import handed_out

LISTS = (*ahead.LISTS, *air.LISTS, *cure.LISTS, *formulas.LISTS, *house.LISTS, *orders.LISTS, *past.LISTS, *storeroom.LISTS)
ENDINGS = ("csv", "xlsx")

urlpatterns: list[URLPattern] = [
    path(f"{one.path}.{ending}", handed_out(one, ending), name=f"list_{one.name}_{ending}")
    for one in LISTS
    for ending in ENDINGS
]
