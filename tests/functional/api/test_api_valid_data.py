"""Data that the schema calls valid is refused nowhere for its shape: only where a rule reads two
things together.
"""

from hypothesis import HealthCheck, given, settings
from schemathesis import Case
from schemathesis.generation import GenerationMode

from tests import profiles
from tests.functional.api.client import Api, Reply
from tests.functional.api.made_up import examples, ids, operations, pointers, sent_as_each
from tests.functional.api.school import School
from tests.functional.api.world import make_world

# Codes of 422 that no description of one value can foresee, each with its reason.
FORESEEN = {
    "calendar-unreadable": "a file has a grammar of its own, RFC 5545",
    "calendar-too-much": "what a file asks is known once it is read",
    "calendar-address": "whether an address may be fetched is judged by its host",
    "webhook-address": "whether an address may be told is judged by its host",
    "clock-fold": "start and time zone together",
    "clock-gap": "start and time zone together",
    "end-before-start": "two times together",
    "naive-time": "start and time zone together",
    "not-taught": "offering, instructor and level together",
    "off-grid": "start and offering together",
    "unknown-zone": "the names are those of the IANA database, which grows",
    "wrong-kind": "offering and call together",
}
# Members at which 422 `invalid` may point all the same, each with its reason.
TOGETHER = {
    "after_place": "a new place or one that moves",
    "bands": "the techniques are those of the meeting's offering",
    "breaks": "days of the term, in order",
    "cursor": "one that the list itself has given",
    "decide_by": "the minimum, the time to decide and the start together",
    "earliest": "a new place or one that moves",
    "highest_level": "two levels together",
    "goals": "two goals of one booking",
    "guardians": "an adult has none, and two of them need an address each",
    "goal_on": "the day of the goal and the day of the lesson",
    "heard_on": "the day and today, on the author's clock",
    "email": "an adult's own address; a minor's guardians are invited",
    "ends_at": "two times together",
    "first_on": "days with something to state",
    "fixed": "a place that this student can have",
    "instructor": "an admin names one, an instructor need not",
    "leaves_by": "the time and the meeting together",
    "instructors": "those who teach here now",
    "last_on": "two dates together",
    "latest": "a new place or one that moves",
    "lead_time_minutes": "lead time and horizon together",
    "marks": "two marks of one booking",
    "meeting": "a feed shows one thing",
    "meetings": "so many dates so far apart",
    "minor_closes": "two times together",
    "minimum": "the minimum, the places and the time to decide together",
    "name": "two calendars of one name",
    "names_children": "a feed shows one thing",
    "next_wall_time": "a place and the one that follows it",
    "note": "the days of a note together",
    "offering": "a new place or one that moves",
    "notes": "two notes of one booking",
    "over_others": "two notes of one booking",
    "players": "two turns of one player",
    "questions": "a place in a group meeting has none",
    "reason": "who asks for others says why",
    "starts": "two times that are one",
    "starts_at": "start and time zone together",
    "step_minutes": "a packed grid has none",
    "student": "an admin or a guardian of several names one",
    "students": "those who are here now",
    "techniques": "two of one name",
    "term": "a new place or one that moves",
    "time_zone": "start and time zone together",
    "to": "two times together",
    "without": "dates of the series that begins on that day",
    "weekly_places": "times that are offered to this place",
}


def foreseen(reply: Reply) -> bool:
    """Whether a 422 is one of those."""
    if reply.code != "invalid":
        return reply.code in FORESEEN
    if "index" in reply.json:
        return True  # windows of one week together
    named = {pointer.removeprefix("#/").partition("/")[0] for pointer in pointers(reply)}
    return bool(named) and named <= set(TOGETHER)


ROLES = ("owner", "guardian", "teacher", "admin") if profiles.is_thorough() else ("admin",)


def test_valid_data_is_refused_nowhere_for_its_shape(school: School) -> None:
    """Every operation, as every role, with nothing but data that fits the schema: no 400, no 415,
    no 422 but the foreseen, no 5xx.
    """
    world = make_world(school)
    people = {role: Api(world.people()[role]) for role in ROLES}
    there, refused = ids(world), dict[str, str]()
    for operation in operations():

        @settings(max_examples=examples(), database=None, suppress_health_check=list(HealthCheck))
        @given(case=operation.as_strategy(generation_mode=GenerationMode.POSITIVE))
        def run(case: Case) -> None:
            for role, reply in sent_as_each(case, people, there):
                if reply.status in {400, 415} or (reply.status == 422 and not foreseen(reply)):
                    refused[f"{role}: {case.operation.label}"] = told(reply, case)

        run()
    assert not refused, "\n".join(f"{call}: {why}" for call, why in refused.items())


def told(reply: Reply, case: Case) -> str:
    """What was refused, and what was sent."""
    errors = [(error["pointer"], error["detail"]) for error in reply.json.get("errors", ())]
    return f"{reply.code} {errors or reply.json['detail']} of {case.query} {case.body}"
