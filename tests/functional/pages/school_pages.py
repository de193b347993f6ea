"""The pages on which an admin makes what a school is made of, and looks after its people."""

from tests.functional.pages.school import School

SCHOOL_PAGES = (
    "terms",
    "term",
    "setting-up",
    "policy",
    "new-policy",
    "offerings",
    "new-offering",
    "offering",
    "offering-teachers",
    "techniques",
    "offering-techniques",
)
"""Their routes: nobody but an admin is let through."""


def school_pages(school: School, term_id: int) -> list[str]:
    """Those that a GET shows."""
    offering = school.consultation.pk
    return [
        "/setting-up/",
        "/policy/",
        "/policy/new/",
        "/offerings/",
        "/offerings/new/",
        f"/offerings/{offering}/",
        f"/offerings/{offering}/teachers/?instructor={school.ilse.pk}",
        "/techniques/",
        f"/techniques/{offering}/?preset=winds",
        "/terms/",
        f"/terms/{term_id}/",
        "/people/",
        "/people/consent/",
        "/people/students/new/",
        "/my-students/",
        "/due-a-review/",
        "/meetings/new/",
    ]
