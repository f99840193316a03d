import pytest

from tests.api.device import Device
from tests.world import World


@pytest.fixture
def device(world: World) -> Device:
    """Return a device of the house."""
    return Device(world)


@pytest.fixture
def strange_device(stranger: World) -> Device:
    """Return a device of the house next door."""
    return Device(stranger)
