"""What families do on their pages: book, move, cancel, wait, take an offer, read and practise."""

import re

from tests.functional.pages.two_weeks import EMAIL, link_in, mail_to
from tests.functional.pages.visitor import Visitor

THEME = "Placing without looking"


def books(
    who: Visitor,
    what: str,
    when: str,
    *,
    teacher: str = "Ilse Quarrow",
    since: str,
    link: str = "Choose a time",
    intake: dict[str, object] | None = None,
) -> str:
    """A one-on-one at a time such as "Friday 5 March, 17:00", from the list of that day."""
    who.open("/")
    who.follow(link)
    who.send("Show", {"What": what, "With": teacher, "From": since})
    return chooses(who, when, intake)


def chooses(who: Visitor, when: str, intake: dict[str, object] | None = None) -> str:
    """The start of that day from the list in front of them, and the button that names it again."""
    day, _, clock = when.partition(", ")
    who.follow(clock, under=day)
    return who.send(f"Book {when}", intake)


def moves(who: Visitor, was: str, when: str) -> str:
    day, _, clock = when.partition(", ")
    who.open("/")
    who.follow(f"Move {was}")
    who.follow(clock, under=day)
    return who.send("Move it")


def cancels(who: Visitor, when: str) -> tuple[str, str]:
    """What the page says before and after."""
    who.open("/")
    before = who.follow(f"Cancel {when}")
    return before, who.send("Cancel it")


def joins_at(who: Visitor) -> set[str]:
    """The addresses of the rooms behind the links to join."""
    who.open("/")
    links = [one for one in who.page.all("a") if one.words.startswith("Join")]
    return {one.held["href"] for one in links}


def takes_weekly_place(marlo: Visitor) -> None:
    """Wednesdays at 16:00, with every date."""
    marlo.open("/")
    marlo.follow("Weekly places")
    (link,) = marlo.links("^Wednesdays 16:00")
    every = marlo.follow(link)
    dates = re.findall(r"(Wednesday \d+ March), 16:00 Dublin", every)
    assert dates == [f"Wednesday {day} March" for day in (3, 10, 17, 24)]
    assert "The place is yours for Spring." in marlo.send("Take this place: 4 lessons")


def joins_group(who: Visitor, button: str) -> str:
    who.open("/")
    who.follow("Group meetings")
    return who.send(f"{button} {THEME}")


def takes_the_offered_place(teal: Visitor) -> None:
    """By the link of the email."""
    told = mail_to(EMAIL.format("teal"), "place")
    assert "Say yes or no by Wed 10 March 10:00, Dublin." in told
    teal.open(link_in(told, "Say yes or no"))
    assert "The place is yours." in teal.send("Take the place")


def reads_and_practises(marlo: Visitor) -> None:
    """The note and its plan; one of the two items is ticked."""
    note = marlo.open(
        link_in(mail_to(EMAIL.format("marlo"), "note is ready"), "Read the lesson note")
    )
    assert "Left hand alone, slowly" in note
    plan = marlo.follow("Practice plan")
    assert "Today, Wednesday 3 March 0 of 15 minutes" in plan
    done = marlo.send("Tick as practised: Slow scales, Today")
    assert "Today, Wednesday 3 March 5 of 15 minutes" in done
    assert "Practised 1 of the last 14 days." in done
