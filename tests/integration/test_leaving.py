"""An instructor who goes away, or leaves the school, over meetings that stand: named, or called off
in the same step.
"""

from datetime import date, timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import AuditRow, DaysAway, Meeting, OutboxMessage
from bookings.operations.booking import book_slot
from bookings.operations.days_away import go_away
from bookings.operations.leaving import dismiss_instructor
from bookings.operations.meetings import create_meeting
from tests import cast
from tests.cast import NOW, at
from tests.school.weekly import weekly_place

pytestmark = pytest.mark.django_db
WHY = "Ilse is ill."


@pytest.fixture
def ilse():
    """Ilse in Dublin on Tuesday 9 March 2027: one lesson, and a class of two with one who waits; a
    lesson two days later.
    """
    cast.make_policy()
    ilse, lesson, group = (
        cast.make_instructor(),
        cast.make_offering(),
        cast.make_offering("Studio class", Kind.GROUP_MEETING, 50),
    )
    cast.teaches(ilse, lesson, group)
    cast.publish(ilse, cast.EVERY_DAY)
    cast.make_booking(cast.make_meeting(lesson, ilse, at("2027-03-09T10:00Z")), cast.make_student())
    meeting = cast.make_meeting(
        group, ilse, at("2027-03-09T23:30Z"), places=2, title="Chords that speak"
    )
    cast.make_booking(meeting, cast.make_student("Marlo Vance"))
    meeting.waiting.create(
        student=cast.make_student("Otto Reed"), place_kind="player", joined_at=NOW
    )
    cast.make_booking(
        cast.make_meeting(lesson, ilse, at("2027-03-11T10:00Z")), cast.make_student("Wren Hale")
    )
    return ilse


def away(ilse, first_on=date(2027, 3, 9), last_on=date(2027, 3, 9), **more):
    return write(
        lambda: go_away(
            actor=ilse.user,
            instructor=ilse,
            first_on=first_on,
            last_on=last_on,
            time_zone="Europe/Dublin",
            now=NOW,
            **more,
        ),
        now=NOW,
    )


def dismissed(ilse, **more):
    admin = cast.make_admin()
    return write(lambda: dismiss_instructor(actor=admin, instructor=ilse, now=NOW, **more), now=NOW)


def live():
    return list(Meeting.objects.exclude(status="CANCELLED").values_list("starts_at", flat=True))


def test_days_away_over_meetings_are_refused_with_what_stands_in_the_way(ilse):
    """Both meetings of that day are listed by start, the one that runs past midnight too; nothing
    is written.
    """
    with pytest.raises(Refused) as refused:
        away(ilse)
    assert refused.value.code == "has-bookings"
    assert [row["starts_at"] for row in refused.value.data["meetings"]] == [
        "2027-03-09T10:00:00Z",
        "2027-03-09T23:30:00Z",
    ]
    assert (
        "2 meetings stand in the way: 10:00 on Tuesday 9 March 2027 (Dublin), "
        in refused.value.detail
    )
    assert (len(live()), DaysAway.objects.count()) == (3, 0)


def test_the_day_after_a_meeting_that_runs_past_midnight_is_not_free_either(ilse):
    """The class of Tuesday 23:30 ends on Wednesday at 00:20, so Wednesday is not a day away until
    it is called off.
    """
    with pytest.raises(Refused) as refused:
        away(ilse, date(2027, 3, 10), date(2027, 3, 10))
    assert [row["starts_at"] for row in refused.value.data["meetings"]] == ["2027-03-09T23:30:00Z"]


def test_days_away_that_call_off_take_all_of_that_day_and_nothing_else(ilse):
    """One step: the day's meetings are called off, who was in them or waited is told why once,
    Thursday's lesson stays.
    """
    went = away(ilse, call_off_why=WHY)
    assert [meeting.starts_at for meeting in went.called_off] == [
        at("2027-03-09T10:00Z"),
        at("2027-03-09T23:30Z"),
    ]
    assert (live(), went.left_outside) == ([at("2027-03-11T10:00Z")], [])
    assert {meeting.called_off_why for meeting in went.called_off} == {WHY}
    told = list(
        OutboxMessage.objects.exclude(recipient=ilse.user)
        .order_by("recipient__name")
        .values_list("recipient__name", flat=True)
    )
    assert told == ["Marlo Vance", "Noor Ashgrove", "Otto Reed"]


def test_a_dismissal_over_meetings_is_refused_with_what_stands_in_the_way(ilse):
    """All three meetings ahead are listed; they teach on."""
    with pytest.raises(Refused) as refused:
        dismissed(ilse)
    assert (refused.value.code, len(refused.value.data["meetings"])) == ("has-bookings", 3)
    ilse.refresh_from_db()
    assert ilse.is_active


def test_a_dismissal_that_calls_off_leaves_nothing_ahead(ilse):
    """Meetings are called off, the weekly place ends, the act is on record; what has been taught
    stays as it was.
    """
    place = weekly_place(ilse, cast.make_student("Lio Hart"))
    past = cast.make_meeting(Meeting.objects.earliest("pk").offering, ilse, NOW - timedelta(days=7))
    gone = dismissed(ilse, call_off_why="They move on.")
    assert (len(gone.called_off), live()) == (4, [past.starts_at])
    ilse.refresh_from_db()
    place.refresh_from_db()
    assert (ilse.is_active, ilse.user.is_active, place.ended_why) == (False, True, "called-off")
    assert AuditRow.objects.get(verb="dismissed").thing_id == ilse.pk


def test_somebody_who_left_is_booked_no_more(ilse):
    """Neither a lesson nor a group meeting is made with them, and they are not dismissed twice."""
    dismissed(ilse, call_off_why="They move on.")
    lesson, noor = ilse.offerings.get(kind=Kind.CONSULTATION), cast.make_student("Ada Finch")
    start, group = at("2027-03-16T10:00Z"), ilse.offerings.get(kind=Kind.GROUP_MEETING)
    acts = {
        "not-taught": lambda: book_slot(
            actor=noor.user,
            student=noor,
            offering=lesson,
            instructor=ilse,
            starts_at=start,
            now=NOW,
        ),
        "already-ended": lambda: dismiss_instructor(actor=ilse.user, instructor=ilse, now=NOW),
    }
    for code, act in acts.items():
        with pytest.raises(Refused) as refused:
            write(act, now=NOW)
        assert refused.value.code == code
    with pytest.raises(Refused) as refused:
        write(
            lambda: create_meeting(
                actor=noor.user,
                offering=group,
                instructor=ilse,
                starts_at=start,
                title="Scales",
                places=3,
                now=NOW,
            ),
            now=NOW,
        )
    assert refused.value.code == "not-taught"
