"""What Times that suit says of fit, and the page that answers why a time is not offered."""

import re

from tests.cast import at, make_assessment, make_booking, make_meeting, make_offering
from tests.functional.pages.school import School, as_user, text_of

WEEK = "/times/?since=2027-03-12&instructor={}"
WHY = "/times/why/?offering={}&instructor={}&on={}"


def words_of(page: str) -> str:
    """The page without its marks, in single spaces."""
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def stems(path: str) -> list[str]:
    """How far each stem of a ribbon rises."""
    return re.findall(r"V(\d+)", path)


def ask_why(school: School, on: str, user: object = None) -> str:
    """The words of the page for that day with Ilse, read by Noor unless said."""
    address = WHY.format(school.consultation.pk, school.ilse.pk, on)
    return words_of(text_of(as_user(user or school.noor.user).get(address)))


def test_three_that_suit_best_come_first_with_their_reasons(school: School) -> None:
    """The aside names three starts of the week on both clocks, each a link to its booking; what
    tells each from the others stands with it, what all share is said once.
    """
    make_assessment(school.noor, school.ilse, state="released", released_at=at("2027-02-20T10:00Z"))
    page = text_of(as_user(school.noor.user).get(WEEK.format(school.ilse.pk)))
    aside = page.split('aria-labelledby="best"')[1].split("</aside>")[0]
    assert "Three that suit best" in aside
    assert len(re.findall(r'href="/times/book/\?', aside)) == 3
    assert aside.count("With the instructor of the latest assessment.") == 1
    assert "The soonest of the three." in aside
    assert "All three: An easy hour of the day." in aside
    assert aside.count(" Dublin") == 3


def test_stems_are_as_high_as_the_fit(school: School) -> None:
    """Every start has its stem, heights differ, three at most carry a head, and the list says the
    same in words.
    """
    page = text_of(as_user(school.noor.user).get(WEEK.format(school.ilse.pk)))
    heights = {
        y for path in re.findall(r'<path class="stem" d="([^"]+)"', page) for y in stems(path)
    }
    assert len(heights) > 1
    assert 1 <= page.count('<circle class="head"') <= 3
    monday = page.split('id="d2027-03-15"')[1].split("</section>")[0]
    starts = len(re.findall(r"</time></a>", monday))
    drawn = re.findall(r'<path class="stem" d="([^"]+)"', monday)
    assert starts == len(stems(drawn[0])) == len(re.findall(r"fit \d+ of 100", monday))
    assert "At night." not in monday


def test_an_empty_day_leads_to_its_reasons(school: School) -> None:
    """Under "Nothing free" stands a link that answers for the day, the offering, the instructor and
    the student.
    """
    page = text_of(as_user(school.noor.user).get(WEEK.format(school.ilse.pk)))
    saturday = page.split('id="d2027-03-13"')[1].split("</section>")[0]
    address = re.findall(r'href="(/times/why/[^"]+)"', saturday)[0].replace("&amp;", "&")
    answer = words_of(text_of(as_user(school.noor.user).get(address)))
    assert "Why not on Saturday 13 March?" in answer
    assert "00:00 to 00:00 05:00–05:00 Dublin Ilse Quarrow does not teach then" in answer


def test_a_day_is_told_in_stretches_on_both_clocks(school: School) -> None:
    """Friday: no teaching, then a start to be had, then Noor's own consultation, and what is too
    soon on the day itself.
    """
    friday = ask_why(school, "2027-03-12")
    assert "00:00 to 10:30 05:00–15:30 Dublin Ilse Quarrow does not teach then" in friday
    assert "You can book a start here." in friday
    assert "You have a lesson or meeting then." in friday
    today = ask_why(school, "2027-03-01")
    assert "It has passed." in today
    assert "Book at least 12 hours ahead" in today


def test_a_student_is_not_told_what_the_instructor_does(school: School) -> None:
    """Marlo's lesson and a long run of others read "Not free." to Noor: no name, kind, length or
    number.
    """
    long = make_offering("Long lesson", "private-lesson", 60)
    make_booking(make_meeting(long, school.ilse, at("2027-03-15T16:00Z")), school.marlo)
    make_meeting(long, school.ilse, at("2027-03-15T17:05Z"))
    monday = ask_why(school, "2027-03-15")
    assert "Not free." in monday
    for secret in ("Marlo", "Long lesson", "120", "in a row", "rests"):
        assert secret not in monday


def test_a_guardian_reads_the_childs_clock_and_hours(school: School) -> None:
    """For Posy the night between 21:00 and 08:00 is a reason of its own, on their clock."""
    page = ask_why(school, "2027-03-16", school.hedda)
    assert "Too early or too late for a student under 18: 08:00 to 21:00 in Posy’s day." in page


def test_an_address_that_makes_no_sense_is_answered(school: School) -> None:
    """No day, a day beyond all calendars, an offering that is none: a page that says where to go,
    never a fault.
    """
    noor = as_user(school.noor.user)
    good = WHY.format(school.consultation.pk, school.ilse.pk, "2027-03-12")
    for address, status in (
        (good.replace("2027-03-12", "someday"), 400),
        (good.replace("2027-03-12", "9999-12-31"), 404),
        (good.replace(f"offering={school.consultation.pk}", f"offering={school.group.pk}"), 404),
        (good.replace(f"instructor={school.ilse.pk}", "instructor=99999"), 404),
        ("/times/why/", 404),
    ):
        assert noor.get(address).status_code == status, address
    assert as_user(None).get(good).status_code == 302


def test_an_admin_reads_what_a_start_costs_and_a_family_does_not(school: School) -> None:
    """The page is the same but for the sentence on the instructor's day."""
    address = f"{WEEK.format(school.ilse.pk)}&student={school.noor.pk}"
    assert "Costs no lesson that day." in text_of(as_user(school.dag).get(address))
    assert "lesson that day" not in text_of(as_user(school.noor.user).get(address))
