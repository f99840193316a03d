"""The words to each finding: what is so, and what to do; and the cautions about lye.

In braces stands a figure of the finding by its name; `told` puts it in with its unit.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from .finding import Figure, Finding

# What is a tenth of a per cent to people is not always one to a float.
_NOISE = 1e-7


@dataclass(frozen=True, slots=True)
class Words:
    """What a finding says, and its remedy."""

    says: str
    remedy: str


WORDS = {
    "koh_purity_missing": Words(
        "Potassium hydroxide is sold far from pure, and the purity of this one is missing: no amount can be worked out.",
        "Type the purity from the certificate of the lot.",
    ),
    "purity_implausible": Words(
        "A purity of {purity_share} is lower than lye is sold at.",
        "Check the figure against the certificate: 98.5 % is typed as 98.5.",
    ),
    "purity_low": Words(
        "A purity of {purity_share} is lower than lye is usually sold at, and the lower it is typed the more is weighed out.",
        "Hold the figure against the certificate once more, then confirm it. "
        "The alkalinity check must be passed before the bars are released.",
    ),
    "lye_under_a_step": Words(
        "The {lye_g} of lye is less than one step of the scale ({step_g}).",
        "Make a larger batch, or weigh the lye on a finer scale.",
    ),
    "superfat_below_zero": Words(
        "There is more lye than the fats can take: the superfat is {middle_share} (it may be {low_share} to {high_share}). "
        "These bars would burn skin.",
        "Set a superfat of 0 % or more; 5 % is usual.",
    ),
    "may_be_caustic": Words(
        "May be caustic: planned at {middle_share}, the superfat may really be as low as {low_share} "
        "(and as high as {high_share}).",
        "Type the saponification values and the purity from the certificates of your lots, or set a higher superfat. "
        "The alkalinity check must be passed before the bars are released.",
    ),
    "batch_too_small": Words(
        "May be caustic: {fats_g} of fats is little for this scale, and the superfat may really be as low as {low_share}.",
        "Make it with {safe_fats_g} of fats or more, or weigh on a finer scale. "
        "The alkalinity check must be passed before the bars are released.",
    ),
    "scale_coarse": Words(
        "With {fats_g} of fats the steps of the scale alone move the superfat by more than half a point.",
        "From {steady_fats_g} of fats on they move it by less; or weigh on a finer scale.",
    ),
    "may_stay_soft": Words(
        "May stay soft: with the milk's own fat the superfat is {middle_share} and may be as high as {high_share}.",
        "Set a lower superfat, or type the certificate values of your lots to narrow it; give the bars a longer cure.",
    ),
    "may_stay_soft_or_burn": Words(
        "May also stay soft: with the milk's own fat the superfat is {middle_share} and may be as high as {high_share}.",
        "Do not set a lower superfat: its low end is below 0 already. Type the certificate values of your lots, "
        "which narrows both ends; give the bars a longer cure.",
    ),
    "naoh_counted_pure": Words(
        "The sodium hydroxide counts as 100 % pure, as no certificate is at hand: if it is weaker, the superfat is higher.",
        "Type the purity from the certificate of the lot.",
    ),
    "certificate_outside_range": Words(
        "The certificate value of {name}, {value}, lies outside of the published range of {low} to {high} (mg KOH per g).",
        "Check that it is the saponification value in mg KOH per g and belongs to this fat; then confirm it. "
        "The alkalinity check must be passed before the bars are released.",
    ),
    "certificate_far_outside": Words(
        "The certificate value of {name}, {value}, lies far outside of the published range of {low} to {high} (mg KOH per g): "
        "no lot of this fat has it, so no lye is worked out.",
        "Check that it is the saponification value in mg KOH per g and belongs to this fat, and correct it where it was typed: "
        "in the formula, or on the lot. If the fat is another one, choose that.",
    ),
    "own_range_far_outside": Words(
        "Your own range for {name}, {own}, goes far outside of the published one of {low} to {high} (mg KOH per g): "
        "no lot of this fat has such a value, so no lye is worked out.",
        "Correct it on the material's page: the saponification value in mg KOH per g. If the fat is another one, choose that.",
    ),
    "own_range_outside_list": Words(
        "Your own range for {name}, {own}, is counted at {middle}, outside of the published one of {low} to {high} "
        "(mg KOH per g).",
        "Check on the material's page that it is the saponification value in mg KOH per g and belongs to this fat; "
        "then confirm it. The alkalinity check must be passed before the bars are released.",
    ),
    "name_says_other": Words(
        "{name} is called like {other}, and counts as {chosen}.",
        "Choose what it is, or call it so. If it is as chosen, hold it against its label once more, then confirm it. "
        "The alkalinity check must be passed before the bars are released.",
    ),
    "acid_beside": Words(
        "{name} stands among what eats no lye, and by its name it is an acid ({acid}): it may eat up to {eaten_g} of lye "
        "(counted as NaOH), and the superfat comes out higher.",
        "Count it as an acid, with its form or strength: then lye is added for it.",
    ),
    "alkali_beside": Words(
        "{name} is an alkali by its name, {alkali_share} of the fats, and beside the lye it is not counted: "
        "the bars may be caustic.",
        "Leave it out; if it is meant, confirm it. The alkalinity check must be passed before the bars are released.",
    ),
    "acid_form_open": Words(
        "The form of {name} acid is not said, so it counts as the one that eats less lye.",
        "Say whether it is anhydrous or a monohydrate: it stands on the bag.",
    ),
    "acid_strength_missing": Words(
        "The strength of the {name} acid is not said, so no lye is added for it and the superfat may come out higher.",
        "Type its strength in %: it stands on the bottle.",
    ),
    "acid_strength_odd": Words(
        "A strength of {strength_share} is not one at which {name} acid is usually sold: "
        "too high a figure weighs out too much lye.",
        "Hold it against the bottle once more, then confirm it. "
        "The alkalinity check must be passed before the bars are released.",
    ),
    "acid_much": Words(
        "The {acid_g} of acid eat {acid_share} of all lye ({eaten_g}, counted as NaOH). "
        "If less acid went in than is typed, so much lye would be left over, and the bars be caustic.",
        "Check the weight and its unit: {most_g} of it eat a fifth, more than is usual. Then confirm it. "
        "The alkalinity check must be passed before the bars are released.",
    ),
    "acid_over_lye": Words(
        "The {acid_g} of acid eat {eaten_g} of lye, counted as NaOH, and the fats take {left_g}: "
        "more lye would go in for the acid than for the soap.",
        "Take {most_g} of acid or less, so that it eats a fifth of the lye at most; check the weight and its unit.",
    ),
    "acid_over_fats": Words(
        "There is more acid ({acid_g}) than fats ({fats_g}).",
        "Check both weights and their units: 1 to 3 % of the fats is usual for a dry acid.",
    ),
    "lye_over_solubility": Words(
        "The lye cannot all dissolve: {lye_g} of it needs {needed_g} of water, and in front stand {water_g}.",
        "Put more of the liquid in front and less at trace; the sum stays.",
    ),
    "lye_over_cold_solubility": Words(
        "At {front_c} the lye cannot all dissolve: {lye_g} of it needs {needed_g} of water, and in front stand {water_g}.",
        "Keep the front at {warm_c} or warmer, or put more of the liquid in front; the sum stays.",
    ),
    "koh_front_cold": Words(
        "How much potassium hydroxide dissolves at {front_c} is not known well enough to count on.",
        "Keep the front at {warm_c} or warmer.",
    ),
    "front_under_lye": Words(
        "In front stands less water ({water_g}) than lye ({lye_g}): it dissolves slowly, and some may stay undissolved.",
        "Put more of the liquid in front and less at trace; the sum stays. Strain the lye.",
    ),
    "milk_front_under_lye": Words(
        "The milk in front holds {water_g} of water for {lye_g} of lye: "
        "below {times} times its mass lye dissolves badly in milk.",
        "Put liquid with {wanted_g} of water in front, and less at trace; the sum stays. Strain the lye.",
    ),
    "milk_front_cold": Words(
        "Until the milk in front is warm it cannot hold all of the lye: below {warm_c} its {water_g} of water dissolve "
        "{dissolved_g} of the {lye_g} of lye (42 g in 100 g of water, the value at 0 °C).",
        "Add the lye slowly, stir until the milk has thawed and is at {warm_c} or warmer, and strain it: "
        "what settled while it was cold must dissolve before it goes into the fats.",
    ),
    "milk_front_cold_koh": Words(
        "How much potassium hydroxide dissolves in cold milk is not known well enough to count on: "
        "below {warm_c} some of the {lye_g} of lye may stay undissolved.",
        "Add the lye slowly, stir until the milk has thawed and is at {warm_c} or warmer, and strain it.",
    ),
    "milk_front_opaque": Words(
        "Lye and milk together are opaque: undissolved lye hides in it.",
        "Pour it into the fats through a strainer of steel or plastic.",
    ),
    "liquid_low": Words(
        "The liquid is {liquid_share} of the fats; usual is 28 to 38 %. With so little the batch thickens fast and cracks, "
        "and some lye may stay undissolved; the cure is shorter.",
        "Take {least_g} of liquid or more.",
    ),
    "liquid_high": Words(
        "The liquid is {liquid_share} of the fats; usual is 28 to 38 %. "
        "{water_share} of the fresh bar is water that must dry out: it stays soft for longer, shrinks and warps.",
        "Take {most_g} of liquid or less, or plan a longer cure.",
    ),
    "liquid_high_with_acids": Words(
        "With the {brought_g} of water that the acids bring the liquid is {liquid_share} of the fats; usual is 28 to 38 %. "
        "{water_share} of the fresh bar is water that must dry out: it stays soft for longer, shrinks and warps.",
        "Take {most_g} of other liquid or less, or a stronger acid and less of it; or plan a longer cure.",
    ),
    "milk_hardly_noticed": Words(
        "Milk is {milk_share} of the liquid: makers notice it from about a quarter on.",
        "For more of it take {from_g} of milk, and leave out as much water.",
    ),
    "milk_fat_from_table": Words(
        "The fat of the milk is a table's: with it the superfat is {effective_share} ({low_share} to {high_share}). "
        "A herd's fat moves over the year.",
        "Measure the fat of the lot and type it. For an effective 5 % the setting would be {setting_share}; "
        "do not chase it batch by batch on a table's figure. Where that is under 2 %, take less of what brings the fat: "
        "a setting near 0 needs certificates and the alkalinity check, and one below 0 is refused.",
    ),
    "sugar_heats_front": Words(
        "In front the liquid brings {sugar_g} of sugar to the lye, which heats and browns it.",
        "Freeze that liquid, add the lye slowly in an ice bath and hold it at {lye_low_c} to {lye_high_c}, "
        "never over {lye_most_c}; fats at {fats_low_c} to {fats_high_c}; "
        "into the cold after pouring where a darker core is unwanted.",
    ),
    "sugar_heats_trace": Words(
        "At trace the liquid brings {sugar_g} of sugar, and sugar heats the batch.",
        "Let the lye in front cool to {lye_low_c} to {lye_high_c} and the fats to {fats_low_c} to {fats_high_c}; "
        "stir that liquid in cold at thin trace, once fats and lye no longer part; "
        "into the cold after pouring where a darker core is unwanted.",
    ),
    "plant_milk_thickened": Words(
        "{name} is thickened: thickeners make lumps with lye.",
        "Take it fresh, without thickeners, and strain it.",
    ),
    "plant_milk_thickener_open": Words(
        "Whether {name} has thickeners is not said: they make lumps with lye.",
        "Look at its label; take it fresh, without thickeners, and strain it.",
    ),
    "liquid_unknown": Words(
        "Nothing is known of the {parts} of {name}: counted as {counted}, and it is {liquid_share} of the liquid. "
        "With less water in it the lye dissolves worse and the bar has less to lose; sugar in it would heat the batch.",
        "Choose the liquid of the list that it is; or type what it is and its water, fat and sugar where its material stands "
        "in the storeroom.",
    ),
    "liquid_part_unknown": Words(
        "Nothing is known of the {parts} of {name}: counted as {counted}. Fat in it would take lye, and sugar heat the batch.",
        "Choose the liquid of the list that it is; or type its figures where its material stands in the storeroom, "
        "0 where it has none.",
    ),
    "fragrance_over_limit": Words(
        "{name} is {fragrance_share} of the dry bar; its supplier's maximum is {most_share}.",
        "Take {most_g} or less.",
    ),
    "fragrance_limit_missing": Words(
        "{name} is {fragrance_share} of the dry bar; its supplier's maximum for soap is missing.",
        "Type the maximum from the supplier's paper.",
    ),
    "allergens": Words(
        "Name on the label: {names}.", "Residues of milk and nuts, and parts of scents, can harm those who are allergic."
    ),
}

# Where lye got onto somebody.
FIRST_AID = (
    "On skin: brush dry lye off, take wet clothing off, running water at once for at least 15 minutes. "
    "Never vinegar or another acid.",
    "In the eyes: the same with the lids held open, until help takes over. "
    "For eyes, and burns larger than a palm, call the emergency number.",
    "Swallowed: rinse the mouth, do not cause vomiting, call the poison centre.",
)
# Shown wherever lye is shown, the first two always.
CAUTIONS = (
    "Lye burns and blinds: goggles, gloves, long sleeves, fresh air; children and animals out.",
    "Lye goes into the liquid, slowly. Never pour liquid onto lye.",
    "It eats aluminium, zinc and tin and gives off hydrogen: use steel or plastic. "
    "Keep it labelled and locked, in no food container.",
    *FIRST_AID,
    "Check the purity of each new lot of lye by its certificate or a titration, "
    "and the alkalinity of each batch before anyone washes with it.",
    "A batch whose last check failed is not released: test again after a week or more, rework it or destroy it.",
    "Local law and licensed practice come first.",
)


def superfat_words(share: float, *, up: bool = False) -> str:
    """Return a superfat in per cent, to the tenth that is not better than it is: down, and of a high end *up*."""
    tenths = math.ceil(share * 1000 - _NOISE) if up else math.floor(share * 1000 + _NOISE)
    return f"{tenths / 10:.1f}".removesuffix(".0").replace("-", "\u2212") + "\u00a0%"


def share_words(share: float) -> str:
    """Return a purity, or a superfat to set, in per cent, to the hundredth above it: never less than it is."""
    hundredths = math.ceil(share * 10_000 - _NOISE)
    shown = f"{hundredths / 100:.2f}".rstrip("0").rstrip(".")
    return shown.replace("-", "\u2212") + "\u00a0%"


def _by_list(finding: Finding) -> str:
    """Return what the superfat would be if not the odd figure held but the published range; nothing where not asked."""
    low, middle = (finding.figures.get(name) for name in ("listed_low_share", "listed_middle_share"))
    if not isinstance(low, float) or not isinstance(middle, float):
        return ""
    right = "it is what it is called" if finding.code == "name_says_other" else "the published range is right"
    said = f" If {right}, the superfat is {superfat_words(middle)} and may be as low as {superfat_words(low)}"
    return f"{said}: caustic." if middle < 0 else f"{said}: it may be caustic." if low < 0 else f"{said}."


def told(finding: Finding, mass: Callable[[float], str]) -> Words:
    """Return the words of *finding* with its figures in them; *mass* writes grams in the workshop's unit."""
    shown = {name: _shown(name, value, mass) for name, value in finding.figures.items()}
    words = WORDS[finding.code]
    says, remedy = words.says.format(**shown) + _by_list(finding), words.remedy.format(**shown)
    return Words(says.replace(" %", "\u00a0%"), remedy.replace(" %", "\u00a0%"))


# Superfats are never shown better than they are, and lye never weaker.
_DOWN = frozenset({"low_share", "middle_share", "effective_share"})
_UP = frozenset({"high_share"})
# These are typed to the hundredth: a purity of 94.99 % is not the 95 % that is sold.
_HUNDREDTHS_UP = frozenset({"setting_share", "purity_share"})


def _shown(name: str, value: Figure, mass: Callable[[float], str]) -> str:
    if isinstance(value, str):
        return value
    if name.endswith("_g"):
        return mass(value)
    if name.endswith("_share"):
        if name in _HUNDREDTHS_UP:
            return share_words(value)
        if name in _DOWN or name in _UP:
            return superfat_words(value, up=name in _UP)
        return f"{value * 100:.1f}".removesuffix(".0").replace("-", "\u2212") + "\u00a0%"
    return f"{value:g}\u00a0°C" if name.endswith("_c") else f"{value:g}"
