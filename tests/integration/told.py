"""The letters behind tests/golden/mails: every reason to write to somebody, told in the invented
school, with fixed keys.
"""

from collections.abc import Callable
from datetime import timedelta

from bookings import notices
from bookings.domain.vocabulary import Ended, PlaceKind, Standing
from bookings.models import (
    MoveRequest,
    WaitingPlace,
)
from tests.cast import NOW, at
from tests.integration.told_clearing import cleared
from tests.integration.told_covering import covering
from tests.integration.told_exchanges import exchanged
from tests.integration.told_minimums import listed, uncertain
from tests.integration.told_owed import owed
from tests.integration.told_people import accounts, clocks, data, people, rooms
from tests.integration.told_proposed import declined, proposed
from tests.integration.told_together import asked, next_ones, playing, series
from tests.integration.told_troubles import troubles
from tests.integration.told_words import LATER, MONDAYS, Told, end
from tests.letters import keep
from tests.school.golden import School


def places(school: School) -> Told:
    """Taken, moved, given back."""
    booking = school.booked()
    yield "booked", notices.booking_made(booking, now=NOW)
    (posy,) = school.in_group(school.posy)
    kit = school.booking(posy.meeting, school.kit)
    yield "booked_in_group", notices.booking_made(kit, now=NOW)
    listened = school.meeting(school.masterclass, "2027-03-20T18:00Z", places=3, listener_places=20)
    listener = school.booking(listened, school.marlo, place_kind=PlaceKind.LISTENER)
    yield "booked_to_listen", notices.booking_made(listener, now=NOW)
    kit = end(kit, Ended.CANCELLED_IN_TIME)
    yield "given_back", notices.booking_ended(kit, now=LATER)
    yield "removed", notices.booking_ended(end(posy, Ended.REMOVED), now=LATER)
    was, booking.meeting.sequence = booking.starts_at, 1
    for field in ("starts_at", "ends_at"):
        setattr(booking.meeting, field, getattr(booking.meeting, field) + timedelta(hours=44))
    yield (
        "moved",
        notices.booking_moved(booking, old_starts_at=was, old_instructor=school.ilse, now=LATER),
    )
    moved = school.booked("2027-03-16T21:00Z")
    moved.meeting.instructor, moved.meeting.sequence = school.wren, 1
    yield (
        "moved_away",
        notices.booking_moved(moved, old_starts_at=was, old_instructor=school.ilse, now=LATER),
    )
    yield (
        "cancelled",
        notices.booking_ended(
            end(school.booked("2027-03-18T21:00Z"), Ended.CANCELLED_LATE, whole=True), now=LATER
        ),
    )


def together(school: School) -> Told:
    """Two lessons of a family that move in one act."""
    pair = [
        school.booking(school.meeting(starts_at=start, sequence=1), child)
        for start, child in (("2027-03-17T20:00Z", school.posy), ("2027-03-17T20:30Z", school.kit))
    ]
    old_starts = [row.starts_at - timedelta(hours=25) for row in pair]
    yield (
        "moved_together",
        notices.pair_moved(pair, old_starts=old_starts, old_instructor=school.ilse, now=LATER),
    )


def meetings(school: School) -> Told:
    """Whole meetings made, changed, called off."""
    noor, posy, kit = school.in_group(school.noor, school.posy, school.kit)
    meeting = noor.meeting
    yield "group_made", notices.meeting_made(meeting, now=NOW)
    meeting.title, meeting.sequence = "Hands together, faster", 1
    yield (
        "group_changed",
        keep(notices.meeting_changed(meeting, [noor, posy, kit], now=LATER), LATER),
    )
    meeting.status, meeting.sequence = "CANCELLED", 2
    meeting.called_off_why = "Ilse is ill."
    waiting = WaitingPlace(meeting=meeting, student=school.marlo)
    yield "called_off", notices.called_off(meeting, [noor, posy, kit], now=LATER, waiting=[waiting])
    meeting.status, meeting.sequence, meeting.called_off_why = "CONFIRMED", 3, ""
    left_out = [notices.LeftOut(kit, "own-clash")]
    yield (
        "reinstated",
        notices.reinstated(meeting, [noor, posy], left_out=left_out, waiting=[waiting], now=LATER),
    )


def waiting(school: School) -> Told:
    """Offers and free places."""
    meeting = school.group(places=2)
    offer = school.booking(
        meeting, school.marlo, standing=Standing.OFFERED, answer_by=NOW + timedelta(hours=24)
    )
    yield "offered", notices.offer_made(offer, now=NOW)
    yield "offer_lapsed", notices.booking_ended(end(offer, Ended.LAPSED), now=LATER)
    offer.ended_why = Ended.DECLINED
    yield "offer_declined", notices.booking_ended(offer, now=LATER)
    queue = [
        WaitingPlace(meeting=meeting, student=student)
        for student in (school.posy, school.kit, school.marlo)
    ]
    yield "place_free", notices.place_free(meeting, PlaceKind.PLAYER, queue, now=NOW)
    meeting.listener_places = 2
    yield "not_chosen", notices.not_chosen(meeting, queue, now=NOW)


def weekly(school: School) -> Told:
    """Weekly places."""
    taken = school.weekly(MONDAYS)
    yield "weekly_place_taken", notices.weekly_changed(taken=[taken], now=NOW)
    left = notices.Left(taken.place, taken.bookings[1:], taken.bookings[:1])
    yield "weekly_place_left", notices.weekly_changed(left=[left], now=LATER)
    to = school.weekly(
        [start.replace("T18", "T19").replace("T17", "T18") for start in MONDAYS[1:]], 19 * 60
    )
    yield "weekly_place_moved", notices.weekly_changed(left=[left], taken=[to], now=LATER)


def answers(school: School) -> Told:
    """What follows from a calendar's answer, where the school hears answers: ORGANIZER is a
    mailbox.
    """
    booking = school.booked()
    meeting = booking.meeting
    meeting.sequence = 1
    yield "changed_with_mailbox", notices.meeting_changed(meeting, [booking], now=LATER)
    yield "declined_late", notices.place_stays(school.noor.user, [booking], sequence=0, now=LATER)
    doubted = {"bookings": [booking], "sequence": 1, "now": LATER}
    yield "cancelling_unproven", notices.cancelling_unproven(school.noor.user, **doubted)
    yield "moving_unproven", notices.moving_unproven(school.noor.user, **doubted)
    starts_at = at("2027-03-17T21:00Z")
    asked = MoveRequest(
        pk=school.key(),
        booking=booking,
        asked_by=school.noor.user,
        starts_at=starts_at,
        sequence=0,
        asked_at=LATER,
    )
    yield "move_asked", notices.move_asked(asked, now=LATER)
    yield (
        "move_refused",
        notices.move_refused(asked, words="I teach in Perth that week.", now=LATER),
    )
    asked.sequence = None
    yield "move_refused_to_family", notices.move_refused(asked, now=LATER)
    yield (
        "counter_refused",
        notices.counter_refused(
            school.noor.user, meeting, starts_at=starts_at, sequence=1, now=LATER
        ),
    )


CHAPTERS: list[Callable[[School], Told]] = [
    places,
    meetings,
    waiting,
    weekly,
    answers,
    clocks,
    people,
    accounts,
    data,
    troubles,
    rooms,
    proposed,
    declined,
    together,
    covering,
    next_ones,
    playing,
    series,
    asked,
    exchanged,
    owed,
    cleared,
    uncertain,
    listed,
]
