"""Which lots a line of what a batch took offers: a few of its material; any other is named by its number."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Q

from curehouse.workshops.models import Workshop
from inventory.models import Lot

# Of a material so many that hold something, in the order in which they are used up, and so many used up lately.
_MOST_HERE, _MOST_USED_UP = 20, 5


@dataclass(frozen=True, slots=True)
class OfferedLots:
    """Lots by the key of their material, and those that are proposed, chosen or named."""

    of_material: Mapping[int, tuple[Lot, ...]]
    named: tuple[Lot, ...]

    def of_line(self, material: int | None, chosen: str) -> list[Lot]:
        """Return what a line offers: of its material, or of all that are asked for; also what is chosen in it."""
        keys = list(self.of_material) if material is None else [material]
        lots = [lot for key in keys for lot in self.of_material.get(key, ())]
        return lots + [lot for lot in self.named if f"{lot.pk}" == chosen and lot not in lots]

    def called(self, key: str, number: str) -> Lot | None:
        """Return the lot of this number of the house's where one is said, otherwise that of this key."""
        lots = [*self.named, *(lot for found in self.of_material.values() for lot in found)]
        if number:
            return next((lot for lot in lots if f"{lot.number}" == number), None)
        return next((lot for lot in lots if f"{lot.pk}" == key), None)


def offered_lots(
    workshop: Workshop, materials: Iterable[int], *, keys: Collection[int] = (), numbers: Collection[int] = ()
) -> OfferedLots:
    """Return the lots to choose from (two queries a material), and those of these keys and numbers."""
    known = Lot.objects.within(workshop).filter(material__retired_at__isnull=True).named()
    named = tuple(known.filter(Q(pk__in=keys) | Q(number__in=numbers))) if keys or numbers else ()
    asked = dict.fromkeys([*materials, *(lot.material_id for lot in named)])
    return OfferedLots({key: tuple(_of_material(known.filter(material=key))) for key in asked}, named)


def _of_material(lots) -> list[Lot]:  # noqa: ANN001  (a QuerySet of the model's own)
    here = list(lots.in_stock().first_expired_first()[:_MOST_HERE])
    return here + list(lots.filter(on_hand=0).newest_first()[:_MOST_USED_UP])
