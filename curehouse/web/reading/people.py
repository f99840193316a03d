"""Who works in a workshop, who is invited, and where a person is signed in, read in a few queries."""

from dataclasses import dataclass

from curehouse.web.access import Visit
from curehouse.web.reading.days import Calendar
from curehouse.workshops.models import Invitation, Member, PersonSession, RecoveryCode, SecondStep
from curehouse.workshops.sessions import mark_of_session


@dataclass(frozen=True, slots=True)
class PersonLine:
    """Somebody who works here, or did."""

    pk: int
    name: str
    email: str
    role: str
    note: str
    is_you: bool
    has_left: bool


@dataclass(frozen=True, slots=True)
class InvitationLine:
    """An invitation that still lets somebody in."""

    pk: int
    words: str
    note: str


@dataclass(frozen=True, slots=True)
class SessionLine:
    """Where a person is signed in."""

    mark: str
    device: str
    note: str
    is_this: bool


@dataclass(frozen=True, slots=True)
class SecondStepLine:
    """How things stand with a person's second step that is on."""

    since: str
    unused_codes: int


def person_lines(visit: Visit) -> list[PersonLine]:
    """Return the people of the workshop, those who left last."""
    calendar = Calendar(visit.workshop, visit.at)
    places = list(Member.objects.ever_within(visit.workshop).by_name())
    seen = PersonSession.objects.last_seen({place.user_id for place in places}, visit.at)

    def note(place: Member) -> str:
        joined = f"joined {calendar.day(place.joined_at)}"
        if place.left_at is not None:
            by = "" if place.ended_by_id == place.user_id else f", removed by {place.ended_by}"
            return f"{joined}, left {calendar.day(place.left_at)}{by}"
        last = seen.get(place.user_id)
        return f"{joined}; {f'last seen {calendar.moment(last)}' if last else 'signed in nowhere'}"

    return [
        PersonLine(
            pk=place.pk,
            name=place.user.name,
            email=place.user.email,
            role=place.get_role_display(),
            note=note(place),
            is_you=place.user_id == visit.member.user_id,
            has_left=place.left_at is not None,
        )
        for place in places
    ]


def invitation_lines(visit: Visit) -> list[InvitationLine]:
    """Return the invitations that are still open."""
    calendar = Calendar(visit.workshop, visit.at)
    return [
        InvitationLine(
            pk=one.pk,
            words=f"{one.get_role_display()}{f' for {one.email}' if one.email else ''}",
            note=f"made {calendar.moment(one.made_at)} by {one.made_by.name}; good until {calendar.moment(one.expires_at)}",
        )
        for one in Invitation.objects.within(visit.workshop).open(visit.at)
    ]


def session_lines(visit: Visit, key: str | None) -> list[SessionLine]:
    """Return where the person on a visit is signed in, this session first."""
    calendar = Calendar(visit.workshop, visit.at)
    rows = PersonSession.objects.open_of(visit.member.user, visit.at)
    return [
        SessionLine(
            mark=mark_of_session(row.pk),
            device=row.from_device or "a device without a name",
            note=f"from {row.from_address or 'an unknown address'}; signed in {calendar.moment(row.begun_at)}; "
            f"last seen {calendar.moment(row.seen_at)}",
            is_this=row.pk == key,
        )
        for row in sorted(rows, key=lambda row: row.pk != key)
    ]


def second_step_line(visit: Visit) -> SecondStepLine | None:
    """Return how the visitor's second step stands, or None where it is off."""
    second = SecondStep.objects.of(visit.member.user).first()
    if second is None:
        return None
    since = Calendar(visit.workshop, visit.at).day(second.on_since)
    return SecondStepLine(since=since, unused_codes=RecoveryCode.objects.unused(second).count())
