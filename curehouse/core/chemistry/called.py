"""Which alkali a name says: of a lye, or of a figure on a certificate."""

import unicodedata

from .alkali import Alkali

_POTASSIUM = ("potas", "potaz", "koh", "kali", "калі", "кали", "draseln", "e525")
_SODIUM = ("sodium", "sodio", "sodu", "sodn", "sodic", "soda", "soude", "sosa", "naoh", "natri", "natron", "натр", "e524")


def letters_of(name: str) -> str:
    """Return the letters and figures of a name in one, without marks: ``Ätz-Natron`` is atznatron."""
    bare = unicodedata.normalize("NFKD", name.casefold().replace("ł", "l"))
    return "".join(letter for letter in bare if letter.isalnum())


def alkali_by_name(name: str) -> Alkali | None:
    """Return which alkali a lye is called like; None where its name says neither, or both."""
    # Not the kali of alkali.
    plain = letters_of(name).replace("alkali", "")
    said = {
        alkali
        for alkali, words in ((Alkali.KOH, _POTASSIUM), (Alkali.NAOH, _SODIUM))
        if any(letters_of(one) in plain for one in words)
    }
    return said.pop() if len(said) == 1 else None


def is_of_the_other(figure: str, lye: str, *, is_dissolved: bool = False) -> bool:
    """Return whether a figure of a certificate is of the alkali that the *lye* is not, and so of what makes it impure.

    What was dissolved here is sodium hydroxide, whatever it is called.
    """
    said, own = alkali_by_name(figure), alkali_by_name(lye) or (Alkali.NAOH if is_dissolved else None)
    return said is not None and own is not None and said is not own
