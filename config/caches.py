"""The shared cache, and what happens while Redis is away: each process keeps its own memory and goes on.

Nothing here is the only copy of anything, but a form that somebody sent after their session had ended: it is kept for 30
minutes, and without Redis it is written anew. What is kept has its content in its key (hours, feeds), so that an old entry is
never wrong; and the counts of throttles and failed sign-ins go on by process, so that a limit grows to at most that limit
times the number of processes and never vanishes.
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
"""While Redis is away one thread asks for it that often. No request does, so none waits for a connection."""
ANSWER_WITHIN = 0.5
"""Seconds; Redis stands beside the web process and answers in a thousandth of that."""


class Link:
    """Whether Redis answered when it was last asked; one for all threads of a process."""

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        """As at the start: nothing is known. A forked process starts so, since the thread that asks stays with its parent."""
        self._lock = threading.Lock()
        self._away_since: float | None = None

    @property
    def is_up(self) -> bool:
        return self._away_since is None

    def failed(self, error: Exception, ask: Callable[[], object]) -> None:
        """Told once for a stretch, with the kind of the error: its text may hold an address with a password.

        From here on a thread calls `ask` until it answers.
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
    """Redis where it answers, the process's own memory where it does not."""

    def __init__(self, server: str, params: dict[str, Any]) -> None:
        super().__init__(params)
        limits = {"socket_connect_timeout": ANSWER_WITHIN, "socket_timeout": ANSWER_WITHIN}
        options = {**limits, **params.get("OPTIONS", {})}
        self._shared = RedisCache(server, {**params, "OPTIONS": options})
        roomy = {**params, "OPTIONS": {"MAX_ENTRIES": 10_000}}  # as in settings, where Redis is not
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
        """Both: what was counted in this process belongs to the cache as well."""
        self._ask("clear")
        self._own.clear()
