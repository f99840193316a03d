"""Racks with levels and positions, and which bars stand where."""

from django.db import models
from django.db.models import F, Q

from curehouse.curing.queries.places import OccupancyQuerySet, PlacementQuerySet, PositionQuerySet
from curehouse.making.models import Batch
from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel


class Rack(ScopedModel):
    """A rack; the round walks racks in this order."""

    name = models.CharField(max_length=80)
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workshop", "name"], name="rack_name_once", violation_error_code="name_taken"),
            models.CheckConstraint(condition=~Q(name=""), name="rack_named", violation_error_code="missing"),
        ]

    def __str__(self) -> str:
        return self.name


class Position(ScopedModel):
    """A stretch of board on one level of a rack (level 1 is the top) that holds so many bars.

    ``bars_held`` is kept beside the placements so that the database itself refuses one bar too
    many; ``manage.py verify_places`` recomputes it.
    """

    rack = models.ForeignKey(Rack, on_delete=models.PROTECT, related_name="positions")
    level = models.PositiveSmallIntegerField()
    place = models.PositiveSmallIntegerField()
    capacity_bars = models.PositiveIntegerField()
    bars_held = models.PositiveIntegerField(default=0)

    unscoped = PositionQuerySet.as_manager()
    objects = ScopedManager.from_queryset(PositionQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["rack", "level", "place"], name="position_once", violation_error_code="place_taken"
            ),
            models.CheckConstraint(
                condition=Q(bars_held__lte=F("capacity_bars")), name="position_capacity", violation_error_code="position_full"
            ),
            models.CheckConstraint(
                condition=Q(capacity_bars__gt=0) & Q(level__gt=0) & Q(place__gt=0),
                name="position_numbers_positive",
                violation_error_code="not_positive",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.rack.name}, level {self.level}, place {self.place}"

    @property
    def bars_free(self) -> int:
        """Return how many more bars fit here."""
        return self.capacity_bars - self.bars_held


class Occupancy(ScopedModel):
    """How many bars of a batch stand at a position now: the balance of the placements."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="occupancies")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="occupancies")
    bars = models.PositiveIntegerField()

    unscoped = OccupancyQuerySet.as_manager()
    objects = ScopedManager.from_queryset(OccupancyQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["batch", "position"], name="occupancy_once"),
        ]
        indexes = [
            # OccupancyQuerySet.standing: the racks are drawn from what stands now, not from history.
            models.Index(fields=["workshop", "position"], condition=Q(bars__gt=0), name="occupancy_standing"),
        ]

    def __str__(self) -> str:
        return f"{self.bars} bars at {self.position_id}"


class Placement(ScopedLedger, Signed):
    """Bars that came to a position, went to another, were turned where they stand, or left."""

    class Act(models.TextChoices):
        PLACED = "placed", "placed"
        MOVED = "moved", "moved"
        TURNED = "turned", "turned"
        TAKEN = "taken", "taken away"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="placements")
    act = models.CharField(max_length=6, choices=Act.choices)
    bars = models.PositiveIntegerField()
    origin = models.ForeignKey(Position, on_delete=models.PROTECT, null=True, related_name="+")
    target = models.ForeignKey(Position, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    written_at = models.DateTimeField()

    unscoped = PlacementQuerySet.as_manager()
    objects = ScopedManager.from_queryset(PlacementQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(bars__gt=0), name="placement_bars_positive", violation_error_code="not_positive"
            ),
            models.CheckConstraint(
                condition=(
                    Q(act="placed", origin__isnull=True, target__isnull=False)
                    | Q(act="moved", origin__isnull=False, target__isnull=False)
                    | Q(act="turned", origin__isnull=False, target=F("origin"))
                    | Q(act="taken", origin__isnull=False, target__isnull=True)
                ),
                name="placement_act_matches_ends",
                violation_error_code="placement_ends",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.bars} bars {self.get_act_display()}"
