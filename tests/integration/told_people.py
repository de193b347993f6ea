"""The emails behind tests/golden/mails that speak of people, their notes and their accounts."""

from datetime import date, datetime, timedelta
from uuid import UUID

from accounts.models import AddressChange, Guardianship, Instructor, Student, Welcome
from bookings import notices
from bookings.domain.vocabulary import NoteForm, NoteState, PrivacyKind, Standing
from bookings.domain.zone_rules import installed
from bookings.domain.zones import zone
from bookings.models import OutboxMessage, PrivacyRequest
from bookings.notices.follow_ups import Unfinished
from bookings.queries.privacy import ERASED_AFTER
from tests import cast
from tests.cast import NOW, at
from tests.integration.told_words import LATER, MONDAYS, SECRET, Told
from tests.school.golden import School, keep

_FIXED = 7_200_000


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
    same = [
        notices.SameMeeting(one.meeting, was, [one])
        for one, was in zip((kit, offer), before, strict=True)
    ]
    yield "own_clock", notices.own_clock_changed(notices.OwnClock(school.hedda, same), now=LATER)
    school.noor.user.time_zone = school.marlo.user.time_zone
    booking.student = school.noor
    yield (
        "another_clock",
        notices.clock_changed(school.noor.user, [booking], told_on="America/New_York", now=LATER),
    )


def _lark(school: School) -> Student:
    """A child of Hedda's under a fixed key: the emails about notes name the student's page."""
    lark = Student.objects.create(
        pk=_FIXED,
        own_name="Lark Lindqvist-Reed",
        own_time_zone=zone("Australia/Lord_Howe"),
        adult_on=date(2034, 6, 1),
        level=2,
    )
    lark.guardianships.create(guardian=school.hedda)
    return lark


def people(school: School) -> Told:
    """Emails about people and their notes."""
    yield from _notes(school)
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


def _notes(school: School) -> Told:
    """A released note, with and without times to meet again."""
    lineage = UUID(int=school.key(), version=4)
    note = cast.make_assessment(_lark(school), school.ilse, pk=school.key(), lineage=lineage)
    yield "assessment", notices.assessment_released(note, now=NOW)
    note.meeting = cast.make_meeting(
        cast.make_offering("Short lesson", pk=_FIXED), school.ilse, at("2027-02-28T16:00Z")
    )
    note.author = Instructor(pk=_FIXED, user=school.ilse.user)  # the link to book names them
    note.follow_up_weeks, note.form = 4, NoteForm.LESSON_NOTE
    note.practice = [{"what": "Chords", "minutes": 10, "is_review": False}]
    starts = [at("2027-03-29T08:00Z"), at("2027-04-03T21:00Z")]
    yield "follow_up_dates", notices.assessment_released(note, starts=starts, now=NOW)
    yield "follow_up_without", notices.assessment_released(note, starts=[], now=NOW)


def accounts(school: School) -> Told:
    """What is said to somebody about their account."""
    hedda = school.hedda
    change = AddressChange(
        pk=_FIXED, user=hedda, email="h@new.example", good_until=NOW + timedelta(days=7)
    )
    yield "address_to_confirm", notices.address_to_confirm(change, secret=SECRET, now=NOW)
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
    yield "guardian_barred", barred(school)


def barred(school: School) -> list[OutboxMessage]:
    """A lesson of Posy's leaves Hedda's calendar."""
    meeting = school.meeting(starts_at="2027-03-18T09:00Z")
    booking = school.booking(meeting, school.posy)
    keep(notices.booking_made(booking, now=NOW), NOW)
    return notices.guardian_barred(school.hedda, out=[meeting], again={}, now=LATER)


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


def data(school: School) -> Told:
    """What is asked about a person's own data."""
    for kind, called in ((PrivacyKind.ERASURE, "erasure"), (PrivacyKind.ACCESS, "access")):
        for student, who in ((school.noor, "own"), (school.posy, "child")):
            request = PrivacyRequest(
                pk=school.key(), kind=kind, student=student, asked_by=school.dag, asked_at=NOW
            )
            for event in ("asked", "approved", "taken-back"):
                yield (
                    f"{called}_{event.replace('-', '_')}_{who}",
                    [
                        row
                        for row in notices.privacy_request(
                            request, student, event, erased_on=NOW + ERASED_AFTER, now=LATER
                        )
                        if row.recipient != school.dag
                    ],
                )
