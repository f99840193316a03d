"""What is refused, warned of and noted: each with the formula next to it where it is not."""

import string
from collections.abc import Callable
from dataclasses import replace

import pytest

from curehouse.core.chemistry.acids import Acid
from curehouse.core.chemistry.alkali import Alkali, LyePart, certified
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.fats import Fat
from curehouse.core.chemistry.finding import Finding, Level
from curehouse.core.chemistry.findings import judge
from curehouse.core.chemistry.formula import Additive, Formula
from curehouse.core.chemistry.liquids import Composition, Liquid, LiquidKind, Place
from curehouse.core.chemistry.lye import given
from curehouse.core.chemistry.named import Aside, Misnamed
from curehouse.core.chemistry.scale import Scales
from curehouse.core.chemistry.words import CAUTIONS, WORDS, told

from .build import COCONUT, FINE, OLIVE

FRONT, TRACE = Place.FRONT, Place.TRACE
GOAT = Composition(Bounds.exactly(0.8703), Bounds.exactly(0.0414), 0.0445, Bounds.between(228, 242), fat_measured=True)
BY_TABLE = replace(GOAT, fat_measured=False)
ALMOND = Composition(Bounds.exactly(0.9705), Bounds.exactly(0.011), 0.0, Bounds.between(182, 196))
NAOH, KOH = LyePart(Alkali.NAOH, 1.0, certified(0.99)), LyePart(Alkali.KOH, 0.1, certified(0.90))


CALLED_SHEA = Misnamed("olive oil", "olive 184 to 196", "olive oil (184 to 196)", "shea (160 to 195)", Bounds.between(160, 195))


def certified_fats(mass_g: float = 1000.0) -> tuple[Fat, ...]:
    return (Fat("olive oil", mass_g * 0.7, OLIVE, 190.0), Fat("coconut oil", mass_g * 0.3, COCONUT, 256.5))


# 143.6 g of lye at 5 %: nothing to say about it.
PLAIN = Formula(
    fats=certified_fats(), superfat=0.05, lye=(NAOH,), scales=FINE, front_c=25.0, liquids=(Liquid("water", 330, FRONT),)
)


def with_liquids(*liquids: Liquid, **more: object) -> Formula:
    return replace(PLAIN, liquids=liquids, **more)


def milk(mass_g: float, place: Place = TRACE, made_of: Composition = GOAT) -> Liquid:
    return Liquid("goat's milk", mass_g, place, LiquidKind.MILK, made_of)


def water(mass_g: float) -> Liquid:
    return Liquid("water", mass_g, FRONT)


def plant(is_thickened: bool | None) -> Liquid:
    return Liquid("almond drink", 150, TRACE, LiquidKind.PLANT_MILK, ALMOND, is_thickened)


def brew(mass_g: float, *unknown: str, place: Place = FRONT) -> Liquid:
    return Liquid("brew", mass_g, place, LiquidKind.OTHER, unknown=unknown, counted_as="water")


def with_acid(name: str, form: str | None, strength: float | None = None) -> Formula:
    return replace(PLAIN, acids=(Acid(name, 5, form, strength),))


def citric(mass_g: float) -> Formula:
    return replace(PLAIN, acids=(Acid("citric", mass_g, "anhydrous"),))


def scent(mass_g: float, most_share: float | None) -> tuple[Additive, ...]:
    return (Additive("lavender oil", mass_g, is_fragrance=True, most_share=most_share),)


WIDE = Bounds.between(60, 400)


def olive(certificate: float | None = None, own: Bounds = OLIVE) -> Formula:
    return replace(PLAIN, fats=(Fat("olive oil", 1000, own, certificate, OLIVE),))


def sour(mass_g: float, water_g: float) -> Formula:
    return replace(PLAIN, acids=(Acid("acetic", mass_g, "solution", 0.05),), liquids=(water(water_g),))


FATS_BY_TABLE = (Fat("coconut oil", 1000, COCONUT),)
MIX = (replace(NAOH, share=0.9), KOH)
REFUSAL, WARNING, NOTE = Level.REFUSAL, Level.WARNING, Level.NOTE

# code, level, a formula that brings it, one beside it that does not
CASES: list[tuple[str, Level, Formula, Formula]] = [
    ("koh_purity_missing", REFUSAL, replace(PLAIN, lye=(MIX[0], replace(KOH, purity=None))), replace(PLAIN, lye=MIX)),
    ("purity_implausible", REFUSAL, replace(PLAIN, lye=(replace(NAOH, purity=certified(0.85)),)), replace(PLAIN, lye=MIX)),
    ("purity_implausible", REFUSAL, replace(PLAIN, lye=(MIX[0], replace(KOH, purity=certified(0.75)))), PLAIN),
    ("purity_low", WARNING, replace(PLAIN, lye=(replace(NAOH, purity=certified(0.93)),)), replace(PLAIN, lye=MIX)),
    ("purity_low", WARNING, replace(PLAIN, lye=(MIX[0], replace(KOH, purity=certified(0.82)))), PLAIN),
    ("lye_under_a_step", REFUSAL, replace(PLAIN, scales=Scales(0.1, 200)), PLAIN),
    ("superfat_below_zero", REFUSAL, replace(PLAIN, superfat=-0.01), replace(PLAIN, superfat=0.0)),
    ("may_be_caustic", WARNING, replace(PLAIN, superfat=0.0), replace(PLAIN, superfat=0.02)),
    ("batch_too_small", WARNING, replace(PLAIN.times(0.05), scales=Scales(1, 1)), replace(PLAIN, scales=Scales(1, 1))),
    ("scale_coarse", NOTE, replace(PLAIN.times(0.2), scales=Scales(1, 1)), replace(PLAIN, scales=Scales(1, 1))),
    ("may_stay_soft", WARNING, replace(PLAIN, superfat=0.08), PLAIN),
    ("may_stay_soft", NOTE, replace(PLAIN, superfat=0.075), PLAIN),
    ("may_stay_soft_or_burn", NOTE, replace(PLAIN, fats=FATS_BY_TABLE, superfat=0.03, lye=(LyePart(Alkali.NAOH),)), PLAIN),
    ("naoh_counted_pure", NOTE, replace(PLAIN, lye=(LyePart(Alkali.NAOH),)), PLAIN),
    ("certificate_outside_range", WARNING, replace(PLAIN, fats=(Fat("olive oil", 1000, OLIVE, 210.0),)), PLAIN),
    ("certificate_far_outside", REFUSAL, olive(certificate=226.0), olive(certificate=225.0)),
    ("certificate_far_outside", REFUSAL, olive(certificate=156.0), olive(certificate=157.0)),
    # A wide range of one's own makes no slip look right.
    ("certificate_far_outside", REFUSAL, olive(certificate=256.0, own=WIDE), PLAIN),
    ("own_range_far_outside", REFUSAL, olive(own=WIDE), olive(own=Bounds.between(160, 225))),
    ("own_range_far_outside", REFUSAL, olive(own=Bounds.between(180, 226)), PLAIN),
    ("own_range_outside_list", WARNING, olive(own=Bounds.between(184, 209)), olive(own=Bounds.between(184, 208))),
    (
        "own_range_outside_list",
        WARNING,
        replace(PLAIN, fats=(Fat("olive oil", 1000, Bounds.between(205, 215), None, OLIVE),)),
        replace(PLAIN, fats=(Fat("olive oil", 1000, Bounds.between(186, 190), None, OLIVE),)),
    ),
    (
        "acid_form_open",
        NOTE,
        with_acid("citric", None),
        with_acid("citric", "anhydrous"),
    ),
    (
        "acid_strength_missing",
        WARNING,
        with_acid("lactic", None),
        with_acid("lactic", None, 0.9),
    ),
    ("acid_strength_odd", WARNING, with_acid("acetic", None, 0.5), with_acid("acetic", None, 0.05)),
    ("name_says_other", WARNING, replace(PLAIN, misnamed=(CALLED_SHEA,)), PLAIN),
    ("acid_beside", WARNING, replace(PLAIN, asides=(Aside("Vinegar", 30, Acid("acetic", 30, None, 0.05)),)), PLAIN),
    ("alkali_beside", WARNING, replace(PLAIN, asides=(Aside("Soda ash", 20),)), PLAIN),
    ("acid_much", WARNING, citric(60), citric(50)),
    ("acid_over_lye", REFUSAL, citric(230), citric(220)),
    ("acid_over_fats", REFUSAL, citric(4000), citric(1000)),
    ("lye_over_solubility", REFUSAL, with_liquids(water(135), milk(195)), with_liquids(water(143), milk(187))),
    ("lye_over_cold_solubility", REFUSAL, replace(PLAIN, front_c=10.0), replace(PLAIN, front_c=20.0)),
    ("koh_front_cold", REFUSAL, replace(PLAIN, lye=MIX, front_c=19.9), replace(PLAIN, lye=MIX, front_c=20.0)),
    ("front_under_lye", WARNING, with_liquids(water(143), milk(187)), with_liquids(water(145), milk(185))),
    ("milk_front_under_lye", WARNING, with_liquids(milk(240, FRONT), milk(90)), with_liquids(milk(330, FRONT))),
    ("milk_front_opaque", NOTE, with_liquids(milk(330, FRONT)), with_liquids(water(150), milk(180))),
    ("liquid_low", WARNING, with_liquids(water(279.9)), with_liquids(water(280))),
    ("liquid_high", WARNING, with_liquids(water(380.1)), with_liquids(water(380))),
    ("liquid_high_with_acids", WARNING, sour(100, 286), sour(100, 284)),
    ("milk_front_cold", WARNING, with_liquids(milk(330, FRONT)), with_liquids(milk(400, FRONT))),
    ("milk_front_cold", WARNING, with_liquids(milk(330, FRONT)), with_liquids(water(200), milk(130))),
    (
        "milk_front_cold_koh",
        WARNING,
        replace(with_liquids(milk(400, FRONT)), lye=MIX),
        replace(with_liquids(water(200), milk(130)), lye=MIX),
    ),
    ("milk_hardly_noticed", NOTE, with_liquids(water(250), milk(80)), with_liquids(water(247.5), milk(82.5))),
    (
        "milk_fat_from_table",
        NOTE,
        with_liquids(water(200), milk(130, made_of=BY_TABLE)),
        with_liquids(water(200), milk(130)),
    ),
    ("sugar_heats_front", NOTE, with_liquids(milk(330, FRONT)), with_liquids(water(200), milk(130))),
    ("sugar_heats_trace", NOTE, with_liquids(water(200), milk(130)), with_liquids(milk(330, FRONT))),
    ("plant_milk_thickened", WARNING, with_liquids(water(180), plant(True)), with_liquids(water(180), plant(False))),
    ("plant_milk_thickener_open", NOTE, with_liquids(water(180), plant(None)), with_liquids(water(180), plant(False))),
    ("liquid_unknown", WARNING, with_liquids(brew(330, "water", "sugar")), with_liquids(brew(330, "sugar"))),
    ("liquid_part_unknown", NOTE, with_liquids(brew(330, "fat", "sugar")), with_liquids(brew(330))),
    ("fragrance_over_limit", WARNING, replace(PLAIN, additives=scent(30, 0.02)), replace(PLAIN, additives=scent(20, 0.02))),
    ("fragrance_limit_missing", NOTE, replace(PLAIN, additives=scent(30, None)), replace(PLAIN, additives=scent(30, 0.05))),
    ("allergens", NOTE, replace(PLAIN, allergens=("milk", "almond", "milk")), PLAIN),
]
FOUND_IN = {code: formula for code, _level, formula, _beside in CASES}


def found(formula: Formula, code: str) -> Finding | None:
    return next((finding for finding in judge(formula).findings if finding.code == code), None)


def grams(mass_g: float) -> str:
    return f"{mass_g:.1f} g"


def test_a_plain_formula_has_nothing_said_about_it() -> None:
    assert judge(PLAIN).findings == ()


@pytest.mark.parametrize(("code", "level", "with_it", "beside"), CASES, ids=[f"{case[0]}-{case[1]}" for case in CASES])
def test_it_is_found_and_beside_it_is_not(code: str, level: Level, with_it: Formula, beside: Formula) -> None:
    finding = found(with_it, code)
    assert finding is not None
    assert finding.level is level
    assert found(beside, code) is None
    assert judge(with_it).is_refused is any(one.level is REFUSAL for one in judge(with_it).findings)
    words = told(finding, grams)
    for sentence in (words.says, words.remedy):
        assert sentence.endswith(".")
        assert "{" not in sentence
        assert "nan" not in sentence.lower().split()


def test_every_finding_has_words_and_every_word_a_case() -> None:
    assert {case[0] for case in CASES} == set(WORDS)


@pytest.mark.parametrize(("code", "level", "with_it", "beside"), CASES, ids=[f"{case[0]}-{case[1]}" for case in CASES])
def test_the_words_use_only_figures_that_are_there(code: str, level: Level, with_it: Formula, beside: Formula) -> None:
    finding = found(with_it, code)
    assert finding is not None
    named = {name for _, name, _, _ in string.Formatter().parse(WORDS[code].says + WORDS[code].remedy) if name}
    assert named <= finding.figures.keys()


@pytest.mark.parametrize(
    "code",
    [
        "may_be_caustic", "batch_too_small", "certificate_outside_range", "own_range_outside_list", "name_says_other",
        "alkali_beside",
    ],
)  # fmt: skip
def test_what_may_be_caustic_is_confirmed_by_a_person_and_checked_before_release(code: str) -> None:
    formula = next(case[2] for case in CASES if case[0] == code)
    judged = judge(formula)
    assert judged.needs_confirming
    assert judged.needs_check
    assert not judged.is_refused


def test_whatever_is_confirmed_is_confirmed_with_its_figure() -> None:
    asked = [one for formula in FOUND_IN.values() for one in judge(formula).findings if one.needs_confirming]
    assert {one.code for one in asked} == {
        "purity_low", "may_be_caustic", "batch_too_small", "certificate_outside_range", "own_range_outside_list",
        "liquid_unknown", "acid_much", "acid_strength_odd", "name_says_other", "alkali_beside",
    }  # fmt: skip
    for one in asked:
        assert any(letter.isdigit() for letter in one.read_as.removeprefix(one.code)), one


@pytest.mark.parametrize(("code", "level", "with_it", "beside"), CASES, ids=[f"{case[0]}-{case[1]}" for case in CASES])
def test_nobody_is_told_to_set_less_superfat_where_it_may_be_caustic(
    code: str, level: Level, with_it: Formula, beside: Formula
) -> None:
    for formula in (with_it, replace(with_it, superfat=0.02), replace(with_it, superfat=0.02, fats=FATS_BY_TABLE)):
        said = [told(one, grams).remedy for one in judge(formula).findings]
        if (figures := judge(formula).figures) is not None and figures.superfat.of_fats.low < 0:
            assert not any("Set a lower superfat" in one for one in said)


def test_what_dissolves_the_lye_is_confirmed_where_nothing_is_known_of_it() -> None:
    in_front = found(with_liquids(brew(330, "water", "sugar")), "liquid_unknown")
    at_trace = found(with_liquids(water(200), brew(130, "water", "fat", "sugar", place=TRACE)), "liquid_unknown")
    assert in_front is not None and at_trace is not None
    assert (in_front.needs_confirming, at_trace.needs_confirming) == (True, False)
    assert in_front.read_as == "liquid_unknown:brew:1.0000"
    assert "of the water and sugar of brew" in told(in_front, grams).says
    assert "the water, fat and sugar of brew" in told(at_trace, grams).says


def test_a_name_that_says_another_fat_tells_the_superfat_if_it_is_that() -> None:
    finding = found(FOUND_IN["name_says_other"], "name_says_other")
    assert finding is not None
    assert finding.read_as == "name_says_other:olive oil:olive 184 to 196"
    assert "If it is what it is called, the superfat is" in told(finding, grams).says
    assert "caustic" in told(finding, grams).says


def test_an_acid_among_the_rest_says_what_lye_it_eats_and_more_of_an_alkali_is_asked_anew() -> None:
    vinegar = found(FOUND_IN["acid_beside"], "acid_beside")
    assert vinegar is not None
    # 30 g of 5 %: 1.5 g of acetic acid, each mol of 60.05 g of it takes one of NaOH (40.00 g).
    assert vinegar.figures["eaten_g"] == pytest.approx(1.5 * 39.997 / 60.052, rel=1e-4)
    assert not vinegar.needs_confirming
    ash = found(FOUND_IN["alkali_beside"], "alkali_beside")
    assert ash is not None
    assert ash.read_as == "alkali_beside:Soda ash:0.0200"
    assert ash.was_read(["alkali_beside:Soda ash:0.0300"])
    assert ash.was_read(["alkali_beside:Soda ash:0.0100"]) is None


def test_findings_come_gravest_first() -> None:
    many = replace(
        PLAIN,
        superfat=-0.02,
        allergens=("milk",),
        liquids=(water(200), milk(250)),
        additives=scent(40, 0.01),
        lye=(LyePart(Alkali.NAOH),),
    )
    levels = [list(Level).index(finding.level) for finding in judge(many).findings]
    assert levels == sorted(levels)
    assert len(set(levels)) == 3


def test_a_missing_purity_shows_no_amount_but_still_what_the_lines_say() -> None:
    judged = judge(replace(PLAIN, lye=(LyePart(Alkali.KOH),), allergens=("milk",)))
    assert judged.figures is None
    assert [finding.code for finding in judged.findings] == ["koh_purity_missing", "allergens"]


def test_the_batch_that_is_named_as_large_enough_is() -> None:
    small = replace(PLAIN.times(0.05), scales=Scales(1, 1))
    finding = found(small, "batch_too_small")
    assert finding is not None
    safe_g = finding.figures["safe_fats_g"]
    assert isinstance(safe_g, float)
    enough = small.times(safe_g / 50)
    assert judge(enough).needs_confirming is False


@pytest.mark.parametrize(
    ("formula", "code", "figure", "change"),
    [
        (
            FOUND_IN["lye_over_solubility"],
            "lye_over_solubility",
            "needed_g",
            lambda grams: with_liquids(water(grams), milk(330 - grams)),
        ),
        (with_liquids(water(200)), "liquid_low", "least_g", lambda grams: with_liquids(water(grams))),
        (with_liquids(water(500)), "liquid_high", "most_g", lambda grams: with_liquids(water(grams))),
        (sour(300, 380), "liquid_high_with_acids", "most_g", lambda grams: sour(300, grams)),
        (
            with_liquids(water(280), milk(50)),
            "milk_hardly_noticed",
            "from_g",
            lambda grams: with_liquids(water(330 - grams), milk(grams)),
        ),
    ],
)
def test_who_does_as_the_remedy_says_is_rid_of_it(
    formula: Formula, code: str, figure: str, change: Callable[[float], Formula]
) -> None:
    finding = found(formula, code)
    assert finding is not None
    grams = finding.figures[figure]
    assert isinstance(grams, float)
    assert found(change(grams), code) is None


def test_the_cold_procedure_names_its_temperatures() -> None:
    # Common practice, no source: lye in milk at 24 to 27 °C and below 30, fats at 38 to 41 °C.
    half = with_liquids(milk(230, FRONT), milk(100))
    front, trace = found(half, "sugar_heats_front"), found(half, "sugar_heats_trace")
    assert front is not None and trace is not None
    assert "24\u00a0°C to 27\u00a0°C, never over 30\u00a0°C; fats at 38\u00a0°C to 41\u00a0°C" in told(front, grams).remedy
    assert "10.2 g of sugar to the lye" in told(front, grams).says
    at_trace = told(trace, grams).remedy
    assert "Freeze" not in at_trace
    assert "cool to 24\u00a0°C to 27\u00a0°C and the fats to 38\u00a0°C to 41\u00a0°C" in at_trace
    assert "4.5 g of sugar" in told(trace, grams).says


@pytest.mark.parametrize(
    ("name", "share", "shown"),
    [
        ("low_share", 0.0199, "1.9"), ("low_share", -0.0001, "−0.1"), ("middle_share", 0.04999, "4.9"),
        ("middle_share", 0.05, "5"), ("effective_share", 0.0299, "2.9"), ("high_share", 0.0801, "8.1"),
        ("setting_share", 0.0382, "3.82"), ("setting_share", 0.03821, "3.83"), ("purity_share", 0.9499, "94.99"),
        ("purity_share", 0.94991, "95"), ("purity_share", 0.93, "93"),
    ],
)  # fmt: skip
def test_no_figure_is_shown_better_than_it_is(name: str, share: float, shown: str) -> None:
    code = {"effective_share": "milk_fat_from_table", "setting_share": "milk_fat_from_table", "purity_share": "purity_low"}
    figures = {one: share for one in ("low_share", "middle_share", "high_share", "effective_share", "setting_share")}
    words = told(Finding(NOTE, code.get(name, "may_be_caustic"), {**figures, name: share}), grams)
    assert f" {shown}\u00a0%" in f"{words.says} {words.remedy}"


def test_lye_that_was_really_weighed_is_judged_as_it_is() -> None:
    planned = judge(PLAIN).figures
    assert planned is not None
    over = judge(PLAIN, given([(NAOH, planned.lye_g * 1.06)]))
    assert over.is_refused
    assert over.findings[0].code == "superfat_below_zero"
    short = judge(PLAIN, given([(NAOH, planned.lye_g * 0.95)]))
    assert found_in(short.findings, "may_stay_soft").level is WARNING


def found_in(findings: tuple[Finding, ...], code: str) -> Finding:
    return next(finding for finding in findings if finding.code == code)


def test_a_low_end_just_below_zero_never_reads_as_nothing() -> None:
    finding = Finding(WARNING, "may_be_caustic", {"low_share": -0.0001, "middle_share": 0.02, "high_share": 0.05})
    assert "as low as \u22120.1\u00a0%" in told(finding, grams).says


def test_the_cautions_name_what_saves_eyes_and_skin() -> None:
    everything = " ".join(CAUTIONS)
    for must in ("goggles", "never pour liquid onto lye", "aluminium", "15 minutes", "vomiting", "vinegar", "poison centre"):
        assert must in everything.lower()
