"""Questions about people and devices."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Self

from django.db import models
from django.db.models import F, Max, OuterRef, Q, Subquery
from django.db.models.functions import Round

from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet

# Where a session keeps the workshop a person chose to be at work in.
WORKSHOP_IN_SESSION = "workshop"


class WorkshopQuerySet(models.QuerySet):
    """Workshops."""

    def of(self, user: models.Model) -> Self:
        """Return the workshops *user* is a member of, oldest first."""
        return self.filter(pk__in=user.memberships.values("workshop")).order_by("pk")


class MemberQuerySet(ScopedQuerySet):
    """People in workshops."""

    def of(self, user: models.Model) -> Self:
        """Return *user*'s memberships with their workshops, oldest first."""
        return self.filter(user=user).select_related("workshop", "user").order_by("pk")

    def at_work(self, user: models.Model, session: Mapping[str, Any]) -> Any:
        """Return *user*'s place in the workshop chosen in this session, else the oldest, or None."""
        chosen = session.get(WORKSHOP_IN_SESSION)
        mine = self.of(user)
        return mine.filter(workshop=chosen).first() if chosen else mine.first()


class AuditEntryQuerySet(ScopedLedgerQuerySet):
    """What was done."""

    def newest_first(self) -> Self:
        """Return the entries with who did it, newest first."""
        return self.select_related("by_user", "by_device").order_by("-at", "-pk")

    def between(self, first: datetime, end: datetime) -> Self:
        """Return the entries of a stretch of time, without its *end*."""
        return self.filter(at__gte=first, at__lt=end)


class DeviceTokenQuerySet(ScopedQuerySet):
    """Tokens of devices."""

    def valid(self) -> Self:
        """Return the tokens that open the door."""
        return self.filter(revoked_at__isnull=True)

    def valid_first(self) -> Self:
        """Return the tokens with who gave them: those that open the door first, newest first."""
        return self.select_related("made_by").order_by(F("revoked_at").desc(nulls_first=True), "-pk")

    def last_used_before(self, moment: datetime) -> Self:
        """Return the tokens whose last use is not on record since *moment*."""
        return self.filter(Q(last_used_at__isnull=True) | Q(last_used_at__lt=moment))


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
