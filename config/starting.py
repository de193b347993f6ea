"""The log line at the start of a process, so that a school in the wrong profile can see it."""

import structlog
from django.conf import settings

log = structlog.get_logger(__name__)


def announce(process: str) -> None:
    """Logs the profile in one line, at a level that is always logged."""
    if settings.PRODUCTION:
        log.warning("levare starts", process=process, profile=settings.PROFILE)
        return
    why = "secrets are open and emails go to files; a school sets LEVARE_PROFILE=production"
    log.warning(
        "levare starts, not for a school", process=process, profile=settings.PROFILE, why=why
    )
