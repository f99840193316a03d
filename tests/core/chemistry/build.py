"""Formulas for tests, and strategies that make them."""

from hypothesis import strategies as st

from curehouse.core.chemistry.acids import ACIDS, Acid
from curehouse.core.chemistry.alkali import Alkali, LyePart, certified
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.fats import Fat
from curehouse.core.chemistry.scale import Scales

OLIVE, COCONUT, SHEA = Bounds.between(184, 196), Bounds.between(248, 265), Bounds.between(160, 195)
NAOH = (LyePart(Alkali.NAOH),)
FINE = Scales(step_g=0.1, fine_step_g=0.1)


def olive_and_coconut(mass_g: float = 1000.0) -> tuple[Fat, ...]:
    return (Fat("olive oil", mass_g * 0.7, OLIVE), Fat("coconut oil", mass_g * 0.3, COCONUT))


masses = st.floats(5, 50_000)
ranges = st.tuples(st.floats(160, 265), st.floats(0, 20)).map(lambda one: Bounds.between(one[0] - one[1], one[0] + one[1]))
purities = st.floats(0.85, 1.0).map(certified)
steps = st.sampled_from([0.01, 0.1, 1.0, 2.0, 28.349523125 / 10, 28.349523125 / 100])
scales = st.builds(Scales, step_g=steps, fine_step_g=steps)
superfats = st.floats(0, 0.2)


@st.composite
def fats(draw: st.DrawFn) -> tuple[Fat, ...]:
    count = draw(st.integers(1, 6))
    return tuple(
        Fat(
            f"fat {number}",
            draw(masses),
            draw(ranges),
            draw(st.none() | st.floats(170, 260)),
        )
        for number in range(count)
    )


@st.composite
def acids(draw: st.DrawFn) -> tuple[Acid, ...]:
    names = draw(st.lists(st.sampled_from(sorted(ACIDS)), max_size=2))
    return tuple(
        Acid(
            name,
            draw(st.floats(0.5, 5)),
            draw(st.none() | st.sampled_from(sorted(ACIDS[name]))),
            draw(st.none() | st.floats(0.04, 1)),
        )
        for name in names
    )


@st.composite
def lyes(draw: st.DrawFn) -> tuple[LyePart, ...]:
    naoh = draw(st.none() | purities)
    koh_share = draw(st.sampled_from([0.0, 0.05, 0.1, 0.4, 1.0]))
    if koh_share == 0:
        return (LyePart(Alkali.NAOH, 1.0, naoh),)
    koh = LyePart(Alkali.KOH, koh_share, draw(purities))
    return (koh,) if koh_share == 1 else (LyePart(Alkali.NAOH, 1 - koh_share, naoh), koh)
