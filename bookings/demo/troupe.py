"""The people of the story, signed in at the API, and the function that prints a line."""

from collections.abc import Callable
from dataclasses import dataclass, field

from bookings.demo import people
from bookings.demo.client import Person, check
from bookings.demo.mailbox import Mailbox


@dataclass(slots=True)
class Troupe:
    """The people at the school whose server is at `base` and whose emails are in `mailbox`."""

    base: str
    mailbox: Mailbox
    say: Callable[[str], object]
    bram: Person = field(init=False)
    noor: Person = field(init=False)
    marlo: Person = field(init=False)
    imogen: Person = field(init=False)
    ilse: Person = field(init=False)
    dag: Person = field(init=False)
    tenzin: Person = field(init=False)
    offerings: dict[str, int] = field(init=False)

    def __post_init__(self) -> None:
        self.bram, self.noor, self.marlo = (
            self._sign_in(who) for who in (people.BRAM, people.NOOR, people.MARLO)
        )
        self.imogen, self.ilse, self.dag, self.tenzin = (
            self._sign_in(who) for who in (people.IMOGEN, people.ILSE, people.DAG, people.TENZIN)
        )
        self.offerings = {row["name"]: row["id"] for row in self.noor.rows("offerings/")}

    def _sign_in(self, who: people.Adult) -> Person:
        person = Person(who, self.base, people.PASSWORD)
        check(f"the clock of {person}", who.time_zone, person.me["time_zone"])
        return person
