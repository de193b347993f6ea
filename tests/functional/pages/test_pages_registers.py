"""The register in seconds, its corrections, and the roster on paper and as a CSV file."""

import csv
import io

import pytest

from bookings.models import Booking, Mark, Meeting
from tests.cast import make_student
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.wrapping_up_group import just_over, place_of

pytestmark = pytest.mark.sql


@pytest.fixture
def over(school: School, hands: Hands) -> Meeting:
    """Ilse's group with Noor, Marlo and Posy, a minor, over for half an hour."""
    return just_over(school, hands)


def register(meeting: Meeting) -> str:
    return f"/meetings/{meeting.pk}/register/"


def marks() -> dict[str, str]:
    return {mark.booking.student.first_name: mark.attendance for mark in Mark.objects.all()}


def test_all_present_from_today(school: School, over: Meeting) -> None:
    """One press on the day's page marks everybody, and leads back to the day."""
    ilse = as_user(school.ilse.user)
    day = f"/today/?on={over.starts_at:%Y-%m-%d}"
    page = text_of(ilse.get(day))
    assert f'action="{register(over)}"' in page
    sent = {"then": "others-present", "version": over.version, "on": f"{over.starts_at:%Y-%m-%d}"}
    reply = ilse.post(register(over), sent)
    assert (reply.status_code, reply["Location"]) == (302, day)
    assert marks() == {"Noor": "PRESENT", "Marlo": "PRESENT", "Posy": "PRESENT"}
    assert f'action="{register(over)}"' not in text_of(ilse.get(day))


def test_all_others_present_keeps_the_exceptions(school: School, over: Meeting) -> None:
    """What the form says of one is kept; everybody else is present."""
    late = f"mark-{place_of(over, 'Marlo')}"
    shown = {f"mark-{place_of(over, who)}": "" for who in ("Noor", "Posy")}
    as_user(school.ilse.user).post(
        register(over), {**shown, late: "LATE", "then": "others-present"}
    )
    assert marks() == {"Noor": "PRESENT", "Marlo": "LATE", "Posy": "PRESENT"}


def test_an_instructor_who_could_not_teach_marks_the_whole_meeting(
    school: School, over: Meeting
) -> None:
    """One press for everybody whom the form shows, whatever it says of them."""
    shown = {f"mark-{booking.pk}": "PRESENT" for booking in Booking.objects.filter(meeting=over)}
    page = text_of(as_user(school.ilse.user).get(f"/meetings/{over.pk}/"))
    assert "I could not teach" in page
    as_user(school.ilse.user).post(register(over), {**shown, "then": "instructor-absent"})
    assert set(marks().values()) == {"INSTRUCTOR_ABSENT"}


def test_a_register_that_has_changed_meanwhile_is_not_overwritten(
    school: School, over: Meeting
) -> None:
    """The press on Today is bound to the meeting that it showed."""
    ilse = as_user(school.ilse.user)
    ilse.post(register(over), {f"mark-{place_of(over, 'Noor')}": "LATE", "version": over.version})
    reply = ilse.post(register(over), {"then": "others-present", "version": over.version})
    assert reply.status_code == 412
    assert marks() == {"Noor": "LATE"}


def test_a_correction_is_shown_beside_the_first_entry(school: School, over: Meeting) -> None:
    """Who corrected it, when, and what the first entry was; one in between as well."""
    name = f"mark-{place_of(over, 'Noor')}"
    as_user(school.dag).post(register(over), {name: "ABSENT_WITH_NOTICE"})
    ilse = as_user(school.ilse.user)
    assert "corrected by" not in text_of(ilse.get(f"/meetings/{over.pk}/"))
    ilse.post(register(over), {name: "PRESENT"})
    page = text_of(ilse.get(f"/meetings/{over.pk}/"))
    assert (
        "Present, corrected by Ilse Quarrow on Monday 1 March, 14:30; first entry: absent, with "
        "notice, by Dag Emberley on Monday 1 March, 14:30." in page
    )
    ilse.post(register(over), {name: "LATE"})
    page = text_of(ilse.get(f"/meetings/{over.pk}/sheet/"))
    assert "Late, corrected by Ilse Quarrow" in page
    assert "In between: present, by Ilse Quarrow on Monday 1 March, 14:30." in page


@pytest.mark.parametrize("path", ["sheet/", "roster.csv"])
def test_paper_and_file_have_first_names_where_a_minor_is(
    school: School, over: Meeting, path: str
) -> None:
    """For admins as well: both leave the screen. Without the minor they have whole names."""
    address = f"/meetings/{over.pk}/{path}"
    shown = as_user(school.dag).get(address).content.decode()
    assert "Noor" in shown
    assert "Posy" in shown
    assert "Ashgrove" not in shown
    assert "Lindqvist" not in shown
    Booking.objects.filter(meeting=over, student=school.posy).update(
        standing="ENDED", ended_at=over.starts_at, ended_why="removed"
    )
    assert "Noor Ashgrove" in as_user(school.dag).get(address).content.decode()


def test_the_file_says_the_register_line_by_line(school: School, over: Meeting) -> None:
    """UTF-8 with a mark that says so, CRLF (RFC 4180), no person in the name of the file."""
    name = f"mark-{place_of(over, 'Noor')}"
    ilse = as_user(school.ilse.user)
    ilse.post(register(over), {name: "ABSENT_WITHOUT_NOTICE"})
    ilse.post(register(over), {name: "LATE"})
    reply = ilse.get(f"/meetings/{over.pk}/roster.csv")
    assert reply["Content-Type"] == "text/csv; charset=utf-8"
    named = f'attachment; filename="roster-2027-03-01-{over.pk}.csv"'
    assert reply["Content-Disposition"] == named
    assert reply.content.startswith(b"\xef\xbb\xbfDate,")
    assert b"\r\n" in reply.content
    text = reply.content.decode("utf-8-sig")
    noor, marlo, _ = csv.DictReader(io.StringIO(text, newline=""))
    assert (noor["Student"], noor["Level"], noor["Place"]) == ("Noor", "4", "player")
    assert (noor["Attendance"], noor["First entry"]) == ("late", "absent, without notice")
    assert (noor["Entered by"], noor["Entered at"]) == ("Ilse Quarrow", "2027-03-01 14:30")
    assert (noor["Date"], noor["Starts"], noor["Time zone"]) == (
        "2027-03-01",
        "13:00",
        "Europe/Dublin",
    )
    assert (marlo["Attendance"], marlo["First entered at"]) == ("", "")


def test_a_name_that_begins_like_a_formula_is_only_text_in_the_file(
    school: School, over: Meeting
) -> None:
    """Source: OWASP, "CSV Injection", a published guide, from memory."""
    Booking.objects.filter(meeting=over, student=school.marlo).update(
        student=make_student("=1+2 Vance")
    )
    over.title = "@home"
    over.save()
    text = as_user(school.dag).get(f"/meetings/{over.pk}/roster.csv").content.decode("utf-8-sig")
    row = list(csv.DictReader(io.StringIO(text, newline="")))[1]
    assert (row["Student"], row["Meeting"]) == ("'=1+2", "'@home")


def test_the_sheet_of_a_meeting_that_is_called_off_names_nobody(school: School) -> None:
    """Nobody is in it any more."""
    off = school.called_off()
    page = text_of(as_user(school.ilse.user).get(f"/meetings/{off.pk}/sheet/"))
    assert "Nobody: it has been called off." in page
