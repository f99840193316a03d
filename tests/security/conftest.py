"""The two full houses that tests of every address ask for, and letters to look at."""

from tests.architecture.conftest import houses
from tests.notices.conftest import delivery_of, tell_ready

__all__ = ["delivery_of", "houses", "tell_ready"]
