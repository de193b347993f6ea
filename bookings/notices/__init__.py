"""Which message goes to whom, built from the state just written. Returns rows that are not saved; sends and writes nothing."""

from bookings.models import OutboxMessage
from bookings.notices.accounts import AccountEvent, account_changed, password_link
from bookings.notices.clocks import clock_changed
from bookings.notices.following import to_finish
from bookings.notices.letters import (
    assessment_released,
    consent_asked,
    consent_state,
    welcome_letter,
)
from bookings.notices.meetings import LeftOut, called_off, meeting_changed, meeting_made, reinstated
from bookings.notices.own_clocks import OwnClock, SameMeeting, own_clock_changed, own_clock_key
from bookings.notices.people import by_reader, family_of
from bookings.notices.places import booking_ended, booking_made, booking_moved
from bookings.notices.replies import counter_refused, move_asked, move_refused, place_stays
from bookings.notices.retiming import Moved, retimed
from bookings.notices.unproven import cancelling_unproven, moving_unproven
from bookings.notices.waiting import offer_made, place_free
from bookings.notices.weekly import Left, Taken, weekly_changed

__all__ = [
    "AccountEvent",
    "Left",
    "LeftOut",
    "Moved",
    "OutboxMessage",
    "OwnClock",
    "SameMeeting",
    "Taken",
    "account_changed",
    "assessment_released",
    "booking_ended",
    "booking_made",
    "booking_moved",
    "by_reader",
    "called_off",
    "cancelling_unproven",
    "clock_changed",
    "consent_asked",
    "consent_state",
    "counter_refused",
    "family_of",
    "meeting_changed",
    "meeting_made",
    "move_asked",
    "move_refused",
    "moving_unproven",
    "offer_made",
    "own_clock_changed",
    "own_clock_key",
    "password_link",
    "place_free",
    "place_stays",
    "reinstated",
    "retimed",
    "to_finish",
    "weekly_changed",
    "welcome_letter",
]
