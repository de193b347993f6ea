"""Lengths of time in words."""

from datetime import datetime, timedelta


def length_of(minutes: int) -> str:
    """ "3 hours 50 minutes"."""
    hours, rest = divmod(minutes, 60)
    said = [f"{hours} hour{'' if hours == 1 else 's'}"] if hours else []
    if rest or not hours:
        said.append(f"{rest} minute{'' if rest == 1 else 's'}")
    return " ".join(said)


def until(starts_at: datetime, now: datetime) -> str:
    """ "now", or "in 18 minutes": a minute that has begun counts."""
    if starts_at <= now:
        return "now"
    return f"in {length_of(-((now - starts_at) // timedelta(minutes=1)))}"
