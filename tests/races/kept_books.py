"""What was acknowledged of owed lessons, registers, statements and exchanges, and the last reading
lacks.
"""

from tests.races.acts import Acts
from tests.races.desk.owed import BY_HAND, CARRIED_OUT
from tests.races.events import Event
from tests.races.steps_books import lines_of

CLOSED = {"settle": BY_HAND, "carry": CARRIED_OUT}
BOOKS = (*CLOSED, "register", "issue", "correct", "say-yes", "say-no")


def not_in_the_books(acts: Acts, event: Event) -> str:
    """Nothing that is written there is ever taken away, so that the end shows all of it; empty
    where it does.
    """
    sent, books = event.arguments, acts.after.books
    if event.operation in CLOSED:
        owed = books.owed_lesson(sent["owed_lesson"])
        is_closed = owed is not None and owed.how == CLOSED[event.operation]
        return "" if is_closed else f"owed lesson {sent['owed_lesson']} is not closed so"
    if "exchange" in sent:
        return "" if _is_answer_kept(acts, event) else f"exchange {sent['exchange']} lacks it"
    if event.operation == "register":
        entries = {row.booking: row.entries for row in books.register(sent["meeting"])}
        lost = [
            mark["booking"]
            for mark in sent["marks"]
            if mark["attendance"] not in entries.get(mark["booking"], ())
        ]
        return f"bookings {lost} were never marked so" if lost else ""
    statement, said = books.statement(event.body["id"]), lines_of(event.body)
    is_there = statement is not None and statement.lines[: len(said)] == said
    return "" if is_there else f"statement {event.body['id']} does not begin so"


def _is_answer_kept(acts: Acts, event: Event) -> bool:
    exchange = acts.after.books.exchange(event.arguments["exchange"])
    if exchange is None:
        return False
    if event.operation == "say-no":
        return exchange.why == "declined"
    return event.arguments["move"] in exchange.yes
