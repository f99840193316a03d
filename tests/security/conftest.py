"""The two full houses that tests of every address ask for."""

from tests.architecture.conftest import houses

__all__ = ["houses"]
