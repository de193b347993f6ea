"""A school of many instructors on clocks a quarter of an hour apart, for what must not grow with them."""

from tests.cast import make_instructor, publish, teaches
from tests.functional.pages.school import School

ZONES = ("Europe/Dublin", "America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe")
LONG_DAYS = ", ".join(
    f"{weekday} {window}" for weekday in range(7) for window in ("08:00-12:00", "14:00-21:00")
)


def add_instructors(school: School, count: int) -> None:
    """So many more who teach consultations, eleven hours on every day of the week."""
    for number in range(count):
        person = make_instructor(f"Teacher {number:02} Larkspur", ZONES[number % len(ZONES)])
        teaches(person, school.consultation)
        publish(person, LONG_DAYS)
