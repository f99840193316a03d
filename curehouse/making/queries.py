"""Questions about formulas and batches."""

from typing import Self

from django.db.models import Case, Count, Exists, OuterRef, Q, QuerySet, Subquery, Value, When
from django.db.models.functions import Coalesce

from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet

OPEN_STATES = ("poured", "curing")
# What a PositiveIntegerField holds: a longer figure is no batch's number.
_LARGEST_NUMBER = 2**31 - 1


class FormulaQuerySet(ScopedQuerySet):
    """Formulas."""

    def in_use_first(self) -> Self:
        """Return the formulas by name, those out of use after all others."""
        is_retired = Case(When(retired_at__isnull=True, then=Value(0)), default=Value(1))
        return self.order_by(is_retired, "name", "pk")

    def matching(self, text: str) -> Self:
        """Return the formulas whose name every word of *text* fits."""
        found = self
        for word in text.split():
            found = found.filter(name__icontains=word)
        return found

    def with_newest_version(self) -> Self:
        """Add ``newest_version``, the key of the version that is in force, None where there is none, and ``batch_count``."""
        versions = self.model._meta.get_field("versions").related_model.unscoped
        newest = versions.filter(formula=OuterRef("pk")).newest_first().values("pk")[:1]
        batches = self.model._meta.get_field("batches").related_model.unscoped
        poured = batches.filter(formula=OuterRef("pk")).order_by().values("formula").annotate(count=Count("pk"))
        return self.annotate(newest_version=Subquery(newest), batch_count=Coalesce(Subquery(poured.values("count")), Value(0)))


class FormulaVersionQuerySet(ScopedLedgerQuerySet):
    """Versions of formulas."""

    def newest_first(self) -> Self:
        """Return the versions, the newest first."""
        return self.order_by("-number", "-revision")

    def in_force(self) -> Self:
        """Return the versions that were not written again before they were poured."""
        return self.filter(~self._again())

    def with_standing(self) -> Self:
        """Add ``is_in_force``: it was not written again before it was poured."""
        return self.annotate(is_in_force=~self._again())

    def _again(self) -> Exists:
        later = self.model.unscoped.filter(
            formula=OuterRef("formula"), number=OuterRef("number"), revision__gt=OuterRef("revision")
        )
        return Exists(later)

    def with_batches(self) -> Self:
        """Add ``is_poured``: whether a batch was poured from it."""
        batches = self.model._meta.get_field("batches").related_model.unscoped
        return self.annotate(is_poured=Exists(batches.filter(version=OuterRef("pk"))))


class FormulaLineQuerySet(ScopedLedgerQuerySet):
    """Lines of formulas."""

    def of_versions_in_force(self) -> Self:
        """Return the lines of versions in force, formula by formula, the newest version first."""
        versions = self.model._meta.get_field("version").related_model.unscoped.in_force()
        found = self.filter(version__in=versions).select_related("version__formula")
        return found.order_by("version__formula__name", "version__formula", "-version__number", "place")


class BatchQuerySet(ScopedQuerySet):
    """Batches."""

    def open(self) -> Self:
        """Return the batches that still stand in the house."""
        return self.filter(state__in=OPEN_STATES)

    def newest_first(self) -> Self:
        """Return the batches by pour, newest first."""
        return self.order_by("-poured_at", "-id")

    def open_first(self) -> Self:
        """Return the batches that still stand first, each part newest first."""
        return self.order_by(Case(When(state__in=OPEN_STATES, then=0), default=1), "-poured_at", "-id")

    def matching(self, text: str) -> Self:
        """Return the batches that every word of *text* fits: a part of a name, or the number."""
        found = self
        for word in text.split():
            fits = Q(formula__name__icontains=word) | Q(known_as__icontains=word)
            if word.isascii() and word.isdecimal() and int(word) <= _LARGEST_NUMBER:
                fits |= Q(number=int(word))
            found = found.filter(fits)
        return found

    def last_of(self, formulas: QuerySet) -> Self:
        """Return the newest batch of each of *formulas* with its formula, newest first."""
        newest = self.model.unscoped.filter(formula=OuterRef("pk")).newest_first().values("pk")[:1]
        last = formulas.annotate(last_batch=Subquery(newest)).values("last_batch")
        return self.filter(pk__in=last).select_related("formula").newest_first()

    def with_last_check(self) -> Self:
        """Add ``last_check_passed``: True, False, or None where no check was made."""
        checks = self.model._meta.get_field("safety_checks").related_model.unscoped
        newest = checks.filter(batch=OuterRef("pk")).newest_first()
        return self.annotate(last_check_passed=Subquery(newest.values("passed")[:1]))

    def with_hold(self) -> Self:
        """Add ``is_held``: whether a hold stands that nobody has lifted."""
        holds = self.model._meta.get_field("holds").related_model.unscoped
        return self.annotate(is_held=Exists(holds.filter(batch=OuterRef("pk"), lift__isnull=True)))


class SafetyCheckQuerySet(ScopedLedgerQuerySet):
    """Safety checks."""

    def newest_first(self) -> Self:
        """Return the checks, the one that counts first."""
        return self.order_by("-at", "-id")


class BatchUseQuerySet(ScopedLedgerQuerySet):
    """What batches took from the storeroom."""

    def in_force(self) -> Self:
        """Return the uses whose movement was not taken back, with lot and material at hand."""
        return self.filter(movement__corrected_by__isnull=True).select_related("movement__lot__material")


class BatchHoldQuerySet(ScopedLedgerQuerySet):
    """What holds batches' release."""

    def standing(self) -> Self:
        """Return the holds that nobody has lifted, the oldest first."""
        return self.filter(lift__isnull=True).order_by("at", "pk")
