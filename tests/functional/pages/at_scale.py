"""The pages of a large school, and who reads them."""

from typing import Any

from accounts.models import User
from bookings.models import WeeklyPlace
from tests.functional.pages.everywhere import everything
from tests.functional.pages.school import School, make_school
from tests.school.crowd import add_books, add_crowd

Address = tuple[str, dict[str, Any]]


def make_crowded_school() -> School:
    """The school of the page tests among 5,000 students and 20,000 meetings."""
    school = make_school()
    add_crowd(school)
    return school


def readers(school: School) -> dict[str, User | None]:
    """One person of each role."""
    return {
        "nobody": None,
        "student": school.noor.user,
        "other student": school.marlo.user,
        "guardian": school.hedda,
        "instructor": school.ilse.user,
        "foreign instructor": school.wren.user,
        "admin": school.dag,
    }


def pages_at_scale(school: School) -> list[Address]:
    """Every address of the URLconf, and the lists searched, filtered and turned."""
    found = everything(school)
    add_books(school)
    # The family of the first place is being asked already, and is shown nothing.
    place = WeeklyPlace.objects.latest("pk")
    return [*found, (f"/weekly/{place.pk}/exchange/", {}), *LISTS]


LISTS: list[Address] = [
    *[
        ("/people/", {"show": one, "q": words, "page": page})
        for one in ("students", "minors-alone", "instructors", "admins", "invited", "left")
        for words, page in (("", "3"), ("al birk", "1"))
    ],
    *[
        (address, query)
        for address in ("/my-students/", "/due-a-review/")
        for query in ({"q": "al"}, {"page": "2"}, {"level": "4", "show": "no-lesson"})
    ],
    *[("/meetings/", {"past": "yes", "page": page}) for page in ("1", "100")],
    *[
        (f"/needs/{kind}/", {"page": "2"})
        for kind in (
            "consent",
            "clash",
            "cover",
            "move-request",
            "proposal",
            "offer",
            "register",
            "owed",
            "email",
            "data-request",
            "statement",
            "second-factor",
        )
    ],
    ("/plans/", {"page": "3"}),
    ("/statements/", {"page": "3"}),
    ("/move-requests/", {"page": "2"}),
    ("/proposed-times/", {"page": "2"}),
]
