"""What is not looked at because an account is shut is no try of the address it came from."""

import pytest

from curehouse.workshops.services.brake import ACCOUNT, ADDRESS
from tests.web.test_brake import sign_in, tried
from tests.world import World

pytestmark = pytest.mark.django_db


def test_a_try_at_a_shut_account_costs_its_address_nothing(world: World) -> None:
    tried(world.owner.email, times=ACCOUNT.tries, source="198.51.100.{}")
    for _ in range(ADDRESS.tries + 1):
        assert sign_in(world.owner.email).status_code == 429
    assert sign_in("somebody@fennelyard.example").status_code == 200
