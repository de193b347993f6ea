"""Counts in the shared cache that begin with the first of a time and are over at its end."""

from collections.abc import Iterable

from django.core.cache import cache

UNCOUNTED = 10**9
"""What is counted by a cache that keeps nothing: too many, rather than none."""


def add(key: str, seconds: int) -> int:
    """One more; how many there are since the first of them, which begins a time of `seconds`."""
    for _ in range(5):
        cache.add(key, 0, seconds)
        try:
            count: int = cache.incr(key)
        except ValueError:
            continue  # it ended between the two, or Redis went away: the next round begins it anew
        if count == 1:  # Redis may have ended it while it counted: then this one has no end yet
            cache.touch(key, seconds)
        return count
    return UNCOUNTED


def give_back(keys: Iterable[str]) -> None:
    """One less of each."""
    for key in keys:
        try:
            if cache.decr(key) < 0:  # its time was over: what is left now has no end
                cache.delete(key)
        except ValueError:
            continue  # its time is over
