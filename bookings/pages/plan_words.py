"""Plans in words: what was asked, how it stands, and what follows from adopting it."""

from dataclasses import dataclass

from bookings.domain.vocabulary import PlanKind, PlanState
from bookings.models import Plan

TITLES = {
    PlanKind.GROUP: "When the group should meet",
    PlanKind.TIMETABLE: "Timetable of a term",
    PlanKind.COVER: "Cover a day",
    PlanKind.WHO_NEXT: "Who is next",
    PlanKind.EXCHANGE: "Exchanges of weekly places",
}
ADOPTING = {
    PlanKind.GROUP: [
        "The meetings are added, and their members are booked.",
        "Each family gets one email about its own meetings, and an entry of each for its calendar.",
        "If a time is not free any more, nothing is changed.",
    ],
    PlanKind.TIMETABLE: [
        "Weekly places are made, moved and ended together.",
        "Each family gets one email, and may decline.",
        "If a time is not free any more, nothing is changed.",
    ],
    PlanKind.COVER: [
        "Each covered lesson gets its substitute.",
        "Each family gets one email, and may refuse its lesson free of charge.",
        "If a substitute is not free any more, nothing is changed.",
    ],
    PlanKind.WHO_NEXT: [
        "One time is proposed to each student, and held until they answer.",
        "Each family gets one email.",
    ],
    PlanKind.EXCHANGE: [
        "Each family in an exchange gets one email that names no other family.",
        "The places of an exchange change hands once all of its families say yes.",
        "After a no, or without an answer in time, every place stays as it is.",
    ],
}
ADOPTED = {
    PlanKind.GROUP: "Adopted. The meetings are added, and their members are booked.",
    PlanKind.TIMETABLE: "Adopted. Each family gets one email.",
    PlanKind.COVER: "Adopted. Each family gets one email.",
    PlanKind.WHO_NEXT: "Adopted. The times are proposed and held.",
    PlanKind.EXCHANGE: "Adopted. Each family is asked.",
}
DISCARDING = {
    PlanKind.COVER: [
        "No lesson is changed by it.",
        "A substitute who was asked, and has not said no, gets one email.",
    ],
}
STATES = {
    PlanState.SOLVING: "Being solved",
    PlanState.READY: "Solved",
    PlanState.STOPPED: "Stopped with the best answer so far",
    PlanState.ADOPTED: "Adopted",
    PlanState.DISCARDED: "Discarded",
    PlanState.FAILED: "Not solved",
}


@dataclass(frozen=True, slots=True)
class Heading:
    """What a plan is called, how it stands, and how far its answer is proven."""

    title: str
    state: str
    proof: str


def heading(plan: Plan) -> Heading:
    """A plan in a line."""
    return Heading(TITLES[PlanKind(plan.kind)], STATES[PlanState(plan.state)], _proof(plan))


def _proof(plan: Plan) -> str:
    if plan.answer is None:
        return plan.failure
    if plan.gap is None:
        return "Not proven: the time was too short to tell how good it is."
    if plan.is_proven:
        return "Proven: no better answer exists for the hours that were read."
    return f"Not proven: a better answer may exist, by up to {plan.gap:.1%}."
