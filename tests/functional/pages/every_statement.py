"""The pages about statements of hours and the use of hours that a GET shows."""

from tests.functional.pages.school import School
from tests.school.statements import differing_statement


def statement_pages(school: School) -> tuple[list[str], list[str]]:
    """Those of an admin, and those that the instructor reads too."""
    stated = differing_statement(school.ilse, school.noor, school.consultation, school.dag)
    read = ["/statements/", f"/statements/{stated.pk}/"]
    december = f"instructor={school.ilse.pk}&first_on=2026-12-01&last_on=2026-12-31"
    issuing = [
        "/statements/new/",
        f"/statements/new/?{december}",
        f"/statements/{stated.pk}/correct/",
    ]
    weeks = "/hours/weeks/"
    return [*read, *issuing, f"{weeks}?instructor={school.ilse.pk}"], [*read, weeks]
