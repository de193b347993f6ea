"""My students and Due a review, as their readers see them; the regular instructor on the page."""

import re
import time
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Student
from bookings.models import Assessment, Booking
from bookings.pages.my_students import PAGE_OF
from tests.cast import NOW, make_assessment, make_student, taught
from tests.functional.pages.full_school import add_students
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.sql

MOST = 12


def listed(response: object) -> list[str]:
    """The names on the page, in order."""
    return re.findall(r"<h2>([^<]+?) <span>Level", text_of(response))


def test_a_student_of_two_instructors_is_on_both_lists(school: School) -> None:
    """Each is told of their own lessons with the student, and not of the other's."""
    taught(school.wren, school.noor, school.consultation, NOW - timedelta(days=8))
    ilse, wren = (
        text_of(as_user(one.user).get("/my-students/")) for one in (school.ilse, school.wren)
    )
    assert "Noor Ashgrove" in ilse
    assert "Friday 12 March, 17:30" in ilse
    assert "21 February 2027" not in ilse
    assert "21 February 2027" in wren
    assert "12 March" not in wren


def test_the_page_names_what_an_instructor_wants_to_know(school: School) -> None:
    """Last and next lesson, last note, open obstacle, follow-up date, and the way to the brief."""
    taught(school.ilse, school.noor, school.consultation, NOW - timedelta(days=9))
    make_assessment(
        school.noor,
        school.ilse,
        state="released",
        released_at=NOW,
        obstacle="The fourth finger <b>folds</b>.",
        follow_up_weeks=2,
        follow_up_on=NOW.date() + timedelta(days=14),
    )
    text = text_of(as_user(school.ilse.user).get("/my-students/"))
    for said in (
        "20 February 2027",
        "Friday 12 March, 17:30",
        "1 March 2027, by you",
        "The fourth finger &lt;b&gt;folds&lt;/b&gt;.",
        "15 March 2027",
        f'href="/brief/{school.booking.pk}/"',
        "New York",
    ):
        assert said in text, said
    assert "Due a review." not in text


def test_a_minor_is_known_by_their_first_name(school: School) -> None:
    """To the instructor; an admin reads the whole name and may filter by instructor."""
    school.posy.regular_instructor = school.ilse
    school.posy.save()
    ilse, dag = as_user(school.ilse.user), as_user(school.dag)
    assert listed(ilse.get("/my-students/")) == ["Noor Ashgrove", "Posy"]
    assert "Lindqvist" not in text_of(ilse.get("/my-students/"))
    assert listed(ilse.get("/my-students/", {"q": "lindqvist"})) == []
    everybody = ["Marlo Vance", "Noor Ashgrove", "Posy Lindqvist-Reed"]
    assert listed(dag.get("/my-students/")) == everybody
    assert listed(dag.get("/my-students/", {"instructor": school.ilse.pk})) == everybody[1:]
    assert listed(dag.get("/my-students/", {"q": "hedda"})) == everybody[2:]
    assert listed(dag.get("/my-students/", {"show": "no-lesson"})) == [everybody[0], everybody[2]]
    assert listed(dag.get("/my-students/", {"level": "2"})) == everybody[2:]


def test_a_filter_that_is_none_is_said(school: School) -> None:
    """422 with the field named, and no list; any page number leads to a page."""
    ilse = as_user(school.ilse.user)
    for wrong in ({"level": "11"}, {"show": "x"}, {"q": "x" * 81}):
        assert ilse.get("/my-students/", wrong).status_code == 422
    for page in ("0", "-1", "x", "99999"):
        assert ilse.get("/my-students/", {"page": page}).status_code == 200
    for words in ("\u202eنور", "🎵" * 20, "%_\\"):
        assert listed(ilse.get("/my-students/", {"q": words})) == []


def test_due_a_review_says_why_the_most_pressing_first(school: School) -> None:
    """A follow-up date past, then who was not seen for weeks; whoever is booked is not due."""
    for number, name in enumerate(("Ada Birk", "Bea Birk", "Cy Birk")):
        at = NOW - timedelta(weeks=8, hours=number)
        taught(school.ilse, make_student(name), school.consultation, at)
    cy = Student.objects.get(user__name="Cy Birk")
    make_assessment(
        cy,
        school.ilse,
        state="released",
        released_at=NOW - timedelta(weeks=7),
        follow_up_weeks=6,
        follow_up_on=NOW.date() - timedelta(days=3),
    )
    response = as_user(school.ilse.user).get("/due-a-review/")
    assert listed(response) == ["Cy Birk", "Ada Birk", "Bea Birk"]
    text = text_of(response)
    assert "The follow-up date was 3 days ago. Not seen for 8 weeks." in text


def test_the_regular_instructor_is_named_on_the_student_s_page(school: School) -> None:
    """Who taught most is said beside the choice; dismissing them says whom they leave."""
    taught(school.wren, school.noor, school.consultation, NOW - timedelta(days=8))
    dag, page = as_user(school.dag), f"/people/students/{school.noor.pk}/"
    assert "Wren Halloway taught Noor most in the last 90 days: 1 lesson." in text_of(dag.get(page))
    address = page + "regular-instructor/"
    dag.post(address, {"regular_instructor": school.wren.pk})
    school.noor.refresh_from_db()
    assert school.noor.regular_instructor == school.wren
    preview = text_of(dag.get(f"/people/accounts/{school.wren.user_id}/dismiss/"))
    assert "Noor Ashgrove will have no regular instructor." in preview
    assert dag.post(address, {"regular_instructor": "999"}).status_code == 422
    dag.post(address, {"regular_instructor": ""})
    school.noor.refresh_from_db()
    assert school.noor.regular_instructor is None


def test_two_tabs_that_name_a_regular_instructor_do_not_overwrite_each_other(
    school: School,
) -> None:
    """The second is told who it is now, and nothing changes; sent again from there it is saved."""
    dag, page = as_user(school.dag), f"/people/students/{school.noor.pk}/"
    address, shown = page + "regular-instructor/", text_of(dag.get(page))
    assert '<input type="hidden" name="seen" value="">' in shown
    assert dag.post(address, {"regular_instructor": school.wren.pk, "seen": ""}).status_code == 302
    late = dag.post(address, {"regular_instructor": school.ilse.pk, "seen": ""})
    assert late.status_code == 412
    assert "now it is Wren Halloway. Check, then choose again." in text_of(late)
    school.noor.refresh_from_db()
    assert school.noor.regular_instructor == school.wren
    assert f'name="seen" value="{school.wren.pk}"' in text_of(late)
    again = {"regular_instructor": school.ilse.pk, "seen": school.wren.pk}
    assert dag.post(address, again).status_code == 302


def test_the_first_lesson_offered_follows_the_regular_instructor(school: School) -> None:
    """The reason says so to whoever looks for times."""
    school.noor.regular_instructor = school.ilse
    school.noor.save()
    text = text_of(as_user(school.noor.user).get("/times/"))
    assert "With the regular instructor." in text
    assert "latest assessment." not in text


def test_the_lists_stay_quick_with_five_thousand_students(school: School) -> None:
    """As many statements as with forty-five, at most twelve, for an instructor with all of them
    and for an admin; a hundred times as many students take far less than a hundred times as long.
    """
    students = add_students(5000)
    lessons_and_notes(school, students)
    known = Student.objects.filter(pk__in=[one.pk for one in students])
    known.update(regular_instructor=school.ilse)
    known.filter(pk__gt=students[45].pk).update(is_active=False)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    few = measured(school)
    known.update(is_active=True)
    many = measured(school)
    print({where: (few[where], many[where]) for where in few})
    for where, (count, seconds) in many.items():
        assert count == few[where][0] <= MOST, where
        assert seconds < 20 * few[where][1] + 0.5, (where, seconds, few[where][1])
    ilse = as_user(school.ilse.user)
    first, late = ilse.get("/my-students/"), ilse.get("/due-a-review/", {"page": "100"})
    assert (len(listed(first)), len(listed(late))) == (PAGE_OF, PAGE_OF)


def measured(school: School) -> dict[str, tuple[int, float]]:
    """The statements and seconds of each list, by reader and address; the quicker of two."""
    found = {}
    for who in (school.ilse.user, school.dag):
        client = as_user(who)
        for address in ("/my-students/", "/due-a-review/", "/my-students/?q=al&show=no-lesson"):
            seconds = []
            for _ in range(2):
                with CaptureQueriesContext(connection) as seen:
                    begun = time.perf_counter()
                    assert client.get(address).status_code == 200
                    seconds.append(time.perf_counter() - begun)
            asked = [row for row in seen if not re.match("SAVEPOINT|RELEASE|BEGIN", row["sql"])]
            found[f"{who.name} {address}"] = len(asked), min(seconds)
    return found


def lessons_and_notes(school: School, students: list[Student]) -> None:
    """Each of them was in a group of Ilse's two months ago, and has a note by Ilse."""
    then = NOW - timedelta(days=60)
    past = taught(school.ilse, school.marlo, school.group, then)
    Booking.objects.bulk_create(
        Booking(
            meeting=past.meeting,
            student=student,
            policy=past.policy,
            standing="HELD",
            booked_at=then,
            starts_at=past.starts_at,
            ends_at=past.ends_at,
        )
        for student in students
    )
    Assessment.objects.bulk_create(
        Assessment(
            student=student,
            author=school.ilse,
            state="released",
            released_at=then,
            heard_on=then.date(),
            written_at=then,
            level=4,
            unit=1,
            obstacle="The thumb",
        )
        for student in students
    )
