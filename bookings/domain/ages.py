"""Whether somebody is noted as an adult or as a minor: what a date of coming of age may be."""

from datetime import date

_YEARS = 18
MINOR_HELP = "Enter the date of the 18th birthday. It must be in the future."


def age_fault(is_minor: bool, adult_on: date | None, today: date) -> str:
    """What is wrong with the date of the 18th birthday, on the student's own day; empty if nothing.

    A minor's is ahead, by 18 years at most; an adult's is not.
    """
    is_ahead = adult_on is not None and adult_on > today
    if not is_minor:
        return "Leave this empty for an adult, or make them a minor." if is_ahead else ""
    if adult_on is None or not is_ahead:
        return MINOR_HELP
    if adult_on > _birthday(today):
        return "That is more than 18 years ahead: enter the 18th birthday, not another date."
    return ""


def _birthday(today: date) -> date:
    """The 18th birthday of somebody who is born today; 1 March for a leap day."""
    year = today.year + _YEARS
    try:
        return today.replace(year=year)
    except ValueError:
        return date(year, 3, 1)
