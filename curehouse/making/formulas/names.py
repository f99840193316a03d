"""What things are called: rows of the list, lye, and other alkalis, by the names that people give them.

Which words stand for what is common practice of several languages, no source.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.called import alkali_by_name as alkali_by_name
from curehouse.core.chemistry.called import letters_of
from curehouse.making.fats import FatKind
from curehouse.making.liquids import LiquidKind

Rows = Mapping[str, FatKind | LiquidKind]


def _each(words: str) -> frozenset[str]:
    return frozenset(words.split())


# What may stand beside a name and leaves it the same thing: how it was pressed, cleaned or kept. Any other word
# (wax, unsaponifiables, MCT, sulfated, hydrogenated, fractionated) may make another thing of it.
_SAME = _each(
    "frozen thawed fresh raw fluid whole strained pasteurised pasteurized homogenised homogenized uht organic bio natural pure "
    "refined unrefined virgin extra cold pressed coldpressed expeller native crude filtered bleached deodorised deodorized rbd "
    "rspo certified sustainable fair trade fairtrade conventional food cosmetic grade usp"
)
_WATERS = _each("distilled deionised deionized demineralised demineralized purified boiled tap spring rain hot warm ice")
# Flakes and the like of an oil are hardened.
_PIECES = _each("pellets pellet pastilles beads granules flakes chips wafers drops buttons block blocks bar bars")
_DRY = _each("powder powdered dried dry")
# What else the rows of the list are called.
_ALSO: Mapping[str, tuple[str, ...]] = {
    "olive": ("evoo",),
    "rapeseed": ("canola oil", "canola", "rapeseed oil low erucic"),
    "soya": ("soybean oil", "soy oil", "soya bean oil"),
    "maize": ("corn oil",),
    "flaxseed": ("linseed oil", "flax oil"),
    "peanut": ("groundnut oil", "arachis oil"),
    "almond": ("sweet almond oil",),
    "hemp": ("hempseed oil", "hemp oil"),
    "grapeseed": ("grape seed oil",),
    "cocoa_butter": ("cacao butter",),
    "lard": ("pork lard",),
    "palm_olein": ("palm oil olein",),
    "palm_stearin": ("palm oil stearin",),
    "lanolin": ("wool fat", "wool wax"),
    "sheep_milk": ("ewe's milk",),
    "yogurt": ("yoghurt",),
}


def _words(name: str) -> frozenset[str]:
    """Return the words of a name, as one writes them or another: ``Goat’s milk, dried`` is goat, milk, powder."""
    plain = name.casefold().replace("’", "'").replace("'s", "").replace("_", " ")
    return frozenset("powder" if word in _DRY else word for word in re.findall(r"[^\W_]+", plain))


def _said(key: str, row: FatKind | LiquidKind) -> list[frozenset[str]]:
    return [_words(one) for one in (row.name, *_ALSO.get(key, ()))]


def _head(row: FatKind | LiquidKind) -> frozenset[str]:
    return _words(re.split(r"[,(]", row.name)[0])


def _beside(key: str, said: frozenset[str]) -> frozenset[str]:
    """Return the words that may stand beside those of a row and leave it the same."""
    waters = _WATERS if key == "water" else frozenset()
    return _SAME | waters | (frozenset() if "oil" in said else _PIECES)


def keys_called(called: str, rows: Rows) -> list[str]:
    """Return which of the list's *rows* may be meant by a name: one, several, or none where it says nothing known.

    What says only how a thing was pressed or kept (``Goat's milk, frozen``; ``extra virgin olive oil``) leaves it
    the same; where it makes another row's name (``olive oil, pomace``), that is meant; any other word is not guessed at.
    """
    words = _words(called)
    exact = [key for key, row in rows.items() if called.casefold() == key or words in _said(key, row)]
    # So that rapeseed oil, of which one kind has its other name in brackets and the other its kind behind a comma, is asked.
    whole = exact or [
        key
        for key, row in rows.items()
        if any(said <= words and words - said <= _beside(key, said) for said in _said(key, row))
    ]
    return whole or [
        key
        for key, row in rows.items()
        if (head := _head(row)) <= words and words - head <= _beside(key, head | _words(row.name))
    ]


def key_called(called: str, rows: Rows) -> str:
    """Return which of the list's *rows* is called so; nothing where none is, or several are."""
    found = keys_called(called, rows)
    return found[0] if len(found) == 1 else ""


def is_called_powder(name: str) -> bool:
    """Return whether a liquid is called a powder."""
    return "powder" in _words(name)


def called_otherwise(called: str, key: str, rows: Rows) -> list[str]:
    """Return which *rows* a thing is called like that is to be the row *key*; nothing where its name does not say otherwise."""
    found = keys_called(called, rows)
    return [] if key in found else found


def near_names(called: str, rows: Rows, most: int = 3) -> list[str]:
    """Return the names of the list that are most like a name, likest first."""

    def likeness(row: FatKind | LiquidKind) -> float:
        said = max((_shared(_words(called), one) for one in _said(row.key, row)), default=0.0)
        return max(said, SequenceMatcher(None, called.casefold(), row.name.casefold()).ratio() - 0.2)

    likest = sorted(rows.values(), key=likeness, reverse=True)[:most]
    return [row.name for row in likest if likeness(row) >= _ALIKE]


_ALIKE = 0.5
_COMMON = frozenset({"oil", "butter", "milk", "a", "fat", "powder"}) | _SAME


def or_words(names: Sequence[str]) -> str:
    """Return names as a choice: ``olive oil, palm oil or lard``."""
    *before, last = names
    return f"{', '.join(before)} or {last}" if before else last


def perhaps(called: str, rows: Rows) -> str:
    """Return in words which names of the list may be meant, after a blank: `` (perhaps olive oil or lard)``; or nothing."""
    near = [f"“{one}”" for one in [rows[key].name for key in keys_called(called, rows)] or near_names(called, rows)]
    if not near:
        return ""
    return f" (perhaps {or_words(near)})"


def _shared(one: frozenset[str], other: frozenset[str]) -> float:
    own, theirs = one - _COMMON, other - _COMMON
    return len(own & theirs) / len(theirs) if theirs else 0.0


def allergens_called(called: str, rows: Rows) -> str:
    """Return what has to be named of a thing by the rows that its name speaks of, whatever was made of them, or nothing.

    So no milk is lost from the label because its powder is in no list.
    """
    words = _words(called)
    if "tartar" in words:
        # Its cream is none.
        return ""
    return ", ".join(dict.fromkeys(row.allergen for row in rows.values() if row.allergen and _head(row) <= words))


# What lye is called, joined or in several words; a sodium lactate or a potassium sorbate is none.
_LYE_SAID: Mapping[Alkali, tuple[str, ...]] = {
    Alkali.NAOH: tuple(map(letters_of, (
        "sodium hydroxide", "sodium hydroxyde", "caustic soda", "natriumhydroxid", "natriumhydroksid", "natronlauge",
        "natronloog", "natronlut", "ätznatron", "aetznatron", "seifenstein", "kaustiksoda", "kaustik soda",
        "hydroxyde de sodium", "soude caustique", "lessive de soude", "idrossido di sodio", "soda caustica",
        "hidróxido de sodio", "hidróxido sódico", "sosa cáustica", "soda cáustica", "hidróxido de sódio",
        "wodorotlenek sodu", "soda kaustyczna", "soda żrąca", "ług sodowy", "hydroxid sodný", "louh sodný",
        "hidroxid de sodiu", "nátrium-hidroxid", "marónátron", "natrijev hidroksid", "kaustična soda", "sodyum hidroksit",
        "гидроксид натрия", "едкий натр", "каустическая сода", "гідроксид натрію", "каустична сода",
        "натриев хидроксид", "υδροξείδιο του νατρίου", "καυστική σόδα",
    ))),
    Alkali.KOH: tuple(map(letters_of, (
        "potassium hydroxide", "potassium hydroxyde", "caustic potash", "kaliumhydroxid", "kaliumhydroksid", "kalilauge",
        "kaliloog", "kalilut", "ätzkali", "aetzkali", "hydroxyde de potassium", "potasse caustique", "lessive de potasse",
        "idrossido di potassio", "potassa caustica", "hidróxido de potasio", "hidróxido potásico", "potasa cáustica",
        "hidróxido de potássio", "potassa cáustica", "wodorotlenek potasu", "potaż żrący", "ług potasowy",
        "hydroxid draselný", "louh draselný", "hidroxid de potasiu", "kálium-hidroxid", "kalijev hidroksid",
        "potasyum hidroksit", "гидроксид калия", "едкое кали", "гідроксид калію", "калиев хидроксид", "υδροξείδιο του καλίου",
    ))),
}  # fmt: skip
_LYE_WORDS: Mapping[str, Alkali] = {"naoh": Alkali.NAOH, "koh": Alkali.KOH, "e524": Alkali.NAOH, "e525": Alkali.KOH}
# These are lye alone or beside what form it has; a milk that is frozen for the lye is none.
_LYE_ALONE = _each("lye lauge caustic soude sosa ług lug louh loog lut lipeä щёлочь щелочь")
_LYE_FORMS = _each(
    "soda potash soap pearls pearl beads bead flakes flake crystals granules pellets prills micropearls powder water solution "
    "liquid dry pure perlen plätzchen schuppen perles paillettes pastilles en de perlas escamas"
)
# Alkalis that are no lye and make skin burn all the same; baking soda hardly does.
_ALKALIS = tuple(map(letters_of, (
    "soda ash", "sodium carbonate", "washing soda", "natriumcarbonat", "natriumkarbonat", "waschsoda", "cristaux de soude",
    "carbonate de sodium", "carbonate de soude", "carbonato de sodio", "carbonato di sodio", "carbonato de sódio",
    "węglan sodu", "uhličitan sodný", "карбонат натрия", "кальцинированная сода",
    "pearl ash", "potassium carbonate", "pottasche", "kaliumcarbonat", "kaliumkarbonat", "carbonate de potassium",
    "carbonato de potasio", "carbonato di potassio", "węglan potasu", "карбонат калия", "поташ", "calcium hydroxide",
    "slaked lime", "trisodium phosphate", "wood ash",
)))  # fmt: skip
_ALKALI_WORDS = _each("potash potasse potassa potasa potaż soda e500 e501")


def _spoken(name: str) -> list[str]:
    """Return the words of a name with E and its number in one: ``E 524`` is e524."""
    return re.findall(r"[^\W_]+", re.sub(r"\be[\s-]*(\d{3})\b", r"e\1", " ".join(name.casefold().split())))


def is_called_lye(name: str) -> bool:
    """Return whether something is called like lye, of either alkali and in whatever form."""
    words = {word for word in _spoken(name) if not word.isdecimal()}
    is_alone = bool(words & _LYE_ALONE) and words <= _LYE_ALONE | _LYE_FORMS
    joined = letters_of(name)
    return is_alone or bool(words & set(_LYE_WORDS)) or any(one in joined for said in _LYE_SAID.values() for one in said)


def is_called_alkali(name: str) -> bool:
    """Return whether something is called like an alkali that is no lye: potash, soda ash."""
    words, joined = {word for word in _spoken(name) if not word.isdecimal()}, letters_of(name)
    is_alone = bool(words & _ALKALI_WORDS) and words <= _ALKALI_WORDS | _LYE_FORMS
    return not is_called_lye(name) and (is_alone or any(one in joined for one in _ALKALIS))


@dataclass(frozen=True, slots=True)
class AcidCalled:
    """An acid of the list by a name, with its strength (0-1) where it can be said."""

    key: str
    strength: float | None = None


_ACIDS: Mapping[str, tuple[str, ...]] = {
    "citric": ("citric acid", "zitronensäure", "citronensäure", "acide citrique", "acido citrico", "kwas cytrynowy",
               "citroenzuur", "citronsyra", "kyselina citronová", "лимонная кислота"),
    "lactic": ("lactic acid", "milchsäure", "acide lactique", "acido lattico", "ácido láctico", "kwas mlekowy", "melkzuur"),
    "acetic": ("acetic acid", "essigsäure", "acide acétique", "acido acetico", "kwas octowy", "azijnzuur", "уксусная кислота"),
    "tartaric": ("tartaric acid", "weinsäure", "acide tartrique", "acido tartarico", "kwas winowy", "wijnsteenzuur"),
    "malic": ("malic acid", "apfelsäure", "acide malique", "acido malico", "kwas jabłkowy", "appelzuur"),
    "ascorbic": ("ascorbic acid", "vitamin c", "ascorbinsäure", "acide ascorbique", "acido ascorbico", "kwas askorbinowy"),
}  # fmt: skip
# Table vinegar has 5 % where nothing is said of it, juice of lemons or limes 5 to 6 % of citric acid (from memory).
_SOUR: Mapping[str, tuple[str, float]] = {
    **dict.fromkeys(("vinegar", "essig", "vinaigre", "aceto", "vinagre", "ocet", "azijn", "уксус"), ("acetic", 0.05)),
    **dict.fromkeys(
        ("lemon juice", "lime juice", "zitronensaft", "jus de citron", "succo di limone", "zumo de limón", "sok z cytryny"),
        ("citric", 0.06),
    ),
}


def acid_called(name: str) -> AcidCalled | None:
    """Return which acid something is called like, and how strong it is by its name; None where it is called like none."""
    joined, strength = letters_of(name), _per_cent(name)
    for key, words in _ACIDS.items():
        if any(letters_of(word) in joined for word in words):
            return AcidCalled(key, strength)
    for word, (key, usual) in _SOUR.items():
        if set(word.split()) <= set(_spoken(name)) or (len(word) > 8 and letters_of(word) in joined):
            return AcidCalled(key, usual if strength is None else strength)
    return None


def _per_cent(name: str) -> float | None:
    said = re.search(r"(\d+(?:[.,]\d+)?)\s*%", name)
    share = float(said[1].replace(",", ".")) / 100 if said else 0.0
    return share if 0 < share <= 1 else None
