"""SEQUENCE over whole lives of one meeting: RFC 5546 section 2.1.4, judged recipient by recipient
from the messages themselves.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bookings.models import OutboxMessage
from tests.integration.lives import check, group_life, lived, one_on_one_life
from tests.letters import value


@pytest.mark.django_db
@settings(deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(
                ["move", "move", "hand over", "hand over", "cancel", "call off", "reinstate"]
            ),
            st.integers(-5, 5),
        ),
        max_size=9,
    )
)
def test_every_life_of_a_one_on_one_keeps_the_sequence_table(steps):
    """RFC 5546 section 2.1.4, over moves, changes of instructor and back, cancelling, calling off
    and reinstating.
    """
    lived(one_on_one_life, steps)


@pytest.mark.django_db
@settings(deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["book", "book", "leave", "remove", "move", "call off", "reinstate"]),
            st.sampled_from(["noor", "posy"]),
            st.integers(-5, 5),
        ),
        max_size=12,
    )
)
def test_every_life_of_a_group_meeting_keeps_the_sequence_table(steps):
    """The same over places taken, given back, ended by the school and taken again; a guardian is a
    recipient like any other.
    """
    lived(group_life, steps)


@pytest.mark.django_db
def test_a_removal_and_a_return_each_win_over_what_came_before():
    """RFC 5546 section 4.2.10: B is removed by a CANCEL without STATUS, and comes back with a
    higher SEQUENCE than that.
    """
    messages, _ = group_life(
        [("book", "noor", 0), ("remove", "noor", 0), ("book", "noor", 0), ("call off", "noor", 0)]
    )
    noors = [message for message in messages if message.recipient.name == "Noor Ashgrove"]
    states = [
        (
            message.method,
            message.sequence,
            value(message.calendar[message.calendar.index("BEGIN:VEVENT") :], "STATUS"),
        )
        for message in noors
    ]
    assert states == [
        ("REQUEST", 0, "CONFIRMED"),
        ("CANCEL", 1, None),
        ("REQUEST", 2, "CONFIRMED"),
        ("CANCEL", 3, "CANCELLED"),
    ]


@pytest.mark.django_db
def test_request_update_and_cancel_count_as_the_standards_own_example():
    """RFC 5546 sections 4.2.1, 4.2.3 and 4.2.9: SEQUENCE 0, 1 for the new time, 2 with
    STATUS:CANCELLED for the end.
    """
    messages, _ = one_on_one_life([("move", 1), ("call off", 0)])
    noors = [message for message in messages if message.recipient.name == "Noor Ashgrove"]
    assert [(message.method, message.sequence) for message in noors] == [
        ("REQUEST", 0),
        ("REQUEST", 1),
        ("CANCEL", 2),
    ]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("life", "steps"),
    [
        (one_on_one_life, [("call off", 0), ("reinstate", 0)]),
        (group_life, [("book", "noor", 0), ("call off", "noor", 0), ("reinstate", "noor", 0)]),
    ],
)
def test_a_meeting_is_uncancelled_by_a_request_with_a_higher_sequence(life, steps):
    """RFC 5546 section 2.1.4: SEQUENCE rises with every change of STATUS; 0, the CANCEL 1, the
    REQUEST 2 with STATUS:CONFIRMED, one UID.
    """
    messages, _ = life(steps)
    check(messages)
    noors = [message for message in messages if message.recipient.name == "Noor Ashgrove"]
    states = [
        (m.method, m.sequence, value(m.calendar[m.calendar.index("BEGIN:VEVENT") :], "STATUS"))
        for m in noors
    ]
    assert states == [
        ("REQUEST", 0, "CONFIRMED"),
        ("CANCEL", 1, "CANCELLED"),
        ("REQUEST", 2, "CONFIRMED"),
    ]


def test_the_check_sees_a_sequence_that_does_not_rise():
    """The same meeting at another time under the same SEQUENCE, a CANCEL that does not rise, one
    that falls: each is caught.
    """

    def told(sequence: int, start: str, method: str = "REQUEST") -> OutboxMessage:
        text = (
            f"BEGIN:VCALENDAR\r\nMETHOD:{method}\r\nBEGIN:VEVENT\r\nUID:u\r\n"
            f"SEQUENCE:{sequence}\r\nDTSTART:{start}\r\nDTEND:{start}\r\n"
            "STATUS:CONFIRMED\r\nATTENDEE:mailto:a@rowanmere.example\r\nEND:VEVENT\r\n"
            "END:VCALENDAR\r\n"
        )
        return OutboxMessage(recipient_id=1, method=method, sequence=sequence, calendar=text)

    assert check([told(0, "20270309T150000Z"), told(1, "20270309T160000Z")]) == 1
    for wrong in (
        [told(0, "a"), told(0, "b")],
        [told(1, "a"), told(0, "a")],
        [told(1, "a"), told(1, "a", "CANCEL")],
    ):
        with pytest.raises(AssertionError):
            check(wrong)
