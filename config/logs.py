"""Structured log lines that say what happened and where, and hold nothing that is secret or private.

What is secret in an address is hidden. Of an exception the kinds and the places in the code are written, and not its words: a
database quotes the row that it refused, a mail server the letter, and both hold what people wrote.
"""

import logging
import re
import sqlite3
import sys
import traceback
from smtplib import SMTPException
from typing import Any

import psycopg
import structlog
from redis.exceptions import RedisError
from structlog.typing import EventDict, Processor, WrappedLogger

# A feed's address, an invitation and a password reset are keys: whoever reads one in a log could use it.
_SECRET = re.compile(r"(/calendar/|/welcome/|/consent/|/accounts/password/reset/key/)[^\s/'\"?]+")
# What somebody gave as a reason, though no call takes it there, and whom the office searched for.
_PRIVATE = re.compile(r"([?&](?:reason|q)=)[^\s&'\"]+")
# What these say comes from a system and names no more than files, servers and tables. Only the first line: the next ones quote rows.
_TOLD = (OSError, psycopg.OperationalError, sqlite3.Error, RedisError)


def hide_secrets(text: str) -> str:
    """`text` with the secret or private part of every known address replaced by "[hidden]"."""
    return _PRIVATE.sub(r"\1[hidden]", _SECRET.sub(r"\1[hidden]", text))


class HideSecrets(logging.Filter):
    """Hides secrets in a record's message and arguments."""

    def filter(self, record: logging.LogRecord) -> bool:
        if isinstance(record.msg, str):
            record.msg = hide_secrets(record.getMessage())
            record.args = ()
        elif isinstance(record.msg, dict):
            record.msg = {
                key: hide_secrets(value) if isinstance(value, str) else value
                for key, value in record.msg.items()
            }
        return True


def name_of(error: BaseException) -> str:
    """The kind of an exception; its own words only where they come from a system and not from what somebody wrote."""
    name = f"{type(error).__module__}.{type(error).__qualname__}".removeprefix("builtins.")
    if isinstance(error, psycopg.Error) and error.sqlstate:
        name += f" [{' '.join(filter(None, (error.sqlstate, error.diag.constraint_name)))}]"
    if isinstance(error, _TOLD) and not isinstance(error, SMTPException):
        name += f": {(str(error).splitlines() or [''])[0][:200]}"
    return hide_secrets(name)


def trace_of(error: BaseException) -> str:
    """Where it was raised and by what: the calls of each exception of the chain, the first cause first, as Python writes them."""
    chain, seen = [], set()
    following: BaseException | None = error
    while following is not None and id(following) not in seen:
        seen.add(id(following))
        chain.append("".join(traceback.format_tb(following.__traceback__)) + name_of(following))
        following = following.__cause__ or (
            None if following.__suppress_context__ else following.__context__
        )
    return hide_secrets("\nand then\n".join(reversed(chain)))


def without_words(logger: WrappedLogger, method: str, event: EventDict) -> EventDict:
    """Exceptions by kind and place. The Celery integration adds the same exception's text as `error`."""
    given: Any = event.pop("exc_info", None)
    error = (
        given
        if isinstance(given, BaseException)
        else (given if isinstance(given, tuple) else sys.exc_info())[1]
        if given
        else None
    )
    for key, value in event.items():
        if isinstance(value, BaseException):
            event[key] = name_of(value)
            if "error" in event:
                event["error"] = event[key]
    if error is not None:
        event["exception"] = trace_of(error)
    return event


_SHARED: list[Processor] = [
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_log_level,
    structlog.processors.TimeStamper(fmt="iso"),
]

structlog.configure(
    processors=[*_SHARED, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
    logger_factory=structlog.stdlib.LoggerFactory(),
    cache_logger_on_first_use=True,
)


class LineFormatter(structlog.stdlib.ProcessorFormatter):
    """One JSON line an event."""

    def __init__(self) -> None:
        super().__init__(
            foreign_pre_chain=_SHARED,
            processors=[
                structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                without_words,
                structlog.processors.JSONRenderer(),
            ],
        )


def logging_at(level: str) -> dict[str, Any]:
    """What Python's logging is set up with, in every process: lines of JSON on standard error, from that level on."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"line": {"()": "config.logs.LineFormatter"}},
        "filters": {"secrets": {"()": "config.logs.HideSecrets"}},
        "handlers": {
            "console": {
                "class": "logging.StreamHandler",
                "formatter": "line",
                "filters": ["secrets"],
            }
        },
        "root": {"handlers": ["console"], "level": level},
        "loggers": {
            "django.request": {"level": "ERROR"},
            # It writes a failed task's arguments and exception in full; task_failed says the same without.
            "celery.app.trace": {"level": "CRITICAL"},
            "gunicorn.error": {"level": level, "handlers": [], "propagate": True},
            "gunicorn.access": {"level": "INFO", "handlers": [], "propagate": True},
        },
    }
