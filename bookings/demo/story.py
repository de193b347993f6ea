"""The people of the school book lessons over HTTP. A line is printed after it has been checked."""

from collections.abc import Callable

from bookings.demo import consultation, group, people, wrapping_up
from bookings.demo.mailbox import Mailbox
from bookings.demo.troupe import Troupe


def tell(base: str, mailbox: Mailbox, *, say: Callable[[str], object]) -> None:
    """Tells the whole story at the school whose server is at `base`. Raises NotSoError."""
    say(
        f"{people.SCHOOL}, by the demo clock on Monday 1 March 2027. "
        f"The real server answers at {base}"
    )
    say("")
    troupe = Troupe(base, mailbox, say)
    consultation.publish(troupe)
    slots = consultation.search(troupe)
    booking = consultation.book(troupe, slots)
    uid = consultation.invitation(troupe)
    feed = consultation.subscribe(troupe, uid)
    consultation.brief(troupe, booking)
    meeting = group.fill(troupe)
    group.pass_on(troupe, meeting)
    group.all_of_it(troupe, feed, uid)
    entries = wrapping_up.briefs(troupe)
    wrapping_up.wrap_up(troupe, entries)
