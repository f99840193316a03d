"""What a person said they read is a figure: what is worse by now is asked about again."""

import pytest

from curehouse.core.chemistry.finding import Finding, Level, lowest_read


def caustic(low: float, code: str = "may_be_caustic") -> Finding:
    return Finding(Level.WARNING, code, {"low_share": low, "middle_share": 0.02}, needs_confirming=True)


def odd(name: str, value: str) -> Finding:
    return Finding(Level.WARNING, "certificate_outside_range", {"name": name, "value": value}, needs_confirming=True)


def weak(purity: float, alkali: str = "naoh") -> Finding:
    return Finding(Level.WARNING, "purity_low", {"alkali": alkali, "purity_share": purity}, needs_confirming=True)


@pytest.mark.parametrize(
    ("finding", "read_as"),
    [
        # Down to the next hundredth of a point, so that what was read is never better than it was.
        (caustic(-0.01234), "may_be_caustic:-0.0124"),
        (caustic(-0.00001), "may_be_caustic:-0.0001"),
        (odd("Olive oil", "250"), "certificate_outside_range:Olive oil:250"),
        (weak(0.93), "purity_low:naoh:0.9300"),
        (Finding(Level.WARNING, "own_range_outside_list", {"name": "Shea", "own": "150 to 155"}),
         "own_range_outside_list:Shea:150 to 155"),
    ],
)  # fmt: skip
def test_it_says_what_stood_there(finding: Finding, read_as: str) -> None:
    assert finding.read_as == read_as
    assert finding.was_read([read_as]) == read_as


@pytest.mark.parametrize(
    ("now", "read", "covers"),
    [
        (caustic(-0.02), caustic(-0.02), True),
        (caustic(-0.01), caustic(-0.02), True),
        (caustic(-0.021), caustic(-0.02), False),
        (caustic(-0.01, "batch_too_small"), caustic(-0.02), False),
        (odd("Olive oil", "250"), odd("Olive oil", "251"), False),
        (odd("Olive oil", "250"), odd("Shea", "250"), False),
        (weak(0.93), weak(0.92), True),
        (weak(0.92), weak(0.93), False),
        (weak(0.92, "koh"), weak(0.92), False),
    ],
)
def test_only_what_is_no_worse_was_read(now: Finding, read: Finding, covers: bool) -> None:
    assert (now.was_read([read.read_as]) is not None) is covers


@pytest.mark.parametrize("said", ["may_be_caustic", "may_be_caustic:", "may_be_caustic:low", "may_be_caustic:nan", ""])
def test_a_name_without_its_figure_says_nothing(said: str) -> None:
    assert caustic(-0.01).was_read([said]) is None
    assert lowest_read([said]) == 0


def test_the_lowest_that_was_read() -> None:
    assert lowest_read(["may_be_caustic:-0.0124", "batch_too_small:-0.0200", "purity_low:naoh:-1"]) == -0.02
