"""Structured log lines about what happened and where, without anything secret or private.

Secret parts of addresses are hidden. Of an exception only the kinds and the places in the code are
written: a database quotes the row that it refused, and a mail server the email, and both hold what
people wrote.
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

# The addresses of a feed, an invitation and a password reset are keys: a reader of a log could use
# one.
_SECRET = re.compile(
    r"(/calendar/|/welcome/|/consent/|/new-address/|/accounts/password/reset/key/)[^\s/'\"?]+"
)
# A reason that somebody typed, and a token, though no call takes them in an address; and a name
# that is searched for.
_PRIVATE = re.compile(
    r"([?&](?:reason|q|find|(?:access_)?token|(?:api_)?key|secret|password)=)[^\s&'\"]+"
)
# The secrets of service tokens and of webhooks are known by how they begin.
_OF_PROGRAMS = re.compile(r"\b(levare_|whsec_)[A-Za-z0-9_+/=-]{16,}")
# The text of these comes from a system and names only files, servers and tables. Only its first
# line is logged: the next ones may quote rows.
_TOLD = (OSError, psycopg.OperationalError, sqlite3.Error, RedisError)


def hide_secrets(text: str) -> str:
    """`text` with the secret or private parts of known addresses, and the secrets of programs,
    replaced by "[hidden]".
    """
    for secret in (_SECRET, _PRIVATE, _OF_PROGRAMS):
        text = secret.sub(r"\1[hidden]", text)
    return text


class HideSecrets(logging.Filter):
    """Hides secrets in the message and arguments of a record."""

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
    """The kind of an exception. Its text is added only if a system wrote it and not a person."""
    name = f"{type(error).__module__}.{type(error).__qualname__}".removeprefix("builtins.")
    if isinstance(error, psycopg.Error) and error.sqlstate:
        constraint = error.diag.constraint_name
        name += f" [{error.sqlstate} {constraint}]" if constraint else f" [{error.sqlstate}]"
    if isinstance(error, _TOLD) and not isinstance(error, SMTPException):
        name += f": {(str(error).splitlines() or [''])[0][:200]}"
    return hide_secrets(name)


def trace_of(error: BaseException) -> str:
    """The traceback of each exception of the chain, the first cause first, without their texts."""
    chain: list[str] = []
    seen: set[int] = set()
    link: BaseException | None = error
    while link is not None and id(link) not in seen:
        seen.add(id(link))
        chain.append("".join(traceback.format_tb(link.__traceback__)) + name_of(link))
        before = None if link.__suppress_context__ else link.__context__
        link = link.__cause__ or before
    return hide_secrets("\nand then\n".join(reversed(chain)))


def without_words(logger: WrappedLogger, method: str, event: EventDict) -> EventDict:
    """Replaces exceptions by their kind and place.

    The Celery integration adds the same text as `error`.
    """
    error = _error_of(event.pop("exc_info", None))
    for key, value in event.items():
        if isinstance(value, BaseException):
            event[key] = name_of(value)
            if "error" in event:
                event["error"] = event[key]
    if error is not None:
        event["exception"] = trace_of(error)
    return event


def _error_of(exc_info: Any) -> BaseException | None:
    """The exception of a log call: given itself, as a triple, or as True for the current one."""
    if not exc_info or isinstance(exc_info, BaseException):
        return exc_info or None
    if isinstance(exc_info, tuple):
        return exc_info[1]
    return sys.exc_info()[1]


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
    """Writes one line of JSON for each event."""

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
    """The logging configuration of every process: lines of JSON on standard error, from that level
    on.
    """
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
            # Celery would log a failed task's arguments and exception in full; task_failed logs the
            # failure without them.
            "celery.app.trace": {"level": "CRITICAL"},
            "gunicorn.error": {"level": level, "handlers": [], "propagate": True},
            "gunicorn.access": {"level": "INFO", "handlers": [], "propagate": True},
        },
    }
