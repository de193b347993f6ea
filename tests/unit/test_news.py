"""What is new about a student, in sentences."""

import pytest

from bookings.domain.news import News, counted, group_sentences, sentences_of


@pytest.mark.parametrize(
    ("news", "told"),
    [
        (News(), ["Nothing written yet.", "First lesson with you."]),
        (
            News(has_written=True, questions=3, recordings=2, seen_days_ago=28),
            ["Three questions, two recordings.", "Last seen four weeks ago."],
        ),
        (
            News(has_written=True, questions=1, hurts=True, comes_from="Bram Tolliver"),
            [
                "One question.",
                "Says that something hurts.",
                "First lesson with you; comes from Bram Tolliver.",
            ],
        ),
        (
            News(has_written=True, has_pieces=True, seen_days_ago=1),
            ["Pieces named, no question.", "Last seen yesterday."],
        ),
        (
            News(has_written=True, seen_days_ago=13),
            ["No question this time.", "Last seen 13 days ago."],
        ),
        (
            News(goal_due=True, practised_days=9, seen_days_ago=7, lesson=(5, 12)),
            [
                "Nothing written yet.",
                "A goal is due on this day.",
                "Practised 9 of the last 14 days.",
                "Last seen seven days ago.",
                "Weekly place, lesson 5 of 12.",
            ],
        ),
        (News(seen_days_ago=14), ["Nothing written yet.", "Last seen two weeks ago."]),
    ],
)
def test_sentences_come_in_order(news: News, told: list[str]) -> None:
    """What was written, what hurts, and when the two met last."""
    assert sentences_of(news) == told


def test_numbers_are_words_up_to_twelve() -> None:
    """One has no plural ending, and large numbers are digits."""
    assert [counted(number, "week") for number in (1, 2, 12, 13)] == [
        "one week",
        "two weeks",
        "twelve weeks",
        "13 weeks",
    ]


def test_a_group_says_how_many_have_written() -> None:
    """Pain is named without naming anybody."""
    written = News(has_written=True)
    assert group_sentences(0, []) == ["Nobody is in it yet."]
    assert group_sentences(5, []) == ["Nothing written yet."]
    assert group_sentences(5, [written]) == ["1 of 5 has written before."]
    assert group_sentences(5, [written, News(has_written=True, hurts=True)]) == [
        "2 of 5 have written before.",
        "Somebody says that something hurts.",
    ]
