"""An ill day over HTTP: every meeting decided, every email read before, one email a family."""

from datetime import timedelta
from html import escape

import pytest

from bookings.domain.vocabulary import Kind
from bookings.models import Booking, DaysAway, Meeting, OutboxMessage, OwedLesson
from tests import cast
from tests.cast import NOW, make_booking, make_meeting
from tests.functional.pages.clearing import ADDRESS, confirmed, form_of, looked_at
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import as_user, text_of
from tests.school.covering import DAY, CoveringSchool

pytestmark = pytest.mark.django_db
ILL_DAY = {"first_on": "2027-03-12"}
SEVEN = DAY + timedelta(hours=7)


@pytest.fixture
def ill(hands: Hands) -> CoveringSchool:
    """Friday 12 March, 07:00 in Dublin: Noor has a lesson with Ilse at 10:00 and one at 13:00,
    Hedda's Posy one at 14:00 and Kit one at 11:00.
    """
    school = CoveringSchool()
    for student, hours in (
        (school.noor, 10),
        (school.kit, 11),
        (school.noor, 13),
        (school.posy, 14),
    ):
        school.book(student, hours)
    OutboxMessage.objects.all().delete()
    hands.at = SEVEN
    return school


def readable(reader) -> list[OutboxMessage]:
    """The emails of this day that a person reads: not those that only bring a calendar up to date,
    and no reminders.
    """
    rows = OutboxMessage.objects.filter(recipient=reader, made_at=SEVEN)
    rows = rows.exclude(title__startswith="For your calendar").exclude(kind__startswith="reminder")
    return list(rows)


def test_an_ill_day_called_off_at_seven(ill: CoveringSchool) -> None:
    """Source: TRADE.md 8 (21): each family gets one message, each lesson is owed, nobody is
    charged, Wren is proposed as substitute and each may refuse. Use-by of 90 days: TRADE.md 1.8.
    """
    client = as_user(ill.ilse.user)
    page, form = looked_at(client, **ILL_DAY)
    assert page.count("Substitute: Wren Halloway") == 2
    assert not OutboxMessage.objects.exists()
    assert confirmed(client, form).status_code == 302
    for reader in (ill.noor.user, ill.hedda):
        (told,) = readable(reader)
        assert "Wren Halloway teaches" in told.body
        assert "You will not be charged, and this does not count as a missed lesson." in told.body
        assert "You are owed this lesson; book it by 10 June 2027 under My lessons." in told.body
        assert told.body.count("/decline/") == 1
        bare = OutboxMessage.objects.filter(recipient=reader, title__startswith="For your calendar")
        assert sorted(row.method for row in bare) == ["CANCEL", "REQUEST"]
        assert all(row.calendar.count("BEGIN:VEVENT") == 1 for row in bare)
    assert set(Booking.objects.values_list("standing", "ended_why")) == {
        ("HELD", ""),
        ("ENDED", "called-off"),
    }
    assert OwedLesson.objects.still_owed().count() == 2
    covered = Booking.objects.get(student=ill.noor, standing="HELD")
    family = as_user(ill.noor.user)
    assert family.post(f"/my-lessons/{covered.pk}/decline/").status_code == 302
    covered.refresh_from_db()
    assert covered.ended_why == "declined"


def test_the_emails_shown_are_those_that_leave(ill: CoveringSchool) -> None:
    """An admin reads every word, and who gets it."""
    client = as_user(ill.admin)
    page, form = looked_at(client, instructor=ill.ilse.pk, **ILL_DAY)
    assert f"{ill.hedda.name}, for {ill.kit.full_name}" in page
    confirmed(client, form)
    for reader in (ill.noor.user, ill.hedda, ill.ilse.user):
        (told,) = (email for email in readable(reader) if not email.method)
        assert escape(told.body) in page


def test_an_instructor_reads_no_guardian_by_name(ill: CoveringSchool) -> None:
    """Neither above the email nor in its greeting."""
    page, _ = looked_at(as_user(ill.ilse.user), **ILL_DAY)
    assert "a guardian of Kit; a guardian of Posy" in page
    assert ill.hedda.name not in page


def test_what_was_changed_since_the_preview_is_shown_before_it_is_done(
    ill: CoveringSchool,
) -> None:
    """Another choice or another reason, and then the same press again."""
    client = as_user(ill.ilse.user)
    _, form = looked_at(client, **ILL_DAY)
    lesson = Booking.objects.get(student=ill.posy)
    for change in ({f"do-{lesson.meeting_id}": "move"}, {"why": "Ilse travels."}):
        shown = confirmed(client, form, **change)
        assert "You have changed what happens" in text_of(shown)
        form = form_of(text_of(shown))
    assert not OutboxMessage.objects.exists()
    assert confirmed(client, form).status_code == 302
    lesson.refresh_from_db()
    assert lesson.starts_at >= DAY + timedelta(days=1)
    off = Meeting.objects.filter(status="CANCELLED")
    assert set(off.values_list("called_off_why", flat=True)) == {"Ilse travels."}


def test_what_was_booked_since_it_was_shown_is_stale(ill: CoveringSchool, hands: Hands) -> None:
    """The page shows it and keeps the rest."""
    client = as_user(ill.ilse.user)
    _, form = looked_at(client, **ILL_DAY)
    late = make_meeting(ill.offering, ill.ilse, DAY + timedelta(hours=16))
    make_booking(late, cast.make_student("Marlo Vance"))
    refused = confirmed(client, form)
    assert refused.status_code == 412
    assert "Marlo Vance" in text_of(refused)
    assert not Meeting.objects.filter(status="CANCELLED").exists()
    assert confirmed(client, form_of(text_of(refused))).status_code == 302


def test_sent_twice_the_second_is_stale_and_tells_nobody(ill: CoveringSchool) -> None:
    """Called off twice: nothing is left to call off."""
    client = as_user(ill.ilse.user)
    _, form = looked_at(client, **ILL_DAY)
    confirmed(client, form)
    count = OutboxMessage.objects.count()
    again = confirmed(client, form)
    assert again.status_code == 412
    assert "Nothing is booked in these hours." in text_of(again)
    assert OutboxMessage.objects.count() == count


def test_whole_days_become_days_away_and_hours_are_closed(ill: CoveringSchool) -> None:
    """Of the morning only the lessons at 10:00 and 11:00 are shown."""
    client = as_user(ill.ilse.user)
    page, form = looked_at(client, **ILL_DAY, from_at="09:00", to_at="12:00")
    assert page.count('class="lesson"') == 2
    confirmed(client, form)
    assert Booking.objects.filter(standing="HELD").count() == 2
    _, form = looked_at(client, **ILL_DAY)
    confirmed(client, form)
    hours, days = DaysAway.objects.order_by("pk")
    assert (hours.from_minute, hours.to_minute, days.is_whole_days) == (540, 720, True)
    assert days.called_off_at is None  # the other two have a substitute


def test_cleared_hours_are_listed_and_opened_again(ill: CoveringSchool) -> None:
    """Also where nothing is booked. The page of the hours says them, and asks before it opens
    them.
    """
    client = as_user(ill.ilse.user)
    page, form = looked_at(client, **ILL_DAY, from_at="17:00", to_at="19:30")
    assert "Nothing new is offered in these hours." in page
    assert "Clear these hours" in page
    assert "Hours cleared." in text_of(client.post(ADDRESS, {**form, "done": "yes"}, follow=True))
    away = DaysAway.objects.get()
    assert "<span>12 March 2027, 17:00 to 19:30</span>" in text_of(client.get("/hours/"))
    address = f"/hours/away/{away.pk}/remove/"
    assert "Open the hours of 12 March 2027, 17:00 to 19:30 again?" in text_of(client.get(address))
    assert "Opened again." in text_of(client.post(address, follow=True))
    assert not DaysAway.objects.exists()


@pytest.mark.parametrize(
    ("sent", "status", "said"),
    [
        ({}, 422, "First day"),
        ({"first_on": "2027-03-12", "last_on": "2027-03-11"}, 422, "an end after the start"),
        ({"first_on": "2027-03-12", "from_at": "15:00", "to_at": "14:00"}, 422, "an end after"),
        ({"first_on": "2027-03-28", "from_at": "01:30"}, 422, "01:30"),
        ({"first_on": "2027-03-11"}, 409, "These hours are over."),
        ({"first_on": "2027-03-12", "last_on": "2027-06-12"}, 422, "at most 62 days"),
        ({"first_on": "2027-03-12", "from_at": "20:00"}, 200, "Nothing is booked"),
    ],
)
def test_hours_that_cannot_be_cleared_say_why(
    ill: CoveringSchool, sent: dict[str, str], status: int, said: str
) -> None:
    """No day, an end before the start, a time that the clocks skip, hours that are over, too many
    days; and hours in which nothing is booked.
    """
    response = as_user(ill.ilse.user).post(ADDRESS, sent)
    assert response.status_code == status
    assert said in text_of(response)


def test_a_lesson_that_has_begun_stays_and_is_named(ill: CoveringSchool, hands: Hands) -> None:
    """At 10:10 the lesson of 10:00 is for the register."""
    hands.at = DAY + timedelta(hours=10, minutes=10)
    client = as_user(ill.ilse.user)
    page, form = looked_at(client, **ILL_DAY)
    assert "has begun and stays" in page
    confirmed(client, form)
    assert Booking.objects.get(student=ill.noor, starts_at__lt=hands.at).standing == "HELD"


def test_a_lesson_nobody_can_cover_says_why(ill: CoveringSchool) -> None:
    """Wren teaches from noon on, so the lesson at 10:00 cannot be theirs."""
    page, _ = looked_at(as_user(ill.ilse.user), **ILL_DAY)
    assert page.count("No substitute: Nobody else is free for it within their hours and load.") == 2


def test_lessons_left_to_be_proposed_lead_to_the_pages_that_propose(ill: CoveringSchool) -> None:
    """One link for each lesson whose family was told so."""
    client = as_user(ill.ilse.user)
    _, form = looked_at(client, **ILL_DAY)
    lesson = Booking.objects.get(student=ill.kit)
    shown = text_of(client.post(ADDRESS, {**form, f"do-{lesson.meeting_id}": "propose"}))
    done = confirmed(client, form_of(shown))
    page = text_of(client.get(done.url))
    assert page.count("Propose times<") == 1
    assert f"/students/{ill.kit.pk}/propose/" in page
    assert "Ilse Quarrow will propose other times." in readable(ill.hedda)[0].body


def test_a_group_has_one_choice(ill: CoveringSchool) -> None:
    """It can only be called off here."""
    group = cast.make_offering("Studio class", Kind.GROUP_MEETING, 60)
    meeting = make_meeting(group, ill.ilse, DAY + timedelta(hours=18), places=3)
    page, _ = looked_at(as_user(ill.ilse.user), **ILL_DAY)
    assert page.count(f'name="do-{meeting.pk}"') == 1


def test_nobody_clears_the_hours_of_another_instructor(ill: CoveringSchool) -> None:
    """Wren names Ilse; a student names nobody."""
    sent = {**ILL_DAY, "instructor": ill.ilse.pk}
    assert as_user(ill.wren.user).post(ADDRESS, sent).status_code in (403, 404)
    assert as_user(ill.noor.user).post(ADDRESS, ILL_DAY).status_code == 403


def test_a_form_that_nobody_was_shown_is_shown_before_it_is_done(ill: CoveringSchool) -> None:
    """Choices with ids and starts that nobody has read, or that cannot be."""
    lesson = Booking.objects.get(student=ill.posy).meeting_id
    client = as_user(ill.ilse.user)
    for more in (
        {f"do-{lesson}": "cover", f"to-{lesson}": "999999"},
        {f"do-{lesson}": "move", f"at-{lesson}": "never"},
        {"do-x": "cover", f"do-{lesson}": "forget", "shown": "x", "seen": "y"},
    ):
        assert confirmed(client, ILL_DAY, **more).status_code == 200
    assert not OutboxMessage.objects.filter(made_at__gt=NOW).exists()
