"""Questions about formulas and batches."""

from collections.abc import Collection
from typing import Self

from django.db.models import Case, Count, Exists, F, Model, OuterRef, Q, QuerySet, Subquery, Value, When
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

    def poured_with(self, materials: Collection[int]) -> Self:
        """Return the versions in force, of formulas in use, that were poured and have lye or a line of *materials* (keys)."""
        lines = self.model._meta.get_field("lines").related_model.unscoped
        has_line = Exists(lines.filter(version=OuterRef("pk"), material__in=materials))
        has_lye = Q(naoh_from__in=materials) | Q(koh_from__in=materials)
        return self.in_force().with_batches().filter(has_line | has_lye, is_poured=True, formula__retired_at=None)


class FormulaLineQuerySet(ScopedLedgerQuerySet):
    """Lines of formulas."""

    def of_versions_in_force(self) -> Self:
        """Return the lines of versions in force, formula by formula, the newest version first."""
        versions = self.model._meta.get_field("version").related_model.unscoped.in_force()
        found = self.filter(version__in=versions).select_related("version__formula")
        return found.order_by("version__formula__name", "version__formula", "-version__number", "place")


def last_check_of(batches: type[Model], batch: str) -> Subquery:
    """Return whether the last safety check of the *batch* of a row was passed; None where none was made."""
    checks = batches._meta.get_field("safety_checks").related_model.unscoped
    return Subquery(checks.filter(batch=OuterRef(batch)).newest_first().values("passed")[:1])


def hold_cause_of(batches: type[Model], batch: str) -> Subquery:
    """Return why the *batch* of a row is held; None where it is not."""
    holds = batches._meta.get_field("holds").related_model.unscoped
    return Subquery(holds.filter(batch=OuterRef(batch)).standing().values("cause")[:1])


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

    def without_run(self) -> Self:
        """Return the batches of which nobody said from which planned run they came."""
        return self.filter(run__isnull=True, is_brought_in=False)

    def last_of(self, formulas: QuerySet) -> Self:
        """Return the newest batch of each of *formulas* with its formula, newest first."""
        newest = self.model.unscoped.filter(formula=OuterRef("pk")).newest_first().values("pk")[:1]
        last = formulas.annotate(last_batch=Subquery(newest)).values("last_batch")
        return self.filter(pk__in=last).select_related("formula").newest_first()

    def with_last_check(self) -> Self:
        """Add ``last_check_passed``: True, False, or None where no check was made."""
        return self.annotate(last_check_passed=last_check_of(self.model, "pk"))

    def with_hold(self) -> Self:
        """Add ``hold_cause``: that of the oldest hold that nobody has lifted, None where none stands."""
        return self.annotate(hold_cause=hold_cause_of(self.model, "pk"))


class SafetyCheckQuerySet(ScopedLedgerQuerySet):
    """Safety checks."""

    def newest_first(self) -> Self:
        """Return the checks, the one that counts first."""
        return self.order_by("-at", "-id")


class CutNoteQuerySet(ScopedLedgerQuerySet):
    """What was seen at cuts."""

    def newest_first(self) -> Self:
        """Return what was said, the row that counts first, with who said it."""
        return self.select_related("by_user", "by_device").order_by("-id")


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


class RunQuerySet(ScopedQuerySet):
    """Runs."""

    def planned(self) -> Self:
        """Return the runs that are still to be poured, the next first."""
        return self.filter(state="planned").order_by("pour_on", "pk")

    def soonest_first(self) -> Self:
        """Return the runs that are planned by their day, then those that are over, the latest first."""
        is_over = Case(When(state="planned", then=Value(0)), default=Value(1))
        ahead = Case(When(state="planned", then=F("pour_on")))
        return self.order_by(is_over, ahead, "-pour_on", "-pk")

    def named(self) -> Self:
        """Return the runs with what their names are made of."""
        return self.select_related("formula", "version")


class ReservationQuerySet(ScopedQuerySet):
    """What runs take of the storeroom."""

    def standing(self) -> Self:
        """Return what is still to be taken, by the day of the run, with the run at hand.

        That is what runs that are planned take, and of a run that was poured what its batch took though nobody booked
        it yet: as long as the batch is in the house, and until a lot of that material is counted. A blend is booked
        with its parts too, but for those that the run reserves by themselves: what is not taken of its own lots is made
        up from them.
        """
        run = self.model._meta.get_field("run").related_model
        batch = run._meta.get_field("batch").related_model
        uses = batch._meta.get_field("uses").related_model.unscoped.in_force()
        of_batch = uses.filter(batch=OuterRef("run__batch"))
        # Lye that was dissolved beforehand is booked as the lye in it.
        of_lye = Q(movement__lot__material__kind="lye")
        dissolved = of_lye & Q(movement__lot__made_by__takes__movement__lot__material=OuterRef("material"))
        booked = of_batch.filter(Q(movement__lot__material=OuterRef("material")) | dissolved)
        material = self.model._meta.get_field("material").related_model
        parts = material._meta.get_field("blends").related_model._meta.get_field("parts").related_model.unscoped
        # What the run reserves by itself too may have been booked as that.
        by_itself = self.model.unscoped.filter(run=OuterRef(OuterRef(OuterRef("run")))).values("material")
        own_parts = parts.filter(blend__material=OuterRef(OuterRef("material"))).exclude(material__in=by_itself)
        made_up = of_batch.filter(movement__lot__material__in=own_parts.values("material"))
        moved = uses.model._meta.get_field("movement").related_model.unscoped.filter(kind="count")
        counted = moved.filter(lot__material=OuterRef("material"), written_at__gt=OuterRef("run__batch__written_at"))
        poured = (
            Q(run__state="poured", run__batch__state__in=OPEN_STATES) & ~Exists(booked) & ~Exists(made_up) & ~Exists(counted)
        )
        still = self.filter(Q(run__state="planned") | poured)
        return still.select_related("run").order_by("run__pour_on", "run", "material")


class PourQuerySet(ScopedQuerySet):
    """Pours at the table."""

    def under_way(self) -> Self:
        """Return the pours that nobody ended yet, the first begun first, with what their names are made of."""
        return self.named().filter(state="open").order_by("pk")

    def named(self) -> Self:
        """Return the pours with what their names are made of."""
        return self.select_related("version__formula", "run__formula", "batch__formula", "by_user", "by_device")


class PourStepQuerySet(ScopedLedgerQuerySet):
    """What was said at the table."""

    def in_order(self) -> Self:
        """Return the steps in the order in which they were said, with lots and who said them."""
        return self.select_related("lot__material", "scale", "by_user", "by_device").order_by("pk")

    def in_force(self) -> Self:
        """Return the steps that stand: neither corrected nor said by mistake."""
        return self.filter(corrected_by__isnull=True).exclude(kind="unsaid")
