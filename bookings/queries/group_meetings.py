"""Group meetings as a family reads them: for whom, at what hour, and what can be done now."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from accounts.models import Student
from bookings.domain.burden import is_night
from bookings.domain.errors import Refused
from bookings.domain.joining import Joinable, Joiner, Place, check_choice, check_joins
from bookings.domain.policy import is_first_yes
from bookings.domain.vocabulary import Kind, PlaceKind
from bookings.models import Meeting, WaitingPlace
from bookings.queries.joining import joinable, joiner_of
from bookings.queries.waiting import ranked, waiting_in, with_told

_WORDS = 6
_KINDS = {Kind.GROUP_MEETING: "Group meeting", Kind.MASTERCLASS: "Masterclass"}


@dataclass(frozen=True, slots=True)
class Places:
    """The places of one kind in a meeting, as one student stands to them.

    `why` is the refusal that taking a free place, or joining the waiting list, would get now. Where
    `is_chosen` by the school, nobody takes a place: the student applies.
    """

    kind: str
    name: str
    places: int
    left: int
    is_free: bool
    first_yes: bool
    booking: Place | None
    rank: int | None
    is_chosen: bool
    why: Refused | None


@dataclass(frozen=True, slots=True)
class GroupMeeting:
    """A meeting with what a family wants to know before it joins."""

    meeting: Meeting
    what: str
    levels: tuple[int, int]
    is_night: bool
    kinds: list[Places]


def open_group_meetings(*, words: str = "", now: datetime) -> QuerySet[Meeting]:
    """Every group meeting ahead that has not been called off, by start; where words are given,
    those that hold each of them in their title, their offering's or their instructor's name.
    """
    rows = Meeting.objects.not_called_off().for_groups().ahead(now)
    for word in words.split()[:_WORDS]:
        rows = rows.filter(
            Q(title__icontains=word)
            | Q(offering__name__icontains=word)
            | Q(instructor__user__name__icontains=word)
        )
    return rows.select_related("offering", "instructor__user")


def group_meetings_for(
    student: Student, meetings: Sequence[Meeting], *, now: datetime
) -> list[GroupMeeting]:
    """These meetings for one student: two queries, two more for a minor."""
    joiner, rules = joiner_of(student, meetings, now=now), joinable(meetings)
    lines: dict[tuple[int, str], list[WaitingPlace]] = defaultdict(list)
    for waiting in with_told(ranked(waiting_in(meetings))):
        lines[waiting.meeting_id, waiting.place_kind].append(waiting)
    shown = []
    for meeting in meetings:
        rule, kinds = rules[meeting.pk], []
        for kind, places in (
            (PlaceKind.PLAYER, meeting.places),
            (PlaceKind.LISTENER, meeting.listener_places),
        ):
            if places:
                line = lines[meeting.pk, kind.value]
                kinds.append(_places(joiner, meeting, rule, kind, line, now))
        what, name = _KINDS[Kind(meeting.offering.kind)], meeting.offering.name
        shown.append(
            GroupMeeting(
                meeting,
                what if what.lower() == name.lower() else f"{what}, {name}",
                rule.levels,
                is_night(rule.period, student.zone),
                kinds,
            )
        )
    return shown


def _places(
    joiner: Joiner,
    meeting: Meeting,
    rule: Joinable,
    kind: PlaceKind,
    line: list[WaitingPlace],
    now: datetime,
) -> Places:
    places = rule.players if kind == PlaceKind.PLAYER else rule.listeners
    taken = meeting.taken if kind == PlaceKind.PLAYER else meeting.listeners_taken
    zones = [one.student.zone for one in line]
    first_yes = bool(line) and (line[0].was_told or is_first_yes(now, meeting.starts_at, zones))
    is_chosen = rule.players_are_chosen and kind == PlaceKind.PLAYER
    is_free = taken < places and (not line or first_yes) and not is_chosen
    own = [one for one in joiner.places if (one.meeting, one.kind) == (meeting.pk, kind)]
    return Places(
        kind=kind.value,
        name=kind.value if meeting.listener_places else "",
        places=places,
        left=places - taken,
        is_free=is_free,
        first_yes=taken < places and first_yes and not is_chosen,
        booking=own[0] if own else None,
        rank=next((one.rank for one in line if one.student_id == joiner.id), None),
        is_chosen=is_chosen,
        why=_refusal(joiner, rule, kind, is_free, now),
    )


def _refusal(
    joiner: Joiner, rule: Joinable, kind: PlaceKind, is_free: bool, now: datetime
) -> Refused | None:
    try:
        check_joins(joiner, rule, kind, now=now, clash=is_free)
        check_choice(rule, kind, applies=not is_free)
    except Refused as refusal:
        return refusal
    return None
