"""Which message goes to whom, built from the state just written.

The functions return unsaved rows. They write and send nothing.
"""

from bookings.models import OutboxMessage
from bookings.notices.accounts import (
    account_closed,
    account_reopened,
    address_changed,
    role_changed,
)
from bookings.notices.barring import guardian_barred
from bookings.notices.clocks import clock_changed
from bookings.notices.follow_ups import to_finish
from bookings.notices.guardians import consent_withdrawn, guardian_removed
from bookings.notices.links import (
    assessment_released,
    consent_asked,
    consent_state,
    welcome_email,
)
from bookings.notices.meetings import called_off, meeting_changed, meeting_made
from bookings.notices.own_clocks import OwnClock, SameMeeting, own_clock_changed, own_clock_key
from bookings.notices.people import by_reader, readers_of
from bookings.notices.places import booking_ended, booking_made, booking_moved
from bookings.notices.proposed_times import proposal_ended, times_proposed
from bookings.notices.reinstating import LeftOut, reinstated
from bookings.notices.replies import counter_refused, move_asked, move_refused, place_stays
from bookings.notices.retiming import Moved, retimed
from bookings.notices.rooms import room_changed
from bookings.notices.rows import in_ascii
from bookings.notices.second_factors import second_factor_reset
from bookings.notices.sign_in import AccountEvent, account_changed, password_link
from bookings.notices.unproven import cancelling_unproven, moving_unproven
from bookings.notices.waiting import offer_made, place_free
from bookings.notices.weekly import weekly_changed
from bookings.notices.weekly_places import Left, Taken

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
    "account_closed",
    "account_reopened",
    "address_changed",
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
    "consent_withdrawn",
    "counter_refused",
    "guardian_barred",
    "guardian_removed",
    "in_ascii",
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
    "proposal_ended",
    "readers_of",
    "reinstated",
    "retimed",
    "role_changed",
    "room_changed",
    "second_factor_reset",
    "times_proposed",
    "to_finish",
    "weekly_changed",
    "welcome_email",
]
