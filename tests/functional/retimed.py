"""What `retime` leaves behind: wall times, mails, flags, and who is told what."""

from collections import Counter
from datetime import datetime, timedelta
from typing import Any

from bookings.domain.vocabulary import Standing
from bookings.domain.zones import TZDATA_VERSION, zone
from bookings.models import AuditRow, Booking, Meeting, OutboxMessage
from tests.cast import at
from tests.functional.old_rules import WALLS
from tests.letters import value

# STANDARDS.md section 5, "rule change after booking": the four that it names, by tzdata 2025b and
# by 2026f.
PUBLISHED = {
    "America/Vancouver": ("2026-12-01T18:00Z", "2026-12-01T17:00Z"),
    "Africa/Casablanca": ("2026-11-10T17:00Z", "2026-11-10T18:00Z"),
    "America/Winnipeg": ("2026-11-15T15:00Z", "2026-11-15T14:00Z"),
    "America/Havana": ("2026-11-15T14:00Z", "2026-11-15T13:00Z"),
}
CONTROLS = (
    "America/New_York",
    "Europe/London",
    "Australia/Sydney",
    "Asia/Kathmandu",
    "Australia/Lord_Howe",
)


def each_stands_at_its_wall_time(booked: dict[str, Any], moved: set[int]) -> None:
    """Meeting and booking alike; SEQUENCE and version rise for those that moved."""
    for time_zone, pk in booked["lessons"].items():
        meeting = Meeting.objects.get(pk=pk)
        local = meeting.starts_at.astimezone(zone(time_zone)).replace(tzinfo=None, fold=0)
        assert (
            local
            == datetime.combine(meeting.wall_on, meeting.wall_at)
            == datetime.fromisoformat(WALLS[time_zone])
        ), time_zone
        assert meeting.tzdata_version == TZDATA_VERSION
        assert (pk in moved) == (time_zone not in CONTROLS), time_zone
        assert meeting.sequence == meeting.version - 1 == (pk in moved)
        assert meeting.ends_at - meeting.starts_at == timedelta(minutes=25)
        assert meeting.held_until - meeting.ends_at == timedelta(minutes=5)
        booking = meeting.bookings.get()
        assert (booking.starts_at, booking.ends_at) == (meeting.starts_at, meeting.ends_at)
    for time_zone, (_, after) in PUBLISHED.items():
        assert Meeting.objects.get(pk=booked["lessons"][time_zone]).starts_at == at(after), (
            time_zone
        )
    assert set(
        AuditRow.objects.filter(verb="retimed").values_list("thing_id", flat=True)
    ) == moved | {booked["gap"]}


def each_reader_of_a_moved_one_has_one_new_entry(
    booked: dict[str, Any], moved: set[int], sent_before: Counter[Any]
) -> None:
    """One invitation at the higher SEQUENCE replaces the unsent one; nobody in a meeting that
    stayed hears of anything.
    """
    for meeting in Meeting.objects.filter(pk__in=moved, weekly_place=None):
        for reader in {
            meeting.instructor.user_id,
            *meeting.bookings.values_list("student__user_id", flat=True),
        }:
            mine = OutboxMessage.objects.filter(
                meeting=meeting, recipient=reader, kind="invitation"
            )
            assert mine.count() == sent_before[meeting.pk, reader, "invitation"] + 1
            newest = mine.latest("sequence")
            assert newest.sequence == 1 and value(newest.calendar, "SEQUENCE") == "1"
            assert "have changed" in newest.body
            assert list(mine.values_list("state", flat=True).order_by("sequence")) == [
                "superseded",
                "due",
            ]
    stayed = set(booked["lessons"].values()) - moved
    assert not OutboxMessage.objects.filter(meeting__in=stayed, sequence__gt=0).exists()


def the_words_say_whose_clock_changed(booked: dict[str, Any]) -> None:
    """London's reader learns that 10:00 in Vancouver stays and their own hour moves; Vancouver's
    instructor that theirs does not.
    """
    meeting = Meeting.objects.get(pk=booked["lessons"]["America/Vancouver"])
    student = meeting.bookings.get().student.user
    family = OutboxMessage.objects.get(meeting=meeting, sequence=1, recipient=student)
    assert "Vancouver’s time-zone rules have changed." in family.body
    assert "keeps its hour there: Tue 1 December 10:00, Vancouver." in family.body
    on_their_clock = (
        "60 minutes earlier than planned: on your clock it moves from Tue 1 December 18:00 to "
        "Tue 1 December 17:00, London."
    )
    assert on_their_clock in family.body
    teacher = OutboxMessage.objects.get(
        meeting=meeting, sequence=1, recipient=meeting.instructor.user
    )
    assert "On your clock nothing changes." in teacher.body
    reminders = OutboxMessage.objects.filter(
        meeting=meeting, kind="reminder-24h", state="due", recipient=student
    )
    assert [(reminder.due_at, "17:00" in reminder.body) for reminder in reminders] == [
        (at("2026-11-30T17:00Z"), True)
    ]


def lessons_that_follow_each_other_are_not_flagged(booked: dict[str, Any]) -> None:
    """A morning in Vancouver, each lesson going where another was."""
    chain = list(Meeting.objects.filter(pk__in=booked["chain"]).order_by("starts_at"))
    assert [f"{meeting.starts_at:%H:%M}" for meeting in chain] == [
        "16:00",
        "16:30",
        "17:00",
        "17:30",
    ]
    assert not any(meeting.is_flagged for meeting in chain)


def new_clashes_are_flagged(booked: dict[str, Any], told: dict[str, Any]) -> None:
    """Who now lies on another meeting is kept there and flagged, and nobody else; so is what fell
    into a gap, at its old instant.
    """
    kept, onto = (Meeting.objects.get(pk=pk) for pk in booked["instructor_clash"])
    assert kept.starts_at == onto.starts_at == at("2026-12-10T18:00Z")
    assert (kept.is_flagged, onto.is_flagged, onto.flagged_why) == (False, True, "instructor")
    first, second = (Meeting.objects.get(pk=pk) for pk in booked["student_clash"])
    assert first.starts_at == second.starts_at == at("2026-12-11T17:00Z")
    assert (first.is_flagged, second.is_flagged, second.flagged_why) == (False, True, "student")
    assert (first.bookings.get().is_flagged, second.bookings.get().is_flagged) == (False, True)
    gap = Meeting.objects.get(pk=booked["gap"])
    assert (gap.is_flagged, gap.flagged_why, gap.sequence, gap.starts_at) == (
        True,
        "gap",
        0,
        at("2027-03-28T00:30Z"),
    )
    assert not OutboxMessage.objects.filter(meeting=gap, sequence__gt=0).exists()
    flagged = set(Meeting.objects.filter(is_flagged=True).values_list("pk", flat=True))
    assert (
        flagged
        == {onto.pk, second.pk, gap.pk}
        == {line["meeting"] for line in told["meetings"] if line["why"]}
    )
    assert Booking.objects.filter(is_flagged=True).get().meeting_id == second.pk
    note = OutboxMessage.objects.get(meeting=onto, recipient=onto.instructor.user, sequence=1)
    assert "It now overlaps another meeting" in note.body


def a_weekly_place_is_told_in_one_message(booked: dict[str, Any]) -> None:
    """Its hour of the week stays; its lessons from 1 November on move: one message each to family
    and instructor, reminders follow.
    """
    lessons = Meeting.objects.filter(weekly_place=booked["weekly_place"]).order_by("starts_at")
    assert {meeting.wall_at.hour for meeting in lessons} == {15}
    moved = [meeting for meeting in lessons if meeting.sequence]
    assert [meeting.wall_on.isoformat() for meeting in moved] == [
        "2026-11-05",
        "2026-11-12",
        "2026-11-19",
        "2026-11-26",
        "2026-12-03",
    ]
    told = OutboxMessage.objects.filter(
        subject_key=f"weekly-place:{booked['weekly_place']}", state_key=f"retimed:{TZDATA_VERSION}"
    )
    assert Counter(told.values_list("recipient__name", flat=True)) == {
        "Weekly Student": 1,
        "Teacher Vancouver": 1,
    }
    assert "17:00–17:25, Toronto" in told.get(recipient__name="Weekly Student").body
    student = (
        Booking.objects.filter(meeting__in=lessons, standing=Standing.HELD)
        .earliest("starts_at")
        .student.user
    )
    due = OutboxMessage.objects.filter(
        recipient=student, kind="reminder-24h", state="due", meeting__in=moved
    )
    assert [row.due_at for row in due.order_by("due_at")] == [
        meeting.starts_at - timedelta(hours=24) for meeting in moved
    ]
    foretold = OutboxMessage.objects.filter(recipient=student, kind="shift")
    assert [(row.state, "starts at 17:00, not 18:00" in row.body) for row in foretold] == [
        ("due", True)
    ]


def a_student_whose_own_rules_changed_is_told(booked: dict[str, Any], told: dict[str, Any]) -> None:
    """17:00 in London stays 17:00Z; in Vancouver that was 09:00 by tzdata 2025b and is 10:00 by
    2026f (STANDARDS.md section 5).

    So is the instructor there of their group, which stays on New York's clock.
    """
    meeting = Meeting.objects.get(pk=booked["own_clock"])
    student = meeting.bookings.get().student.user
    assert (meeting.starts_at, meeting.sequence, meeting.tzdata_version) == (
        at("2026-11-18T17:00Z"),
        0,
        TZDATA_VERSION,
    )
    students = [{"meeting": meeting.pk, "from": "2026-11-18 09:00", "to": "2026-11-18 10:00"}]
    group = Meeting.objects.get(pk=booked["instructor_clash"][0])
    taught = [{"meeting": group.pk, "from": "2026-12-10 10:00", "to": "2026-12-10 11:00"}]
    readers = {one["reader"]: (one["time_zone"], one["meetings"]) for one in told["own_clocks"]}
    assert readers == {
        group.instructor.user_id: ("America/Vancouver", taught),
        student.pk: ("America/Vancouver", students),
    }
    assert told["not_kept"] == []
    letter = OutboxMessage.objects.get(
        recipient=student, subject_key=f"zone-rules:{TZDATA_VERSION}"
    )
    assert "Wed 18 November 10:00, Vancouver (before: 09:00)" in letter.body
    due = OutboxMessage.objects.filter(recipient=student, kind__startswith="reminder", state="due")
    assert due and all("10:00–10:25, Vancouver" in reminder.body for reminder in due)
