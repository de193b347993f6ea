"""Which message goes to whom, built from the state just written.

The functions return unsaved rows. They write and send nothing.
"""

from bookings.models import OutboxMessage
from bookings.notices.accounts import (
    account_closed,
    account_reopened,
    address_changed,
    address_to_confirm,
    role_changed,
)
from bookings.notices.agendas import agenda_lengthens, agenda_published
from bookings.notices.asked_hours import hours_asked
from bookings.notices.barring import guardian_barred
from bookings.notices.booked_together import places_booked
from bookings.notices.choosing import not_chosen
from bookings.notices.clearing import Cleared, hours_cleared
from bookings.notices.clearing_parts import CalledOff, MovedLesson
from bookings.notices.clocks import clock_changed
from bookings.notices.cover_questions import cover_asked, cover_not_needed
from bookings.notices.covering import Covered, lessons_covered
from bookings.notices.email_troubles import address_to_prove, addresses_unreachable
from bookings.notices.exchanges import exchange_asked, exchange_ended, places_exchanged
from bookings.notices.follow_ups import to_finish
from bookings.notices.guardians import consent_withdrawn, guardian_removed
from bookings.notices.links import (
    assessment_released,
    consent_asked,
    consent_state,
    welcome_email,
)
from bookings.notices.meetings import called_off, meeting_changed, meeting_made, meeting_runs
from bookings.notices.moving import booking_moved, pair_moved
from bookings.notices.owed import (
    lesson_owed,
    owed_changed,
    owed_lapsed,
    owed_reminder,
    owed_reminder_keys,
)
from bookings.notices.own_clocks import OwnClock, SameMeeting, own_clock_changed, own_clock_key
from bookings.notices.people import by_reader, readers_of
from bookings.notices.places import booking_ended, booking_made, charged_if_late
from bookings.notices.privacy import privacy_request
from bookings.notices.proposed_times import proposal_ended, times_proposed
from bookings.notices.reinstating import LeftOut, reinstated
from bookings.notices.replies import counter_refused, move_asked, move_refused, place_stays
from bookings.notices.retiming import Moved, retimed
from bookings.notices.rooms import room_changed
from bookings.notices.rows import plan_key
from bookings.notices.second_factors import second_factor_reset
from bookings.notices.sign_in import AccountEvent, account_changed, password_link
from bookings.notices.unproven import cancelling_unproven, moving_unproven
from bookings.notices.waiting import offer_made, place_free
from bookings.notices.waiting_lists import added_to_waiting_list, removed_from_waiting_list
from bookings.notices.weekly import weekly_changed
from bookings.notices.weekly_places import Left, Taken

__all__ = [
    "AccountEvent",
    "CalledOff",
    "Cleared",
    "Covered",
    "Left",
    "LeftOut",
    "Moved",
    "MovedLesson",
    "OutboxMessage",
    "OwnClock",
    "SameMeeting",
    "Taken",
    "account_changed",
    "account_closed",
    "account_reopened",
    "added_to_waiting_list",
    "address_changed",
    "address_to_confirm",
    "address_to_prove",
    "addresses_unreachable",
    "agenda_lengthens",
    "agenda_published",
    "assessment_released",
    "booking_ended",
    "booking_made",
    "booking_moved",
    "by_reader",
    "called_off",
    "cancelling_unproven",
    "charged_if_late",
    "clock_changed",
    "consent_asked",
    "consent_state",
    "consent_withdrawn",
    "counter_refused",
    "cover_asked",
    "cover_not_needed",
    "exchange_asked",
    "exchange_ended",
    "guardian_barred",
    "guardian_removed",
    "hours_asked",
    "hours_cleared",
    "lesson_owed",
    "lessons_covered",
    "meeting_changed",
    "meeting_made",
    "meeting_runs",
    "move_asked",
    "move_refused",
    "moving_unproven",
    "not_chosen",
    "offer_made",
    "owed_changed",
    "owed_lapsed",
    "owed_reminder",
    "owed_reminder_keys",
    "own_clock_changed",
    "own_clock_key",
    "pair_moved",
    "password_link",
    "place_free",
    "place_stays",
    "places_booked",
    "places_exchanged",
    "plan_key",
    "privacy_request",
    "proposal_ended",
    "readers_of",
    "reinstated",
    "removed_from_waiting_list",
    "retimed",
    "role_changed",
    "room_changed",
    "second_factor_reset",
    "times_proposed",
    "to_finish",
    "weekly_changed",
    "welcome_email",
]
