"""What the form for booking sends."""

from tests.functional.pages.school import School


def ask_to_book(school: School, starts_at: str, **more: object) -> dict[str, object]:
    return {
        "student": school.noor.pk,
        "offering": school.consultation.pk,
        "instructor": school.ilse.pk,
        "starts_at": starts_at,
        **more,
    }
