"""Who does something, and in which workshop: handed from the doors to every verb."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curehouse.common.errors import Forbidden

if TYPE_CHECKING:
    from curehouse.workshops.models import DeviceToken, User, Workshop


@dataclass(frozen=True, slots=True)
class Actor:
    """A person, or a device that a person gave a token, at work in one workshop."""

    workshop: "Workshop"
    user: "User | None" = None
    device: "DeviceToken | None" = None

    @property
    def signature(self) -> dict[str, "User | DeviceToken | None"]:
        """Return the two fields that sign a row (see :class:`Signed`)."""
        return {"by_user": self.user, "by_device": self.device}

    def must_be_a_person(self, to: str, *, instead: str = "", field: str | None = None) -> None:
        """Raise Forbidden if this is a device: *to* says what it may not do, *instead* what it may."""
        if self.user is None:
            said = f"Only a person who is signed in may {to}. {instead}".rstrip()
            raise Forbidden("person_only", said, field=field)


def the_house(workshop: "Workshop") -> Actor:
    """Return the actor of what Curehouse does by itself."""
    return Actor(workshop=workshop)
