"""The email that asks a family which hours a student can come, for the plan of a group."""

from collections.abc import Sequence
from datetime import date, datetime

from accounts.models import User
from bookings.models import AskedHours, OutboxMessage, Plan
from bookings.notices.people import by_reader, names
from bookings.notices.rows import plan_key, row
from bookings.notices.wording import email_text, full_time, link, listed
from bookings.outbox import MessageKind

_AFTER = (
    "The plan goes by the hours that you have saved by then. If you save nothing, it goes by those "
    "you saved before, or by the usual ones. What you save later counts for the next plan."
)
_PRIVATE = "You need not say why, and instructors do not see these hours."


def hours_asked(asked: Sequence[AskedHours], *, now: datetime) -> list[OutboxMessage]:
    """One email a reader about all their students in one plan, with a link for each."""
    return [_to_one(reader, rows, now) for reader, rows in by_reader(asked, now).items()]


def _to_one(reader: User, rows: Sequence[AskedHours], now: datetime) -> OutboxMessage:
    plan, who = rows[0].plan, names(reader, rows)
    until = full_time(plan.answer_by or now, reader.zone)
    opening = (
        f"We are planning “{plan.asked['title']}” {_between(plan)}, and would like to find a time "
        f"that suits {listed(who)}."
    )
    asks = f"Please say by {until} at which hours {listed(who)} can come:"
    pages = [_page(reader, one) for one in rows]
    body = email_text(reader.name, [opening, "\n".join([asks, *pages]), _AFTER, _PRIVATE])
    title = f"Which hours can {listed(who)} come? {plan.asked['title']}"
    return row(
        reader,
        MessageKind.TOLD,
        plan_key(plan),
        "hours asked",
        title=title,
        body=body,
        good_until=plan.answer_by,
        now=now,
    )


def _between(plan: Plan) -> str:
    first_on, last_on = (date.fromisoformat(plan.asked[name]) for name in ("first_on", "last_on"))
    if first_on == last_on:
        return f"on {_day(first_on)}"
    return f"between {_day(first_on)} and {_day(last_on)}"


def _day(on: date) -> str:
    return f"{on:%A} {on.day} {on:%B}"


def _page(reader: User, one: AskedHours) -> str:
    whose = "You" if one.student.user_id == reader.pk else one.student.first_name
    return f"  {whose}: {link(f'/hours-to-come/?student={one.student_id}')}"
