"""What the workshop's own pages show, read in a few queries."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from curehouse.common.units import SMALLEST_G, from_grams
from curehouse.notices.channels.mailbox import mail_is_set_up
from curehouse.web.access import Visit
from curehouse.web.forms.choices import WEEKDAYS
from curehouse.web.forms.fields import trimmed
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.weights import weight
from curehouse.web.reading.words import count
from curehouse.workshops.models import DeviceToken, Scale, ScaleCheck, ScaleTare, Workshop


@dataclass(frozen=True, slots=True)
class ScaleLine:
    """A scale as a line: its step, and how its last check with a test weight came out."""

    pk: int
    name: str
    step: str
    last_check: str
    is_off: bool
    is_retired: bool


@dataclass(frozen=True, slots=True)
class DeviceLine:
    """A device as a line."""

    pk: int
    name: str
    hint: str
    reach: str
    given: str
    used: str
    is_revoked: bool


@dataclass(frozen=True, slots=True)
class HouseWords:
    """The workshop's choices, one sentence each."""

    preferences: str
    rule: str
    check: str
    scales: str
    devices: str
    has_other_workshops: bool
    mail_is_set_up: bool


def round_words(days: Sequence[int]) -> str:
    """Return the round's weekdays: ``Monday and Thursday``."""
    names = [WEEKDAYS[day] for day in days]
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def rule_words(workshop: Workshop) -> str:
    """Return the ready rule in a sentence."""
    water = workshop.water_left_limit_pct
    limit = "" if water is None else f", with at most {trimmed(water)} % of the water left"
    return (
        f"Dry enough from day {workshop.min_days} at {trimmed(workshop.weekly_loss_limit_pct)} % a week or less{limit}; "
        f"too soft if not by day {workshop.latest_day}."
    )


def scale_lines(visit: Visit) -> list[ScaleLine]:
    """Return the workshop's scales, those in use first."""
    unit, calendar = visit.workshop.unit, Calendar(visit.workshop, visit.at)

    def line(scale: Scale) -> ScaleLine:
        off = scale.last_check_off_g
        words = "not checked with a test weight yet"
        if off is not None:
            words = f"checked {calendar.day(scale.last_check_at)}: {off_words(off, unit)}"
        return ScaleLine(
            pk=scale.pk,
            name=scale.name,
            step=f"{trimmed(from_grams(scale.step_g, unit))} {unit}",
            last_check=words,
            is_off=off is not None and abs(off) > scale.step_g + SMALLEST_G,
            is_retired=scale.retired_at is not None,
        )

    return [line(scale) for scale in Scale.objects.within(visit.workshop).with_last_check().in_use_first()]


def off_words(off_g: Decimal, unit: str) -> str:
    """Return how a scale did with a test weight: ``it showed 0.2 g too much``."""
    if not off_g:
        return "it showed the test weight right"
    return f"it showed {trimmed(from_grams(abs(off_g), unit))} {unit} too {'much' if off_g > 0 else 'little'}"


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A past check of a scale."""

    day: str
    test_weight: str
    shown: str
    verdict: str
    by: str


def check_lines(visit: Visit, scale: Scale) -> list[CheckLine]:
    """Return a scale's newest checks."""
    unit, calendar = visit.workshop.unit, Calendar(visit.workshop, visit.at)
    newest = ScaleCheck.objects.within(visit.workshop).filter(scale=scale).select_related("by_user", "by_device")
    return [
        CheckLine(
            day=calendar.moment(check.at),
            test_weight=weight(check.test_weight_g, unit),
            shown=weight(check.shown_g, unit),
            verdict=off_words(check.shown_g - check.test_weight_g, unit),
            by=check.signed_by,
        )
        for check in newest.order_by("-at", "-pk")[:20]
    ]


@dataclass(frozen=True, slots=True)
class TareLine:
    """Something that stands on a scale and can be forgotten."""

    pk: int
    name: str
    weight: str


def tare_lines(visit: Visit, scale: Scale) -> list[TareLine]:
    """Return what stands on a scale now, by name."""
    tares = ScaleTare.objects.within(visit.workshop).in_use().filter(scale=scale)
    return [TareLine(pk=tare.pk, name=tare.name, weight=weight(tare.weight_g, visit.workshop.unit)) for tare in tares]


def device_lines(visit: Visit) -> list[DeviceLine]:
    """Return the devices that have or had a token, those that are let in first."""
    calendar = Calendar(visit.workshop, visit.at)
    return [
        DeviceLine(
            pk=token.pk,
            name=token.name,
            hint=token.hint,
            reach=token.get_reach_display(),
            given=f"given {calendar.day(token.made_at)} by {token.made_by.name}",
            used=f"last used {calendar.moment(token.last_used_at)}" if token.last_used_at else "not used yet",
            is_revoked=token.revoked_at is not None,
        )
        for token in DeviceToken.objects.within(visit.workshop).valid_first()
    ]


def house_words(visit: Visit) -> HouseWords:
    """Return the workshop's choices in words."""
    workshop = visit.workshop
    in_use = Scale.objects.within(workshop).in_use().count()
    let_in = DeviceToken.objects.within(workshop).valid().count()
    weights = "Grams" if workshop.unit == Workshop.Unit.GRAM else "Ounces"
    return HouseWords(
        preferences=f"{weights}, {workshop.currency}, clock of {workshop.time_zone}; "
        f"round on {round_words(workshop.round_days)}, morning at {workshop.morning_at:%H:%M}.",
        rule=rule_words(workshop),
        check=workshop.check_limit or "No limit of your own written down yet: without it no batch can pass.",
        scales=f"{count(in_use, 'scale')} in use." if in_use else "None in use: add the one you weigh on.",
        devices=f"{count(let_in, 'device')} with a token." if let_in else "None has a token.",
        has_other_workshops=Workshop.objects.of(visit.member.user).count() > 1,
        mail_is_set_up=mail_is_set_up(),
    )
