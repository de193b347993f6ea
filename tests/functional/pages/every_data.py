"""The pages of a person's data, as an admin sees them with everything asked for."""

from tests.cast import NOW
from tests.functional.pages.matrix_data import trouble_pages
from tests.functional.pages.school import School


def data_pages(school: School) -> list[str]:
    """Posy's, whose erasure and access export wait for an admin, and Noor's with nothing asked. No
    email reaches Noor.
    """
    for kind in ("access", "erasure"):
        school.posy.privacy_requests.create(kind=kind, asked_by=school.hedda, asked_at=NOW)
    posy = f"/students/{school.posy.pk}/data/"
    return [
        "/retention/",
        trouble_pages(school)["email-trouble"],
        posy,
        f"{posy}access/approve/",
        f"{posy}erase/approve/",
        f"/students/{school.noor.pk}/data/erase/",
    ]
