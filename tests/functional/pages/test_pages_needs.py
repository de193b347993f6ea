"""Needs you now and the day of all instructors, as an admin reads them."""

import re
import time
from datetime import date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Instructor
from bookings.models import Booking, Mark, Meeting, MoveRequest, Statement
from bookings.queries.needs import PAGE_OF
from tests.cast import NOW, at, make_booking, make_meeting, taught
from tests.functional.pages.full_school import add_students
from tests.functional.pages.school import School, as_user, text_of
from tests.school.statements import statement_of

pytestmark = pytest.mark.sql

MOST = 12
LONG_AGO = NOW - timedelta(days=800)


def test_each_line_leads_to_the_page_of_the_act(school: School) -> None:
    """By name, with the instant on the admin's clock; the heading leads to all of the kind."""
    asked = MoveRequest.objects.create(
        booking=school.booking, asked_by=school.noor.user, starts_at=NOW, asked_at=NOW
    )
    over = taught(school.ilse, school.marlo, school.consultation, NOW - timedelta(days=2))
    statement = statement_of(school.ilse, school.dag, over.meeting)
    dag = as_user(school.dag)
    text = text_of(dag.get("/needs/"))
    for said in (
        f'href="/move-requests/#request-{asked.pk}"><b>Noor Ashgrove</b></a>: lesson with Ilse'
        " Quarrow, asked on Monday 1 March",
        f'href="/meetings/{over.meeting_id}/"><b>Marlo Vance</b></a>: with Ilse Quarrow, Saturday'
        " 27 February, 09:00",
        f'href="/statements/{statement.pk}/correct/"><b>Ilse Quarrow</b></a>: from 1 January 2026',
        'href="/needs/register/">1 meeting<',
        'href="/move-requests/">1 request<',
        'href="/due-a-review/">',
    ):
        assert said in text, said
    assert f'id="request-{asked.pk}"' in text_of(dag.get("/move-requests/"))
    assert "Saturday 27 February, 09:00" in text_of(dag.get("/needs/register/"))


def test_nothing_is_said_in_a_plain_sentence(school: School) -> None:
    """Once every student has a lesson ahead; the lists of a kind say the same."""
    for student, day in ((school.marlo, 20), (school.posy, 21)):
        meeting = make_meeting(school.group, school.wren, at(f"2027-03-{day}T16:00Z"))
        make_booking(meeting, student)
    dag = as_user(school.dag)
    assert "Nothing needs you now." in text_of(dag.get("/needs/"))
    assert "Nothing of this kind needs you now." in text_of(dag.get("/needs/offer/"))
    for address in ("/needs/review/", "/needs/nothing/"):
        assert dag.get(address).status_code == 404


def test_it_is_where_an_admin_begins(school: School) -> None:
    """First in their navigation; nobody else is led there or let in."""
    dag = text_of(as_user(school.dag).get("/needs/"))
    assert 'href="/needs/" aria-current="page">Needs you now</a><a href="/today/all/"' in dag
    for user in (school.ilse.user, school.noor.user, school.hedda):
        client = as_user(user)
        assert "/needs/" not in text_of(client.get("/meetings/"))
        for address in ("/needs/", "/needs/register/", "/today/all/"):
            assert client.get(address).status_code == 403


def test_a_long_list_has_pages(school: School) -> None:
    """Forty on the first, the rest on the second."""
    for number in range(PAGE_OF + 2):
        begun = NOW - timedelta(days=2, hours=number)
        taught(school.ilse, school.marlo, school.consultation, begun)
    dag = as_user(school.dag)
    first, second = (text_of(dag.get(f"/needs/register/?page={page}")) for page in (1, 2))
    assert (first.count("<b>Marlo Vance"), second.count("<b>Marlo Vance")) == (PAGE_OF, 2)
    assert "Less pressing" in first
    assert "More pressing" in second


def test_the_day_of_all_instructors_shows_who_teaches_whom(school: School) -> None:
    """With the way to the hours that cannot be taught, and to the cover, of meetings ahead."""
    make_booking(
        make_meeting(school.consultation, school.wren, at("2027-03-12T16:00Z")), school.posy
    )
    dag = as_user(school.dag)
    text = text_of(dag.get("/today/all/?on=2027-03-12"))
    assert "Two meetings of two instructors." in text
    assert text.index("Noor Ashgrove") < text.index("Posy Lindqvist-Reed")
    clear = f"/hours/clear/?instructor={school.ilse.pk}&on=2027-03-12"
    assert clear.replace("&", "&amp;") in text
    assert f"/plans/cover/?instructor={school.wren.pk}&amp;on=2027-03-12" in text
    assert 'value="2027-03-12"' in text_of(dag.get(clear))
    assert "Nobody teaches on this day." in text_of(dag.get("/today/all/"))
    past = taught(school.ilse, school.marlo, school.consultation, NOW - timedelta(days=1))
    text = text_of(dag.get("/today/all/?on=2027-02-28"))
    assert f'href="/meetings/{past.meeting_id}/"' in text
    assert "Register not marked" in text
    assert "Clear hours" not in text


@pytest.mark.heavy
def test_the_desk_stays_quick_with_five_thousand_people_and_twenty_thousand_meetings(
    school: School,
) -> None:
    """As many statements as in a small school, at most twelve, and seconds that do not grow with
    all that is stored."""
    client = as_user(school.dag)
    addresses = ("/needs/", "/needs/register/?page=2", "/today/all/?on=2027-03-03")
    few = {address: measured(client, address) for address in addresses}
    stored(school)
    many = {address: measured(client, address) for address in addresses}
    print({address: (few[address], many[address]) for address in addresses})
    for address, (count, seconds) in many.items():
        assert count <= MOST, address
        assert seconds < 20 * few[address][1] + 0.5, (address, seconds, few[address][1])


def measured(client: object, address: str) -> tuple[int, float]:
    """The statements and seconds of a page; the quicker of two."""
    seconds = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as seen:
            begun = time.perf_counter()
            assert client.get(address).status_code == 200  # type: ignore[attr-defined]
            seconds.append(time.perf_counter() - begun)
    asked = [row for row in seen if not re.match("SAVEPOINT|RELEASE|BEGIN", row["sql"])]
    return len(asked), min(seconds)


def stored(school: School, meetings: int = 20_000) -> None:
    """Five thousand students, and lessons of two instructors over two years, which are stated."""
    students, teachers = add_students(5000), [school.ilse, school.wren]
    lessons = Meeting.objects.bulk_create(
        lesson(school, teachers[number % 2], NOW + timedelta(days=-700, minutes=50 * number))
        for number in range(meetings)
    )
    places = Booking.objects.bulk_create(
        Booking(
            meeting=meeting,
            student=students[number % len(students)],
            policy=school.booking.policy,
            standing="HELD",
            starts_at=meeting.starts_at,
            ends_at=meeting.ends_at,
            booked_at=LONG_AGO,
        )
        for number, meeting in enumerate(lessons)
    )
    over = [one for one in places if one.ends_at < NOW]
    Mark.objects.bulk_create(
        Mark(booking=one, attendance="PRESENT", marked_at=one.ends_at)
        for number, one in enumerate(over)
        if number % 40
    )
    for number in range(24):
        Statement.objects.create(
            instructor=teachers[number % 2],
            first_on=date(2026, number // 2 + 1, 1),
            last_on=date(2026, number // 2 + 1, 28),
            issued_at=NOW - timedelta(days=1),
        )
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def lesson(school: School, teacher: Instructor, starts_at: datetime) -> Meeting:
    """One that was made long ago, not stored yet."""
    like = school.booking.meeting
    return Meeting(
        offering=school.consultation,
        instructor=teacher,
        wall_on=starts_at.date(),
        wall_at=starts_at.time(),
        time_zone=like.time_zone,
        minutes=like.minutes,
        tzdata_version=like.tzdata_version,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(minutes=25),
        held_until=starts_at + timedelta(minutes=30),
        made_at=LONG_AGO,
        changed_at=LONG_AGO,
        taken=1,
    )
