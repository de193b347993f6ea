"""The shared cache. While Redis is away, each process goes on with its own memory.

Only a form that somebody sent after their session had ended is nowhere else: it is kept for 30
minutes, and without Redis it is written anew. Keys of stored values (hours, feeds) contain what the
values depend on, so an old entry is never wrong. Counts of throttles and failed sign-ins go on in
each process: a limit grows to at most that limit times the number of processes, and never vanishes.
"""

import os
import threading
import time
from collections.abc import Callable
from typing import Any

import structlog
from django.core.cache.backends.base import BaseCache
from django.core.cache.backends.locmem import LocMemCache
from django.core.cache.backends.redis import RedisCache
from redis.exceptions import RedisError

log = structlog.get_logger(__name__)

ASK_AGAIN_SECONDS = 5.0
"""How often one thread tries Redis while it is away. Requests do not try, so none waits for a
connection.
"""
ANSWER_WITHIN = 0.5
"""Seconds. Redis stands beside the web process and normally answers in a thousandth of that."""


class Link:
    """Whether Redis answered the last time; one for all threads of a process."""

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        """Starts again knowing nothing.

        A forked process must, since the thread that asks stays with its parent.
        """
        self._lock = threading.Lock()
        self._away_since: float | None = None

    @property
    def is_up(self) -> bool:
        return self._away_since is None

    def failed(self, error: Exception, ask: Callable[[], object]) -> None:
        """Notes that Redis is away, and starts a thread that calls `ask` until it answers.

        It is logged once, with only the kind of the error: the text may hold an address with a
        password.
        """
        with self._lock:
            if self._away_since is not None:
                return
            since = self._away_since = time.monotonic()
        log.warning("the shared cache is away", error=type(error).__name__)
        threading.Thread(target=self._wait, args=(since, ask), name="cache", daemon=True).start()

    def _wait(self, since: float, ask: Callable[[], object]) -> None:
        while self._away_since == since:
            time.sleep(ASK_AGAIN_SECONDS)
            try:
                ask()
            except (RedisError, OSError):
                continue
            with self._lock:
                if self._away_since == since:
                    self._away_since = None
                    log.warning("the shared cache is back", seconds=round(time.monotonic() - since))


link = Link()
os.register_at_fork(after_in_child=link.forget)


class SharedCache(BaseCache):
    """A cache in Redis, or in the process's own memory while Redis is away."""

    def __init__(self, server: str, params: dict[str, Any]) -> None:
        super().__init__(params)
        limits = {"socket_connect_timeout": ANSWER_WITHIN, "socket_timeout": ANSWER_WITHIN}
        options = {**limits, **params.get("OPTIONS", {})}
        self._shared = RedisCache(server, {**params, "OPTIONS": options})
        roomy = {
            **params,
            "OPTIONS": {"MAX_ENTRIES": 10_000},
        }  # the same limit as in settings without Redis
        self._own = LocMemCache("while-redis-is-away", roomy)

    def _ask(self, call: str, *args: Any, **kwargs: Any) -> Any:
        if link.is_up:
            try:
                return getattr(self._shared, call)(*args, **kwargs)
            except (RedisError, OSError) as error:
                link.failed(error, lambda: self._shared.get("anything"))
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
        """Clears both: counts made in this process belong to the cache too."""
        self._ask("clear")
        self._own.clear()
