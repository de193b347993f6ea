"""Why not at another time: stretches with one reason each, told once."""

import re
from itertools import pairwise

from tests.cast import at, make_booking, make_meeting
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of

WHY = "/times/why/?offering={}&instructor={}&on={}"


def rows(school: School, on: str, user: object = None) -> list[tuple[str, str, str]]:
    """(from, to, what is said) of each stretch of a day with Ilse, on Noor's clock unless said."""
    address = WHY.format(school.consultation.pk, school.ilse.pk, on)
    page = text_of(as_user(user or school.noor.user).get(address))  # type: ignore[arg-type]
    found = []
    for row in re.findall(r"<div>\s*<dt>(.*?)</dd>\s*</div>", page, re.DOTALL):
        since, until = re.findall(r">(\d\d:\d\d)</time>", row)
        said = " ".join(re.sub(r"<[^>]+>", " ", row.split("</dt>")[1]).split())
        found.append((since, until, said))
    return found


def test_it_has_passed_is_said_of_the_past_only(school: School) -> None:
    """At 04:00 in New York what lies before has passed; from then on it is too soon, and nothing
    else is said of it.
    """
    today = rows(school, "2027-03-01")
    assert today[0] == ("00:00", "04:00", "It has passed.")
    assert today[1][:2] == ("04:00", "16:00")
    assert today[1][2].startswith("Book at least 12 hours ahead")
    assert all("has passed" not in said for _, _, said in today[1:])


def test_rows_of_one_reason_are_one_stretch(school: School) -> None:
    """Beside each other no two rows say the same: two lessons of Noor's in a row are one meeting to
    the reader.
    """
    for minute in ("17:55", "18:25"):
        make_booking(
            make_meeting(school.consultation, school.wren, at(f"2027-03-12T{minute}Z")), school.noor
        )
    for on in ("2027-03-01", "2027-03-12", "2027-03-13", "2027-06-01"):
        said = [words for _, _, words in rows(school, on)]
        assert all(one != other for one, other in pairwise(said)), on


def test_starts_to_be_had_are_one_stretch(school: School) -> None:
    """Every half hour from 10:30 on can be booked: the quarters between are no refusals of their
    own.
    """
    assert [row[:2] for row in rows(school, "2027-03-12") if "You can book" in row[2]] == [
        ("10:30", "12:15"),
        ("13:00", "14:15"),
    ]


def test_a_day_without_teaching_is_one_stretch(school: School) -> None:
    """Noor's own lesson on a Saturday on which Ilse does not teach adds nothing."""
    make_booking(
        make_meeting(school.consultation, school.wren, at("2027-03-13T17:00Z")), school.noor
    )
    saturday = rows(school, "2027-03-13")
    assert len(saturday) == 1
    assert saturday[0][2].startswith("Ilse Quarrow does not teach then")


def test_a_day_beyond_the_horizon_is_one_stretch(school: School, hands: Hands) -> None:
    """What cannot be booked yet is too far, whoever teaches."""
    far = rows(school, "2027-06-04")
    assert len(far) == 1
    assert far[0][2].startswith("Book at most 60 days ahead")


def test_only_refusals_are_marked_as_such(school: School) -> None:
    """A start to be had, the clocks and the headings have no class in common with errors."""
    address = WHY.format(school.consultation.pk, school.ilse.pk, "2027-03-12")
    page = text_of(as_user(school.noor.user).get(address)).split("<main")[1]
    assert 'class="why"' not in page
    for row in re.findall(r"<dd.*?</dd>", page):
        assert ("You can book a start here" in row) == ('class="refused"' not in row)
