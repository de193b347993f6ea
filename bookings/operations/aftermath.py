"""What a refusal itself sets off, written after the refused change has been rolled back."""

from datetime import datetime

from bookings.domain.errors import Refused
from bookings.operations.consents import ask_for_consent


def sets_something_off(refusal: Refused) -> bool:
    """Whether `follow_up` has anything to do: most refusals are an answer and no more."""
    return refusal.code == "consent-missing"


def follow_up(refusal: Refused, *, now: datetime) -> bool:
    """Whether anything was written: a missing consent asks the guardians for it, once for each wording."""
    return ask_for_consent(student_id=refusal.data["student"], now=now)
