"""Counts in the shared cache. Each starts with its first event and ends after a fixed time."""

from collections.abc import Iterable

from django.core.cache import cache

UNCOUNTED = 10**9
"""The count where the cache keeps nothing: rather too many than none."""


def add(key: str, seconds: int) -> int:
    """Adds one and returns the count. A count that begins now ends after `seconds`."""
    for _ in range(5):
        cache.add(key, 0, seconds)
        try:
            count: int = cache.incr(key)
        except ValueError:
            continue  # it ended between the two calls, or Redis went away: begin it anew
        if count == 1:  # Redis may have ended it between the calls: this one has no end yet
            cache.touch(key, seconds)
        return count
    return UNCOUNTED


def give_back(keys: Iterable[str]) -> None:
    """Takes one from each count."""
    for key in keys:
        try:
            if cache.decr(key) < 0:  # its time was over, so this new count has no end
                cache.delete(key)
        except ValueError:
            continue  # its time is over
