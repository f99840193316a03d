"""Questions about people and devices."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, Self

from django.db import models
from django.db.models import Case, F, Max, OuterRef, Q, Subquery, When
from django.db.models.functions import Round

from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet

# Where a session keeps the workshop a person chose to be at work in.
WORKSHOP_IN_SESSION = "workshop"


class WorkshopQuerySet(models.QuerySet):
    """Workshops."""

    def of(self, user: models.Model) -> Self:
        """Return the workshops *user* is a member of, oldest first."""
        return self.filter(pk__in=user.memberships.now().values("workshop")).order_by("pk")


class MemberQuerySet(ScopedQuerySet):
    """People in workshops."""

    def now(self) -> Self:
        """Return those who have not left."""
        return self.filter(left_at__isnull=True)

    def owners(self) -> Self:
        """Return the owners with their names, those who were there first first."""
        return self.now().filter(role=self.model.Role.OWNER).select_related("user").order_by("pk")

    def by_name(self) -> Self:
        """Return the places with their people: those who are here first, by name."""
        return self.select_related("user", "ended_by").order_by(F("left_at").desc(nulls_first=True), "user__name", "pk")

    def of(self, user: models.Model) -> Self:
        """Return *user*'s places of now with their workshops, oldest first."""
        return self.now().filter(user=user).select_related("workshop", "user").order_by("pk")

    def at_work(self, user: models.Model, session: Mapping[str, Any]) -> Any:
        """Return *user*'s place in the workshop chosen in this session, else the oldest, or None.

        Whoever left the workshop they had chosen is at work in their oldest one.
        """
        chosen = session.get(WORKSHOP_IN_SESSION)
        mine = self.of(user)
        if not isinstance(chosen, int):
            return mine.first()
        return mine.order_by(Case(When(workshop=chosen, then=0), default=1), "pk").first()


class AuditEntryQuerySet(ScopedLedgerQuerySet):
    """What was done."""

    def newest_first(self) -> Self:
        """Return the entries with who did it, newest first."""
        return self.select_related("by_user", "by_device").order_by("-at", "-pk")

    def by_whom(self, who: str) -> Self:
        """Return what one did: a person (``u`` and their key), a device (``d`` and its key), or the shell."""
        if who[0] in "ud":
            return self.filter(**{"by_user" if who[0] == "u" else "by_device": int(who[1:])})
        return self.exclude(command="")

    def saying(self, words: str) -> Self:
        """Return the entries in which all of these words stand, in any letters."""
        rows = self
        for word in words.split():
            rows = rows.filter(
                Q(said__icontains=word)
                | Q(address__icontains=word)
                | Q(from_address__icontains=word)
                | Q(from_device__icontains=word)
            )
        return rows

    def between(self, first: datetime, end: datetime) -> Self:
        """Return the entries of a stretch of time, without its *end*."""
        return self.filter(at__gte=first, at__lt=end)


class DeviceTokenQuerySet(ScopedQuerySet):
    """Tokens of devices."""

    def valid(self) -> Self:
        """Return the tokens that open the door: not taken back, and their giver works there now."""
        here = {"made_by__memberships__workshop": F("workshop"), "made_by__memberships__left_at__isnull": True}
        return self.filter(revoked_at__isnull=True, **here)

    def valid_first(self) -> Self:
        """Return the tokens with who gave them: those that open the door first, newest first."""
        return self.select_related("made_by").order_by(F("revoked_at").desc(nulls_first=True), "-pk")

    def last_used_before(self, moment: datetime) -> Self:
        """Return the tokens whose last use is not on record since *moment*."""
        return self.filter(Q(last_used_at__isnull=True) | Q(last_used_at__lt=moment))


class InvitationQuerySet(ScopedQuerySet):
    """Invitations into workshops."""

    def open(self, at: datetime) -> Self:
        """Return the invitations that still let somebody in, with who made them, newest first."""
        still = self.filter(accepted_at__isnull=True, withdrawn_at__isnull=True, expires_at__gt=at)
        return still.select_related("made_by").order_by("-pk")

    def newest_first(self) -> Self:
        """Return the invitations with who made and who took them, newest first."""
        return self.select_related("made_by", "accepted_by").order_by("-pk")


class PersonSessionQuerySet(models.QuerySet):
    """Where people are signed in."""

    def open_of(self, person: models.Model, at: datetime) -> Self:
        """Return where *person* is signed in, used last first."""
        return self.filter(person=person, expire_date__gt=at).order_by("-seen_at", "pk")

    def last_seen(self, people: Iterable[int], at: datetime) -> dict[int, datetime]:
        """Return when each of these people was seen last, where one of their sessions is still open."""
        open_ones = self.filter(person__in=list(people), expire_date__gt=at)
        return dict(open_ones.values_list("person").annotate(last=Max("seen_at")).values_list("person", "last"))


class ScaleQuerySet(ScopedQuerySet):
    """Scales."""

    def in_use(self) -> Self:
        """Return the scales that are still weighed on, by name."""
        return self.filter(retired_at__isnull=True).order_by("name")

    def in_use_first(self) -> Self:
        """Return the scales by name, those that are retired last."""
        return self.order_by(F("retired_at").desc(nulls_first=True), "name")

    def with_last_check(self) -> Self:
        """Add ``last_check_at`` and ``last_check_off_g`` (shown minus test weight)."""
        newest = self.model._meta.get_field("checks").related_model.unscoped.filter(scale=OuterRef("pk")).order_by("-at", "-pk")
        # Rounded: SQLite subtracts decimals as floats.
        off_g = Round(F("shown_g") - F("test_weight_g"), 3)
        return self.annotate(
            last_check_at=Max("checks__at"),
            last_check_off_g=Subquery(newest.annotate(off_g=off_g).values("off_g")[:1]),
        )


class ScaleTareQuerySet(ScopedQuerySet):
    """What stands on scales and can be forgotten."""

    def in_use(self) -> Self:
        """Return the tares that still stand on their scales, by name."""
        return self.filter(retired_at__isnull=True).order_by("scale", "name")


class DoorCountQuerySet(models.QuerySet):
    """Questions about tries at the door."""

    def under(self, key: str, at: datetime) -> "DoorCountQuerySet":
        """Return the count under *key* if it goes on at *at*."""
        return self.filter(key=key, ends_at__gt=at)

    def over(self, at: datetime) -> "DoorCountQuerySet":
        """Return the counts that are over."""
        return self.filter(ends_at__lte=at)


class SecondStepQuerySet(models.QuerySet):
    """Second steps of signing in."""

    def of(self, person: models.Model) -> Self:
        """Return *person*'s, which is none where it is off."""
        return self.filter(person=person)

    def unused_since(self, step: int) -> Self:
        """Return those for which no code of *step* or a later one was accepted."""
        return self.filter(last_step__lt=step)


class RecoveryCodeQuerySet(models.QuerySet):
    """Codes that stand in for the app."""

    def unused(self, second_step: models.Model) -> Self:
        """Return the codes that still open.

        By columns of their own alone: across a join an UPDATE asks by a subquery, which PostgreSQL does not ask
        anew once another has used the code up.
        """
        return self.filter(second_step=second_step, used_at__isnull=True)
