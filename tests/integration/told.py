"""The letters behind tests/golden/mails: every reason to write to somebody, told in the invented
school, with fixed keys.
"""

from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from uuid import UUID

from accounts.models import Guardianship, Welcome
from bookings import notices
from bookings.domain.vocabulary import Ended, NoteState, PlaceKind, Standing
from bookings.domain.zone_rules import installed
from bookings.models import (
    Booking,
    MoveRequest,
    OutboxMessage,
    WaitingPlace,
)
from bookings.notices.follow_ups import Unfinished
from tests import cast
from tests.cast import NOW, at
from tests.letters import keep
from tests.school.golden import School

Told = Iterator[tuple[str, list[OutboxMessage]]]
LATER = NOW + timedelta(hours=6)
SECRET = "Zk3vN0c8yT5rQ1wXbE7hJ2mLpA9sDfGuI4oRtY6eWqU"


MONDAYS = [
    "2027-03-08T18:00Z",
    "2027-03-15T18:00Z",
    "2027-03-22T18:00Z",
    "2027-03-29T17:00Z",
    "2027-04-05T17:00Z",
]


def end(booking: Booking, why: Ended, *, whole: bool = False) -> Booking:
    """The booking as an operation leaves it."""
    meeting = booking.meeting
    booking.standing, booking.ended_at, booking.ended_why = Standing.ENDED, LATER, why
    booking.save()
    if whole:
        meeting.status, meeting.sequence = "CANCELLED", meeting.sequence + 1
    meeting.taken -= 1
    meeting.save()
    return booking


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


def clocks(school: School) -> Told:
    """New zone rules, and a reader who now lives by another clock."""
    booking = school.booked()
    meeting, rules = booking.meeting, installed(NOW.year)
    was, meeting.sequence = meeting.starts_at + timedelta(hours=1), 1
    meeting.is_flagged = booking.is_flagged = True
    yield "retimed", notices.retimed([notices.Moved(meeting, was, [booking], rules)], now=LATER)
    lessons = school.weekly(MONDAYS)
    moved = [
        notices.Moved(one.meeting, one.starts_at - timedelta(hours=1), [one], rules)
        for one in lessons.bookings[3:]
    ]
    yield "retimed_weekly_place", notices.retimed(moved, now=LATER)
    (kit,) = school.in_group(school.kit)
    offer = school.booking(
        school.meeting(starts_at="2027-03-21T13:30Z"),
        school.posy,
        standing=Standing.OFFERED,
        answer_by=LATER,
    )
    before = [datetime(2027, 3, 20, 5), datetime(2027, 3, 21, 23, 30)]
    hers = [
        notices.SameMeeting(one.meeting, was, [one])
        for one, was in zip((kit, offer), before, strict=True)
    ]
    yield "own_clock", notices.own_clock_changed(notices.OwnClock(school.hedda, hers), now=LATER)
    school.noor.user.time_zone = school.marlo.user.time_zone
    booking.student = school.noor
    yield (
        "another_clock",
        notices.clock_changed(school.noor.user, [booking], told_on="America/New_York", now=LATER),
    )


def people(school: School) -> Told:
    """Letters about people and their notes."""
    lineage = UUID(int=school.key(), version=4)
    note = cast.make_assessment(school.posy, school.ilse, pk=school.key(), lineage=lineage)
    yield "assessment", notices.assessment_released(note, now=NOW)
    guardianship = Guardianship(
        pk=school.key(), guardian=school.hedda, student=school.posy, consent_digest="5" * 64
    )
    yield "consent", notices.consent_asked(guardianship, wording="2026-11", secret=SECRET, now=NOW)
    welcome = Welcome(
        pk=school.key(),
        email="robin@marsh.example",
        name="Robin Marsh",
        good_until=NOW + timedelta(days=7),
    )
    yield "welcome", notices.welcome_email(welcome, secret=SECRET, inviter=school.dag, now=NOW)
    yield (
        "second_factor_reset",
        notices.second_factor_reset(school.ilse.user, by=school.dag, now=NOW),
    )
    path, noor = "/accounts/password/reset/key/1a-SECRET/", school.noor.user
    until = NOW + timedelta(days=3)
    yield (
        "password_link",
        notices.password_link(noor, path=path, key="5f1c", good_until=until, now=NOW),
    )
    for event in notices.AccountEvent:
        name = event.replace("-", "_")
        yield name, notices.account_changed(noor, event, key="5f1c", now=NOW)
    bookings = school.in_group(school.noor, school.posy)
    unwritten = [(bookings[0], None), (bookings[1], NoteState.DRAFT)]
    unfinished = Unfinished(bookings[0].meeting, bookings, unwritten)
    yield (
        "follow_up",
        notices.to_finish(
            school.ilse.user, date(2027, 3, 19), [unfinished], now=at("2027-03-20T08:00Z")
        ),
    )


def accounts(school: School) -> Told:
    """What is said to somebody about their account."""
    hedda = school.hedda
    yield "address_changed", notices.address_changed(hedda, old="h@old.example", now=NOW)
    yield "role_given", notices.role_changed(hedda, "an admin", gained=True, now=NOW)
    yield "role_taken", notices.role_changed(hedda, "an admin", gained=False, now=NOW)
    yield "account_closed", notices.account_closed(hedda, why="Posy has moved on.", now=NOW)
    yield "account_reopened", notices.account_reopened(hedda, now=NOW)
    row = school.posy.guardianships.get()
    row.pk = school.key()
    yield "guardian_removed", notices.guardian_removed(row, now=NOW)
    yield "consent_withdrawn", notices.consent_withdrawn(row, is_missing=True, now=NOW)
    place = school.weekly(MONDAYS[:1])
    left = notices.Left(place.place, place.bookings, [])
    yield (
        "settled",
        notices.weekly_changed(left=[left], said="Noor is moving away.", now=LATER),
    )


def rooms(school: School) -> Told:
    """A new room: two lessons of Noor's in one email, that of Hedda's Posy as a new invitation."""
    held = [school.booked(start) for start in ("2027-03-15T21:00Z", "2027-03-22T21:00Z")]
    held.append(school.booking(school.meeting(starts_at="2027-03-17T09:00Z"), school.posy))
    school.ilse.room = "https://rooms.rowanmere.example/attic"
    for booking in held:
        booking.meeting.sequence, booking.meeting.join_address = 1, school.ilse.room
    meetings = [booking.meeting for booking in held]
    yield (
        "room_changed",
        notices.room_changed(school.ilse, meetings, held, actor=school.dag, now=LATER),
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
    rooms,
]
