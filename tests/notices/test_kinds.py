"""Every kind of notice can be kept: a database that measures refuses what is too long, another keeps it in silence."""

import pytest

from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice


@pytest.mark.parametrize("kind", Kind)
def test_a_kind_fits_its_columns(kind: Kind) -> None:
    for column in ("kind", "mark"):
        assert len(kind) <= (Notice._meta.get_field(column).max_length or 0)
