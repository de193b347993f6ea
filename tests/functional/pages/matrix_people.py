"""Who is let through to what an admin does for people."""

from bookings.models import PeopleFile
from tests.cast import NOW
from tests.functional.pages.roles import ADMIN
from tests.functional.pages.school import School
from tests.school.people_files import FAMILY, text_of

PEOPLE = {
    route: {ADMIN}
    for route in (
        "people",
        "wording",
        "withdraw-invitation",
        "account",
        "admin-role",
        "close-account",
        "reopen-account",
        "dismiss",
        "teach-again",
        "new-student",
        "student",
        "regular-instructor",
        "student-leaves",
        "student-returns",
        "remove-guardian",
        "bar-guardian",
        "lift-bar",
        "reset-second-factor",
        "account-address",
        "withdraw-address",
        "bring-in",
        "people-sample",
        "people-file",
        "people-faults",
        "find-people",
    )
}


def kept_file(school: School, *rows: dict[str, str]) -> PeopleFile:
    """A file that waits for the admin; the good one of a family without rows."""
    kept = PeopleFile(kept_by=school.dag, kept_at=NOW, encoding="UTF-8")
    kept.text = text_of(*(rows or FAMILY))
    kept.save()
    return kept


def of_files(school: School) -> dict[str, str]:
    """The addresses of a file that waits, by route."""
    page = f"/people/bring-in/{kept_file(school).pk}/"
    return {"people-file": page, "people-faults": f"{page}faults.csv"}


def people_pages(school: School) -> list[str]:
    """Those that a GET shows."""
    good, bad = kept_file(school), kept_file(school, {"Role": "student", "Name": "=1+1"})
    return [
        "/people/bring-in/",
        f"/people/bring-in/{good.pk}/",
        f"/people/bring-in/{bad.pk}/",
        f"/people/accounts/{school.noor.user_id}/",
    ]
