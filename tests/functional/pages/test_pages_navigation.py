"""The link of the head that led to a page is the current one there."""

import re

import pytest

from tests.functional.pages.school import School, as_user, text_of

CURRENT = re.compile(r'<a href="([^"]+)" aria-current="page">')


@pytest.mark.parametrize(
    ("page", "link"),
    [
        ("/brief/{booking}/", "/today/"),
        ("/due-a-review/", "/my-students/"),
        ("/hours/allowed/", "/hours/"),
        ("/meetings/{circle}/", "/meetings/"),
    ],
)
def test_a_page_without_a_link_of_its_own_is_part_of_another(
    school: School, page: str, link: str
) -> None:
    """One link alone is the current one."""
    address = page.format(booking=school.booking.pk, circle=school.circle.pk)
    response = as_user(school.ilse.user).get(address)
    assert response.status_code == 200
    assert CURRENT.findall(text_of(response)) == [link]


def test_the_hours_a_family_can_come_are_part_of_the_times(school: School) -> None:
    """A family finds them above the times."""
    page = text_of(as_user(school.noor.user).get("/hours-to-come/"))
    assert CURRENT.findall(page) == ["/times/"]
