"""Every address of the house, made from the URL table itself."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver

from curehouse.curing.models import Assessment, Forecast, LabelWeight, Position, Rack, Reading, Room, RoomReading, SampleBar
from curehouse.intake.models import Import
from curehouse.making.models import Batch, BatchHold, Formula, FormulaVersion, Pour, Run
from curehouse.notices.models import Notice
from curehouse.selling.models import Market
from curehouse.workshops.models import AuditEntry, DeviceToken, Invitation, Member, Scale, ScaleTare
from curehouse.workshops.scoping import ScopedModel
from inventory.models import Count, Lot, LotFile, Material, Movement, Offer, Order, StoreCount, Supplier
from tests.everything import row_of
from tests.world import World

# What an id in an address is of, by the word before it.
NAMED_BY: dict[str, type[ScopedModel]] = {
    "assessments": Assessment,
    "forecasts": Forecast,
    "batches": Batch,
    "counts": Count,
    "deeds": AuditEntry,
    "devices": DeviceToken,
    "files": LotFile,
    "formulas": Formula,
    "holds": BatchHold,
    "imports": Import,
    "invitations": Invitation,
    "labels": LabelWeight,
    "lots": Lot,
    "markets": Market,
    "materials": Material,
    "movements": Movement,
    "offers": Offer,
    "orders": Order,
    "notices": Notice,
    "papers": LotFile,
    "people": Member,
    "positions": Position,
    "pours": Pour,
    "racks": Rack,
    "readings": Reading,
    "room-readings": RoomReading,
    "rooms": Room,
    "round": SampleBar,
    "sample-bars": SampleBar,
    "runs": Run,
    "scales": Scale,
    "store-counts": StoreCount,
    "suppliers": Supplier,
    "tares": ScaleTare,
    "versions": FormulaVersion,
}
_ID = re.compile(r"(?P<word>[a-z-]+)/<int:(?P<kwarg>\w+)>")
_ANY = re.compile(r"<[^>]*>|\(\?P")


@dataclass(frozen=True)
class Address:
    """One row of the URL table."""

    route: str
    name: str
    view: Any

    @property
    def is_api(self) -> bool:
        """Whether a device asks for it, and not a browser."""
        return self.route.startswith("api/")

    @property
    def has_ids(self) -> bool:
        """Whether part of it is to be filled in."""
        return bool(_ANY.search(self.route))

    def filled(self, world: World) -> str:
        """Return the address with the ids of *world*'s rows; raises LookupError where it cannot be filled."""

        def pk_of(found: re.Match[str]) -> str:
            if found["word"] not in NAMED_BY:
                raise LookupError(f"/{self.route}: what is the id after “{found['word']}” of? Say so in NAMED_BY.")
            return f"{found['word']}/{row_of(world, NAMED_BY[found['word']]).pk}"

        path = _ID.sub(pk_of, self.route)
        if _ANY.search(path):
            raise LookupError(f"/{self.route}: this test cannot fill it in, so nobody is kept out of it.")
        return f"/{path}"


def _walk(patterns: list[URLPattern | URLResolver], before: str, space: str) -> Iterator[Address]:
    for pattern in patterns:
        route = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from _walk(pattern.url_patterns, route, pattern.namespace or space)
        else:
            yield Address(route, f"{space}:{pattern.name}", pattern.callback)


def addresses(urlconf: str | None = None) -> list[Address]:
    """Return every address of *urlconf*, the house's own by default."""
    return list(_walk(get_resolver(urlconf).url_patterns, "", ""))
