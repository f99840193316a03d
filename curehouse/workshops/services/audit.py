"""The only writer of the trail: who did what, when, and from where.

A door calls :func:`note` once for each deed, in the deed's own transaction: what is rolled back
was not done, and leaves no line.
"""

from datetime import datetime

from django.db import transaction

from curehouse.common.visitors import NOWHERE, Origin, one_line
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import AuditEntry, Member, User, Workshop
from curehouse.workshops.models.trail import LONGEST_ADDRESS, LONGEST_DEVICE, LONGEST_SAID


def _entry(actor: Actor, code: str, said: str, address: str, origin: Origin, at: datetime) -> AuditEntry:
    return AuditEntry(
        workshop=actor.workshop,
        at=at,
        by_name=str(actor.user or actor.device or ""),
        command=origin.command,
        code=code,
        said=one_line(said, longest=LONGEST_SAID),
        address=one_line(address, longest=LONGEST_ADDRESS),
        from_address=origin.address,
        from_device=one_line(origin.device, longest=LONGEST_DEVICE),
        **actor.signature,
    )


@transaction.atomic
def note(
    *, actor: Actor, code: str, said: str, at: datetime, address: str = "", origin: Origin = NOWHERE
) -> AuditEntry:  # fmt: skip
    """Write down one deed; control characters and line breaks in what comes from outside become spaces.

    *code* is a stable name of the kind of deed, *said* a sentence with the thing's name in it,
    *address* the thing's page.
    """
    entry = _entry(actor, code, said, address, origin, at)
    entry.save(force_insert=True)
    return entry


@transaction.atomic
def note_of_person(*, person: User, code: str, said: str, at: datetime, origin: Origin = NOWHERE) -> int:
    """Write down what concerns a person wherever they work: once in each of their workshops, in one statement.

    Return how many lines that were.
    """
    places = Member.unscoped.of(person)
    entries = [_entry(Actor(workshop=place.workshop, user=person), code, said, "", origin, at) for place in places]
    return len(AuditEntry.unscoped.bulk_create(entries))


@transaction.atomic
def note_everywhere(*, code: str, said: str, at: datetime, origin: Origin = NOWHERE) -> int:
    """Write down what concerns the whole house: once in each workshop; return how many lines that were."""
    entries = [_entry(Actor(workshop=workshop), code, said, "", origin, at) for workshop in Workshop.objects.order_by("pk")]
    return len(AuditEntry.unscoped.bulk_create(entries))
