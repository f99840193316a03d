"""Values go to the database a few at a time, none left out and none twice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.common import steps


@given(st.lists(st.integers()))
def test_steps_are_the_values_in_their_order_and_none_is_long(values: list[int]) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(steps, "A_STEP", 3)
        parts = list(steps.in_steps(iter(values)))
    assert [one for part in parts for one in part] == values
    assert all(1 <= len(part) <= 3 for part in parts)
    assert len(parts) == -(-len(values) // 3)
