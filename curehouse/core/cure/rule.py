"""What goes into an assessment and what comes out of it."""

from dataclasses import dataclass
from enum import StrEnum

from .foretold_weights import Foretold
from .series import Weighing


class State(StrEnum):
    """Where a batch stands in its cure."""

    CURING = "curing"
    CHECK_DUE = "check_due"
    READY = "ready"
    TOO_SOFT = "too_soft"
    LOOK_AGAIN = "look_again"
    NOT_WEIGHED = "not_weighed"


class CheckOutcome(StrEnum):
    """Outcome of the batch's last safety check, by a person."""

    NONE = "none"
    PASSED = "passed"
    FAILED = "failed"


class Firmness(StrEnum):
    """What the thumb says."""

    DENTS = "dents"
    GIVES = "gives"
    FIRM = "firm"


@dataclass(frozen=True, slots=True)
class RuleLimits:
    """The limits of the measured rule.

    Attributes
    ----------
    min_days
        Least age in whole days since the cut.
    weekly_loss_limit_pct
        Dry enough at this weekly loss or less, in % of the weight now.
    latest_day
        Past this day a batch that still loses too much or is still too wet is
        too soft.
    water_left_limit_pct
        If set: dry enough at this share or less of the water that went in, in %.

    Raises
    ------
    ValueError
        If a limit is out of its range; the message names it.
    """

    min_days: int = 28
    weekly_loss_limit_pct: float = 0.75
    latest_day: int = 56
    water_left_limit_pct: float | None = None

    def __post_init__(self) -> None:
        if self.min_days < 0:
            raise ValueError("min_days must be 0 or more")
        if not 0 < self.weekly_loss_limit_pct < 100:
            raise ValueError("weekly_loss_limit_pct must lie between 0 and 100")
        if self.latest_day < self.min_days:
            raise ValueError("latest_day must not be before min_days")
        if self.water_left_limit_pct is not None and not 0 < self.water_left_limit_pct <= 100:
            raise ValueError("water_left_limit_pct must be above 0 and at most 100")


@dataclass(frozen=True, slots=True)
class SampleSeries:
    """A sample bar: its label, its weighings, its latest firmness note if any.

    `firmness_day` is the day of that note, in days since the cut; None: as
    new as the batch's newest weighing. `foretold` is what its weights to come
    were foretold to be, if they were.
    """

    label: str
    weighings: tuple[Weighing, ...]
    firmness: Firmness | None = None
    firmness_day: float | None = None
    foretold: Foretold | None = None


@dataclass(frozen=True, slots=True)
class EffectiveSuperfat:
    """The superfat of a batch with its milk's own fat counted, in per cent.

    Its ends are None where they were not kept. ``may_be_caustic``: by its fats alone the low end is below 0.
    """

    middle_pct: float
    low_pct: float | None = None
    high_pct: float | None = None
    may_be_caustic: bool = False


@dataclass(frozen=True, slots=True)
class Drying:
    """What the bars had lost by a day since the cut, in % of the weight at the cut, and what was expected by then.

    Eight of ten such batches lose between `low_pct` and `high_pct` by that day.

    Raises
    ------
    ValueError
        If the range has no width or its middle lies outside.
    """

    day: float
    loss_pct: float
    low_pct: float
    middle_pct: float
    high_pct: float

    def __post_init__(self) -> None:
        if not self.low_pct <= self.middle_pct <= self.high_pct or self.low_pct == self.high_pct:
            raise ValueError("what is expected of a batch is a range with its middle in it")


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What is known of a batch besides its own figures, for the causes of softness; None where nobody knows.

    Attributes
    ----------
    planned_liquid_pct
        Total liquid that its formula's version asks, in % of the fats.
    lye_of_asked_pct
        Lye that went in, in % of what the version asks for the fats that went in; both alkalis by what they take.
    double_bonds_pct
        Fatty acids with double bonds, in % of its fats' fatty acids.
    drying
        What it lost beside what was expected.
    room_humidity_pct
        Mean relative humidity of the room since the cut, in %.
    """

    planned_liquid_pct: float | None = None
    lye_of_asked_pct: float | None = None
    double_bonds_pct: float | None = None
    drying: Drying | None = None
    room_humidity_pct: float | None = None


@dataclass(frozen=True, slots=True)
class BatchAtMoment:
    """A batch as known at the moment of the assessment.

    Attributes
    ----------
    whole_days
        Age in the workshop's local days: date of the moment minus date of the cut.
    age_days
        The same age as an exact time span, in days.
    bars
        Its sample bars. Weighings after the moment must not be among them.
    check
        Outcome of the last safety check.
    water_share
        Free water of the fresh bar over its mass (0-1), if known.
    days_since_weighed
        Whole local days since the batch's newest weighing (doubtful or not).
        None: worked out from the moments, rounded down.
    liquid_pct_of_fats
        Total liquid in % of the fats, if known.
    cut_after_hours
        Hours from pour to cut, if known.
    superfat
        Its effective superfat, if known.
    circumstances
        What else may have kept it soft.

    Raises
    ------
    ValueError
        If a weighing lies after the moment, an age is negative, or the water
        share is not between 0 and 1.
    """

    whole_days: int
    age_days: float
    bars: tuple[SampleSeries, ...]
    check: CheckOutcome = CheckOutcome.NONE
    water_share: float | None = None
    days_since_weighed: int | None = None
    liquid_pct_of_fats: float | None = None
    cut_after_hours: float | None = None
    superfat: EffectiveSuperfat | None = None
    circumstances: Circumstances = Circumstances()

    def __post_init__(self) -> None:
        if self.whole_days < 0 or self.age_days < 0:
            raise ValueError("a batch is assessed from its cut on: its age must not be negative")
        if self.water_share is not None and not 0 < self.water_share < 1:
            raise ValueError("water_share must lie between 0 and 1")
        newest = self.newest_weighing_day
        # A moment and its day reach here by different roundings.
        if newest is not None and newest > self.age_days + 1e-6:
            raise ValueError("a weighing lies after the moment of the assessment")

    @property
    def newest_weighing_day(self) -> float | None:
        """Day of the newest weighing of any sample bar, doubtful ones included."""
        return max((w.day for bar in self.bars for w in bar.weighings), default=None)


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure behind a reason: `unit` is one of "%", "days", "day", "g", "bars", "h"."""

    name: str
    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a verdict is what it is: a stable code, a sentence, the figures in it."""

    code: str
    text: str
    figures: tuple[Figure, ...] = ()


@dataclass(frozen=True, slots=True)
class BarFigures:
    """One sample bar's own figures; percentages as in `Verdict`, None where unknown.

    `half_step_pct` is half a step of the scale in % of the bar's weight now:
    what its weekly loss is known to. `start_day` is the day of its first
    weighing, from which its total loss counts; where that is not at the cut
    (`starts_at_cut` false) its water left is unknown.
    """

    label: str
    newest_day: float
    weekly_loss_pct: float | None
    total_loss_pct: float
    water_left_pct: float | None
    water_left_of_bar_pct: float | None
    starts_at_cut: bool
    half_step_pct: float | None = None
    start_day: float | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on a batch at a moment.

    Attributes
    ----------
    state
        The state to show.
    state_without_doubtful
        The state without the doubtful weighings; differs from `state` only
        when that is `LOOK_AGAIN`: for the doubtful weighings, or for a gain
        that damp air doesn't bring.
    state_with_doubtful
        The state the batch would have with them; equal to
        `state_without_doubtful` if they make no difference.
    age_days
        Age in whole local days since the cut.
    days_to_min
        Whole days until the least age; 0 once reached.
    weekly_loss_pct, total_loss_pct
        Medians over the sample bars that count, in %; None where unknown. A
        gain is negative.
    water_left_pct
        Median, in % of the water that went in; None where unknown, as for a
        bar not weighed at the cut.
    water_left_of_bar_pct
        Median, in % of the bar's weight now; None where unknown.
    dry_enough
        Old enough, hardly losing any more and (if a limit is set) little
        enough water left. False while not weighed for too long.
    bars
        Figures of the bars that count, by label.
    reasons
        Why, most telling first.
    advice
        What to do next, in sentences.
    """

    state: State
    state_without_doubtful: State
    state_with_doubtful: State
    age_days: int
    days_to_min: int
    weekly_loss_pct: float | None
    total_loss_pct: float | None
    water_left_pct: float | None
    water_left_of_bar_pct: float | None
    dry_enough: bool
    bars: tuple[BarFigures, ...]
    reasons: tuple[Reason, ...]
    advice: tuple[str, ...]
