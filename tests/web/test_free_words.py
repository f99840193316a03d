"""How what is free of a material comes about: round figures whose sum adds up, and never more than is free."""

from dataclasses import fields

from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.stock.netting import Supplied
from curehouse.web.reading.free_words import free_words

GRAMS = st.integers(0, 9_000_000).map(lambda milligrams: milligrams / 1000)


def supplied(**grams: float) -> Supplied:
    empty = {one.name: () if one.name == "takes" else 0.0 for one in fields(Supplied)}
    return Supplied(**{**empty, **grams})


def test_to_the_tenth() -> None:
    one = supplied(here_g=4165.299, free_g=4165.299)
    assert free_words(one, one, "g", by_eye=False) == "4165.2 g here: 4165.2 g free"
    whole = supplied(here_g=1000.0, free_g=1000.0)
    assert free_words(whole, whole, "g", by_eye=False) == "1000 g here: 1000 g free"
    assert free_words(one, one, "oz", by_eye=False) == "146.92 oz here: 146.92 oz free"


@given(GRAMS, GRAMS, GRAMS)
def test_the_sum_adds_up_and_no_more_is_free_than_is(here: float, before: float, later: float) -> None:
    free = max(0.0, here - before - later)
    one = supplied(here_g=here, taken_before_g=before, kept_for_later_g=later, free_g=free)
    said = free_words(one, one, "g", by_eye=False)
    tenths = [round(10 * float(word)) for word in said.replace(":", "").split() if word.replace(".", "").isdigit()]
    *parts, shown = tenths
    assert shown <= free * 10 + 1e-6
    if shown and free > 1:
        assert shown == parts[0] - sum(parts[1:])
