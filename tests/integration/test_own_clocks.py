"""New rules for a reader's own clock while their meetings stay: told once, with the old hour; what
was written ahead is told anew.

Rules of another version are imitated by the row that a process with them would have kept.
"""

import json
from io import StringIO

import pytest
from django.core.management import call_command

from bookings import clock, tasks
from bookings.domain.vocabulary import Kind, Standing
from bookings.domain.zone_rules import installed
from bookings.domain.zones import TZDATA_VERSION
from bookings.door import write
from bookings.models import KeptZoneRules, Meeting, OutboxMessage
from bookings.operations.own_clocks import tell_own_clock
from bookings.operations.people import change_me
from bookings.queries.own_clocks import kept_rules
from tests import cast
from tests.cast import NOW, at
from tests.school.lessons import HOUR, School

pytestmark = pytest.mark.django_db
START = at("2027-03-12T17:00Z")


@pytest.fixture
def school(monkeypatch):
    """Dublin's rules stayed; New York's clock was an hour behind what it is now."""
    monkeypatch.setattr(clock, "now", lambda: NOW)
    cast.keep_old_rules(**{"America/New_York": -1})
    return School()


def retime(*flags):
    out = StringIO()
    call_command("retime", *flags, "--json", stdout=out)
    return json.loads(out.getvalue())


def letters(person):
    return OutboxMessage.objects.filter(
        recipient=person, subject_key=f"zone-rules:{TZDATA_VERSION}"
    )


def family_in_new_york():
    """Two children of one guardian."""
    hedda = cast.make_user("Hedda Albright", "America/New_York")
    return (
        cast.make_minor("Kit Albright", "America/New_York", guardian=hedda),
        cast.make_minor("Lark Albright", "America/New_York", guardian=hedda),
    )


def test_a_student_whose_own_rules_changed_is_told_once(school):
    """Noor's lesson stays at 17:00 in Dublin; on their clock it was 11:00 and is 12:00.

    The dry run lists it, a second run tells nobody.
    """
    meeting = school.lesson_at("2027-03-12T17:00Z", school.noor, tzdata_version="2025b")
    school.lesson_at("2027-03-13T17:00Z", school.marlo, tzdata_version="2025b")
    moved = [{"meeting": meeting.pk, "from": "2027-03-12 11:00", "to": "2027-03-12 12:00"}]
    listed = [{"reader": school.noor.user_id, "time_zone": "America/New_York", "meetings": moved}]
    foretold = retime()
    assert (foretold["own_clocks"], foretold["meetings"], OutboxMessage.objects.count()) == (
        listed,
        [],
        0,
    )
    assert retime("--write") == {**foretold, "written": True}
    (letter,) = OutboxMessage.objects.filter(kind="told")
    assert letter.recipient == school.noor.user and letter.method == ""
    assert (
        "New York’s time-zone rules have changed. For everybody else this meeting stays at the "
        "same time"
    ) in letter.body
    assert (
        "  Harp lesson with I. Quarrow, Fri 12 March 12:00, New York (before: 11:00)" in letter.body
    )
    meeting.refresh_from_db()
    assert (meeting.starts_at, meeting.sequence, meeting.tzdata_version) == (
        START,
        0,
        TZDATA_VERSION,
    )
    again = retime("--write")
    assert (again["own_clocks"], OutboxMessage.objects.filter(kind="told").count()) == ([], 1)


def test_a_run_that_was_cut_short_tells_nobody_twice(school):
    """Told, and not yet noted on the meetings: the next run finds them and has nothing to tell."""
    school.lesson_at("2027-03-12T17:00Z", school.noor, tzdata_version="2025b")
    tell = lambda: write(  # noqa: E731
        lambda: tell_own_clock(reader_id=school.noor.user_id, rules=kept_rules(["2025b"]), now=NOW),
        now=NOW,
    )
    assert tell() is not None and tell() is None
    assert (retime("--write")["own_clocks"], letters(school.noor.user).count()) == ([], 1)


def test_one_letter_lists_a_familys_meetings(school):
    """A guardian of two with a lesson, a place in a group and an offer, one of them before midnight
    by the old rules.
    """
    kit, lark = family_in_new_york()
    school.lesson_at("2027-03-12T17:00Z", kit, tzdata_version="2025b")
    group = {"offering": school.circle, "places": 5, "tzdata_version": "2025b"}
    cast.make_booking(school.lesson_at("2027-03-14T04:30Z", **group), lark)
    offered = school.lesson_at("2027-03-16T17:00Z", **group)
    cast.make_booking(offered, kit, standing=Standing.OFFERED, answer_by=at("2027-03-10T17:00Z"))
    retime("--write")
    letter = letters(kit.guardians.get()).get()
    assert "For everybody else these meetings stay at the same time" in letter.body
    for line in (
        "  Kit: Harp lesson with I. Quarrow, Fri 12 March 12:00, New York (before: 11:00)",
        "  Lark: Harp circle with I. Quarrow, Sat 13 March 23:30, New York (before: 22:30)",
        "  Kit: Harp circle with I. Quarrow, Tue 16 March 13:00, New York, offered (before: 12:00)",
    ):
        assert line in letter.body
    utc = "  Lark: Harp circle with I. Quarrow, Sun 14 March 00:30, New York (UTC"
    assert utc not in letter.body
    assert letter.title == (
        "New clock rules in New York: Harp lesson with I. Quarrow, Fri 12 March 12:00, New "
        "York, and 2 more"
    )


def test_an_instructor_who_lives_by_another_clock_is_told_too(school):
    """Wren has moved to New York; their lesson is still at Dublin's hour."""

    def change() -> object:
        return change_me(actor=school.wren.user, time_zone="America/New_York", now=NOW)

    meeting = school.lesson_at(
        "2027-03-12T17:00Z", school.marlo, teacher=school.wren, tzdata_version="2025b"
    )
    school.wren.user = write(change, now=NOW)
    assert [one["reader"] for one in retime("--write")["own_clocks"]] == [school.wren.user_id]
    letter = letters(school.wren.user).get()
    assert (
        "  Harp lesson, Fri 12 March 12:00, New York (before: 11:00)" in letter.body
        and letter.meeting == meeting
    )


def test_what_was_written_ahead_is_told_anew(school):
    """The reminder named the old hour; it leaves at the same instant and names the new one."""
    meeting = school.lesson_at("2027-03-12T17:00Z", school.noor, tzdata_version="2025b")
    keys = {
        "recipient": school.noor.user,
        "kind": "reminder-24h",
        "subject_key": f"meeting:{meeting.pk}",
        "state_key": "sequence:0",
    }
    said = {
        "title": "Soon",
        "body": "Friday 12 March 2027, 11:00",
        "made_at": NOW,
        "due_at": START - 24 * HOUR,
        "good_until": START,
    }
    OutboxMessage.objects.create(
        **keys, **said, meeting=meeting, to_address="noor@example.org", message_id="<a@b>"
    )
    retime("--write")
    reminder = OutboxMessage.objects.get(**keys)
    assert ("12:00–12:25, New York" in reminder.body, reminder.due_at) == (True, START - 24 * HOUR)


def test_a_meeting_that_moves_is_told_with_its_move_alone(school):
    """Ilse's clock moved it; Noor reads of it in the invitation and in no second letter."""
    moved = school.lesson_at("2027-03-12T17:00Z", school.noor, off=HOUR)
    assert retime("--write")["own_clocks"] == []
    (told,) = OutboxMessage.objects.filter(recipient=school.noor.user, meeting=moved, due_at=NOW)
    assert (told.kind, letters(school.noor.user).count()) == ("invitation", 0)


def test_rules_that_were_not_kept_are_named(school):
    """Nobody is told what nobody knows, and whoever runs it is told that."""
    KeptZoneRules.objects.all().delete()
    meeting = school.lesson_at("2027-03-12T17:00Z", school.noor, tzdata_version="2025b")
    told = retime("--write")
    assert (told["own_clocks"], told["not_kept"]) == ([], ["2025b"])
    assert Meeting.objects.get(pk=meeting.pk).tzdata_version == TZDATA_VERSION
    school.lesson_at("2027-03-13T17:00Z", school.noor, tzdata_version="2025b")
    out = StringIO()
    call_command("retime", stdout=out)
    assert "The rules of 2025b were not kept" in out.getvalue()


def test_the_installed_rules_are_kept_once_a_year(school, monkeypatch):
    """By the task that looks what is due, again in the new year, and by a retime; as they were."""
    tasks.enqueue_due()
    tasks.enqueue_due()
    assert KeptZoneRules.objects.get(pk=TZDATA_VERSION).year == 2027
    assert kept_rules([TZDATA_VERSION])[TZDATA_VERSION] == installed(2027)
    monkeypatch.setattr(clock, "now", lambda: at("2028-01-01T00:05Z"))
    retime("--write")
    assert KeptZoneRules.objects.get(pk=TZDATA_VERSION).year == 2028


def test_kinds_of_meetings_are_all_looked_at(school):
    """A group of two families: each reader whose clock changed has a letter of their own, nobody
    else.
    """
    tess = cast.make_student("Tess Grey", "America/New_York")
    group = school.lesson_at(
        "2027-03-12T17:00Z", offering=school.circle, places=5, tzdata_version="2025b"
    )
    for student in (school.noor, school.marlo, tess):
        cast.make_booking(group, student)
    assert group.offering.kind == Kind.GROUP_MEETING
    assert [one["reader"] for one in retime("--write")["own_clocks"]] == [
        school.noor.user_id,
        tess.user_id,
    ]
