"""What a process says of itself when it starts, so that a school that runs in the wrong profile reads it in its log."""

import structlog
from django.conf import settings

log = structlog.get_logger(__name__)


def announce(process: str) -> None:
    """One line with the profile, at a level that is always logged."""
    if settings.PRODUCTION:
        log.warning("levare starts", process=process, profile=settings.PROFILE)
        return
    why = "secrets are open and emails go to files; a school sets LEVARE_PROFILE=production"
    log.warning(
        "levare starts, not for a school", process=process, profile=settings.PROFILE, why=why
    )
