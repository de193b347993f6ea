"""The only door from a request to an object. Not yours and not there look the same: 404.

A person acts for themselves, for the children they answer for and, as an admin, for everybody.
"""

from bookings.access.bookings import (
    access_booking,
    access_brief,
    access_own_booking,
    access_wrap_up,
    bookings_of,
    live_place,
)
from bookings.access.busy import access_busy_calendar, access_busy_person
from bookings.access.cover_questions import access_cover_question, cover_questions_of
from bookings.access.exchanges import access_exchange_move, exchange_moves_of
from bookings.access.feeds import access_feed
from bookings.access.instructors import (
    access_days_away,
    access_extra_hours,
    access_instructor,
    instructor_of,
    require_instructor,
)
from bookings.access.intakes import hurts_for, is_family, reads_hurts_as
from bookings.access.meetings import (
    access_agenda,
    access_group_to_wrap_up,
    access_meeting,
    access_roster_feed,
    access_taught_meeting,
    may_run,
    meetings_of,
)
from bookings.access.move_requests import access_move_request, move_requests_of, move_requests_seen
from bookings.access.my_students import (
    access_list_of,
    access_listed_student,
    students_listed,
)
from bookings.access.notes import (
    NOTES_STAY,
    access_assessment,
    history_relation,
    knows_student,
    may_assess,
    may_assess_in,
    notes_of_instructor,
    readable_before,
    reading_relation,
    reading_relations,
    require_assessor,
)
from bookings.access.offerings import access_offering
from bookings.access.owed import access_owed_lesson, owed_lessons_of
from bookings.access.plans import access_plan, plans_of, whose_plan
from bookings.access.practice import access_practising
from bookings.access.privacy import access_own_data, find_own_data, may_approve, whose_data
from bookings.access.proposed_times import (
    access_proposal,
    access_proposal_to_answer,
    access_proposal_to_withdraw,
    may_propose,
    proposals_of,
)
from bookings.access.refusals import not_there, require_admin
from bookings.access.service_tokens import is_program
from bookings.access.statements import access_statement, statements_of
from bookings.access.students import (
    access_student,
    acts_for,
    name_for,
    named_like,
    names_in_a_room,
    own_students,
    student_among,
    students_named,
    students_near,
)
from bookings.access.taught import (
    access_booking_to_move,
    access_student_to_book,
    access_taught_student,
    acts_as_school,
    require_oneself,
)
from bookings.access.terms import access_term
from bookings.access.weekly import access_own_weekly_place, weekly_places_of

__all__ = [
    "NOTES_STAY",
    "access_agenda",
    "access_assessment",
    "access_booking",
    "access_booking_to_move",
    "access_brief",
    "access_busy_calendar",
    "access_busy_person",
    "access_cover_question",
    "access_days_away",
    "access_exchange_move",
    "access_extra_hours",
    "access_feed",
    "access_group_to_wrap_up",
    "access_instructor",
    "access_list_of",
    "access_listed_student",
    "access_meeting",
    "access_move_request",
    "access_offering",
    "access_owed_lesson",
    "access_own_booking",
    "access_own_data",
    "access_own_weekly_place",
    "access_plan",
    "access_practising",
    "access_proposal",
    "access_proposal_to_answer",
    "access_proposal_to_withdraw",
    "access_roster_feed",
    "access_statement",
    "access_student",
    "access_student_to_book",
    "access_taught_meeting",
    "access_taught_student",
    "access_term",
    "access_wrap_up",
    "acts_as_school",
    "acts_for",
    "bookings_of",
    "cover_questions_of",
    "exchange_moves_of",
    "find_own_data",
    "history_relation",
    "hurts_for",
    "instructor_of",
    "is_family",
    "is_program",
    "knows_student",
    "live_place",
    "may_approve",
    "may_assess",
    "may_assess_in",
    "may_propose",
    "may_run",
    "meetings_of",
    "move_requests_of",
    "move_requests_seen",
    "name_for",
    "named_like",
    "names_in_a_room",
    "not_there",
    "notes_of_instructor",
    "owed_lessons_of",
    "own_students",
    "plans_of",
    "proposals_of",
    "readable_before",
    "reading_relation",
    "reading_relations",
    "reads_hurts_as",
    "require_admin",
    "require_assessor",
    "require_instructor",
    "require_oneself",
    "statements_of",
    "student_among",
    "students_listed",
    "students_named",
    "students_near",
    "weekly_places_of",
    "whose_data",
    "whose_plan",
]
