"""The same figures to the last digit, whatever the computer's cores."""

from functools import lru_cache

from threadpoolctl import threadpool_limits


@lru_cache(maxsize=1)
def on_one_thread() -> None:
    """Hold this process's linear algebra to one thread, for good: shared out among several, sums round otherwise.

    Its systems are small, and several workers share a computer: more threads would not make it faster. It is not
    undone afterwards, for another forecast may be under way in the same process.
    """
    threadpool_limits(1, user_api="blas")
