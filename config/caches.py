"""The shared cache, and what happens while Redis is away: each process keeps its own memory and goes on.

Nothing here is the only copy of anything. What is kept has its content in its key (hours, feeds), so that an old entry is
never wrong; and the counts of throttles and failed sign-ins go on by process, so that a limit grows to at most that limit
times the number of processes and never vanishes.
"""

import threading
import time
from typing import Any

import structlog
from django.core.cache.backends.base import BaseCache
from django.core.cache.backends.locmem import LocMemCache
from django.core.cache.backends.redis import RedisCache
from redis.exceptions import RedisError

log = structlog.get_logger(__name__)

REST_SECONDS = 5.0
"""After a failure Redis is left alone that long: the requests of that time do not each wait for a connection."""


class Link:
    """Whether Redis answered when it was last asked; one for all threads of a process."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self.forget()

    def forget(self) -> None:
        """As at the start: nothing is known."""
        self._away_since: float | None = None
        self._ask_again_at = 0.0

    def worth_asking(self) -> bool:
        return self._away_since is None or time.monotonic() >= self._ask_again_at

    def failed(self, error: Exception) -> None:
        """Told once for a stretch, with the kind of the error: its text may hold an address with a password."""
        with self._lock:
            self._ask_again_at = time.monotonic() + REST_SECONDS
            if self._away_since is None:
                self._away_since = time.monotonic()
                log.warning("the shared cache is away", error=type(error).__name__)

    def answered(self) -> None:
        if self._away_since is not None:
            with self._lock:
                since, self._away_since = self._away_since, None
            if since is not None:
                log.warning("the shared cache is back", seconds=round(time.monotonic() - since))


link = Link()


class SharedCache(BaseCache):
    """Redis where it answers, the process's own memory where it does not."""

    def __init__(self, server: str, params: dict[str, Any]) -> None:
        super().__init__(params)
        options = {"socket_connect_timeout": 1, "socket_timeout": 1, **params.get("OPTIONS", {})}
        self._shared = RedisCache(server, {**params, "OPTIONS": options})
        roomy = {**params, "OPTIONS": {"MAX_ENTRIES": 10_000}}  # as in settings, where Redis is not
        self._own = LocMemCache("while-redis-is-away", roomy)

    def _ask(self, call: str, *args: Any, **kwargs: Any) -> Any:
        if link.worth_asking():
            try:
                answer = getattr(self._shared, call)(*args, **kwargs)
            except (RedisError, OSError) as error:
                link.failed(error)
            else:
                link.answered()
                return answer
        return getattr(self._own, call)(*args, **kwargs)

    def add(self, *args: Any, **kwargs: Any) -> Any:
        return self._ask("add", *args, **kwargs)

    def get(self, *args: Any, **kwargs: Any) -> Any:
        return self._ask("get", *args, **kwargs)

    def set(self, *args: Any, **kwargs: Any) -> None:
        self._ask("set", *args, **kwargs)

    def touch(self, *args: Any, **kwargs: Any) -> Any:
        return self._ask("touch", *args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> Any:
        return self._ask("delete", *args, **kwargs)

    def get_many(self, *args: Any, **kwargs: Any) -> Any:
        return self._ask("get_many", *args, **kwargs)

    def set_many(self, *args: Any, **kwargs: Any) -> Any:
        return self._ask("set_many", *args, **kwargs)

    def delete_many(self, *args: Any, **kwargs: Any) -> None:
        self._ask("delete_many", *args, **kwargs)

    def has_key(self, *args: Any, **kwargs: Any) -> Any:
        return self._ask("has_key", *args, **kwargs)

    def incr(self, *args: Any, **kwargs: Any) -> Any:
        return self._ask("incr", *args, **kwargs)

    def clear(self) -> None:
        """Both: what was counted in this process belongs to the cache as well."""
        self._ask("clear")
        self._own.clear()
