"""Whose turn a free place is, and the offer of it."""

from tests.races.desk.rows import LISTENER, OFFERED, Booking, Desk, Meeting
from tests.races.desk.setting import Setting, ended, waits_no_more


def is_anybodys(desk: Desk, setting: Setting, meeting: Meeting, kind: str) -> bool:
    """Whether a free place is booked and not waited for: nobody is in line, or the first yes has
    it.
    """
    line = desk.line(meeting.id, kind)
    near = any(setting.is_near(meeting, wait.student) for wait in line)
    return not line or near or (meeting.id, kind) in desk.announced


def free_for_all(desk: Desk, setting: Setting, meeting: Meeting, kind: str) -> bool:
    """Whether anybody may take a place."""
    return not desk.full(meeting, kind) and is_anybodys(desk, setting, meeting, kind)


def passed_on(desk: Desk, setting: Setting, pk: int, kind: str) -> Desk:
    """Free places are offered to those first in line who may take one."""
    meeting = desk.meeting(pk)
    if meeting is None or meeting.off or setting.begun(meeting.starts_at):
        return desk
    for wait in desk.line(pk, kind):
        if desk.full(meeting, kind):
            break
        if setting.is_near(meeting, wait.student):
            return desk._replace(announced=desk.announced | {(pk, kind)})
        if not setting.may_take(meeting, wait.student):
            continue
        offer = Booking(
            setting.offered(desk, wait),
            pk,
            wait.student,
            kind,
            OFFERED,
            meeting.starts_at,
            meeting.ends_at,
            setting.answer_by(meeting, wait.student),
        )
        desk = desk.with_booking(offer).with_wait(wait._replace(offer=offer.id))
    return desk


def given_back(desk: Desk, setting: Setting, booking: Booking, why: str) -> Desk:
    """A place in a group meeting ends, offered or held; it goes to the first in line."""
    desk = ended(desk, booking, why, setting)
    for wait in desk.waits:
        if wait.offer == booking.id and wait.live:
            desk = waits_no_more(desk, wait, why, setting)
    return passed_on(desk, setting, booking.meeting, booking.kind)


def stopped_listening(desk: Desk, setting: Setting, meeting: int, student: int) -> Desk:
    """Whoever becomes a player listens no more, and waits to listen no more."""
    desk = waits_no_more(desk, desk.waits_for(meeting, student, LISTENER), "placed", setting)
    for row in desk.roster(meeting, LISTENER):
        if row.student == student:
            desk = given_back(desk, setting, row, "moved")
    return desk
