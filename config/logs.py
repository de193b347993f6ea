"""Structured log lines, with what is secret in an address hidden before it is written."""

import logging
import re

import structlog
from structlog.typing import Processor

# A feed's address, an invitation and a password reset are keys: whoever reads one in a log could use it.
_SECRET = re.compile(r"(/calendar/|/welcome/|/consent/|/accounts/password/reset/key/)[^\s/'\"?]+")


def hide_secrets(text: str) -> str:
    """`text` with the secret part of every known address replaced by "[hidden]"."""
    return _SECRET.sub(r"\1[hidden]", text)


class HideSecrets(logging.Filter):
    """Hides secrets in a record's message and arguments."""

    def filter(self, record: logging.LogRecord) -> bool:
        if isinstance(record.msg, str):
            record.msg = hide_secrets(record.getMessage())
            record.args = ()
        elif isinstance(record.msg, dict):
            record.msg = {key: hide_secrets(value) if isinstance(value, str) else value for key, value in record.msg.items()}
        return True


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
            processors=[structlog.stdlib.ProcessorFormatter.remove_processors_meta, structlog.processors.JSONRenderer()],
        )
