"""States of an admin's pages that an address alone does not show: sent empty or wrong, shown before
it is saved, done, and with nothing to show.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from tests.cast import at, taught
from tests.functional.pages.every_program import one_webhook
from tests.functional.pages.school import School
from tests.school.people_files import ADULT, FAMILY, text_of
from tests.school.weekly import weekly_place

LOOK, SHOW = "Check the file", "Show what changes"
BAD_FILE = text_of({**ADULT, "Time zone": "Mars/Olympus", "Level": "44"})
BACKWARDS = {"instructor": "Ilse", "first_on": "2027-02-28", "last_on": "2027-02-01"}
EMPTY, TICK, TYPE = "This cannot be left empty.", "Tick at least one.", "Type a name"


@dataclass(frozen=True, slots=True)
class State:
    """An address, what is typed there by the names of fields, and the buttons pressed in turn.

    Of the fields named in `ticks` the first is ticked. `shows` is a text of the page that this
    leads to, so that no other page is looked at in its place.
    """

    at: str
    shows: str
    presses: Sequence[str] = ()
    types: Mapping[str, str] = field(default_factory=dict)
    ticks: Sequence[str] = ()
    file: str | None = None


def refused(school: School) -> list[State]:
    """Sent empty or wrong."""
    return [*_of_people(school), *_of_the_school(school), *_of_plans_and_books(school)]


def _of_people(school: School) -> list[State]:
    student, data = f"/people/students/{school.noor.pk}/", f"/students/{school.noor.pk}/data/"
    account = f"/people/accounts/{school.ilse.user_id}/"
    nobody = {"regular_instructor": "z"}
    return [
        State("/people/bring-in/", "Choose a file.", [LOOK]),
        State("/people/bring-in/", "CSV UTF-8", [LOOK], file="\0\1"),
        State("/people/", EMPTY, ["Send the invitation"]),
        State("/people/students/new/", EMPTY, ["Add the student"]),
        State(student, EMPTY, ["Save"], {"level": "", "unit": "0"}),
        State(student, "Nobody matches", ["Save the regular instructor"], nobody),
        State(account, EMPTY, ["Send the link"]),
        State(data, "Say why", ["Download the export"]),
        State(data, "Say why", ["Ask for an access export"]),
        State(f"{data}erase/", "Say why", ["Ask for erasure"], ticks=["end"]),
    ]


def _of_the_school(school: School) -> list[State]:
    offering, techniques = (
        f"/{name}/{school.consultation.pk}/" for name in ("offerings", "techniques")
    )
    return [
        State("/programs/tokens/new/", TICK, ["Make the token"]),
        State("/programs/told/new/", TICK, ["Save and send a test"]),
        State("/policy/new/", "The lowest value", [SHOW], {"horizon_days": "0"}),
        State("/policy/new/", "720 hours", [SHOW], {"lead_time_minutes": "999"}),
        State("/offerings/new/", EMPTY, ["Add the offering"]),
        State(offering, "Save the offering", ["Save the offering"], {"changeover_minutes": "3"}),
        State(f"{offering}teachers/", TYPE, ["Save"]),
        State(techniques, "16 techniques", ["Save the list"], {"techniques": "a\n" * 20}),
        State("/terms/", EMPTY, ["Publish the term"]),
    ]


def _of_plans_and_books(school: School) -> list[State]:
    place = weekly_place(school.ilse, school.noor)
    days = {name: day for name, day in BACKWARDS.items() if name != "instructor"}
    group = {**days, "offering": "Group meeting", "title": "Ornaments", "places": "4"}
    return [
        State(f"/terms/{place.term_id}/accounts/{school.noor.pk}/", EMPTY, ["Carry it in"]),
        State("/plans/group/", EMPTY, ["Find the times"]),
        State("/plans/term/", EMPTY, ["Make the timetable"]),
        State("/plans/cover/", EMPTY, ["Find substitutes"]),
        State("/plans/cover/", "Choose an end", ["Find substitutes"], BACKWARDS),
        State(
            "/plans/group/",
            "Choose a last day",
            ["Find the times"],
            group,
            ["instructors", "student"],
        ),
        State("/plans/who-next/", TYPE, ["Find the times"]),
        State("/statements/new/", TYPE, ["Show the lines"]),
        State("/statements/new/", "Choose a last day", ["Show the lines"], BACKWARDS),
    ]


def shown_first(school: School) -> list[State]:
    """Shown before anything is saved."""
    taught(school.ilse, school.noor, school.consultation, at("2027-02-05T16:00Z"))
    stricter = {"lead_time_minutes": "400", "day_minutes": "1", "in_force_on": "2027-04-01"}
    return [
        State("/people/bring-in/", "Row by row", [LOOK], file=text_of(*FAMILY)),
        State("/people/bring-in/", "Faults in the file", [LOOK], file=BAD_FILE),
        State("/policy/new/", "What the new policy changes", [SHOW], stricter),
        State("/policy/new/", "Every rule stays as it is", [SHOW]),
        State("/statements/new/", "would count", ["Show the lines"], {"instructor": "Ilse"}),
        State("/statements/new/", "No lessons", ["Show the lines"], {"instructor": "Wren"}),
    ]


def done(school: School) -> list[State]:
    """Saved, sent or brought in: the page says so, and shows once what nobody sees again."""
    hook = f"/programs/told/{one_webhook().pk}/"
    account = f"/people/accounts/{school.wren.user_id}/"
    named = {"name": "Books"}
    told = {**named, "address": "https://books.rowanmere.example/told"}
    erasure = {"reason": "The family wrote to us."}
    return [
        State("/people/bring-in/", "Brought in.", [LOOK, "Bring them in"], file=text_of(*FAMILY)),
        State("/people/bring-in/", "here already", [LOOK], file=text_of(*FAMILY)),
        State(account, "A link is on its way", ["Send the link"], {"email": "w@rowanmere.example"}),
        State("/programs/tokens/new/", "The new token", ["Make the token"], named, ["scopes"]),
        State("/programs/told/new/", "Saved.", ["Save and send a test"], told, ["kinds"]),
        State(f"{hook}secret/", "shown only once", ["Make a new secret"]),
        State(hook, "Paused", ["Pause"]),
        State(
            "/policy/new/", "Saved: version", [SHOW, "Save this version"], {"horizon_days": "90"}
        ),
        State(
            f"/students/{school.marlo.pk}/data/erase/", "Asked for", ["Ask for erasure"], erasure
        ),
    ]


def empty(school: School) -> list[State]:
    """With nothing to show."""
    return [
        State("/people/?show=students&q=nobody", "Nobody matches"),
        State("/needs/offer/", "Nothing of this kind"),
        State("/programs/", "None yet."),
        State("/plans/", "No plans yet."),
        State("/statements/", "No statements yet."),
        State("/proposed-times/", "No times are proposed."),
        State("/terms/", "None yet."),
        State("/today/all/", "Today"),
        State("/my-students/?q=nobody", "No student matches"),
    ]
