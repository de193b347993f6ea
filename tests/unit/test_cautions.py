"""Words that speak of pain or hearing, and words that only look like them."""

import unicodedata

import pytest

from bookings.domain.cautions import speaks_of_pain

PAIN = [
    *("ache", "aches", "ached", "aching", "achy", "headache", "Backaches", "earache"),
    *("pain", "pains", "painful", "painfully", "pained", "hurt", "hurts", "hurting"),
    *("sore", "sorer", "soreness", "numb", "numbs", "numbed", "numbing", "numbness"),
    *("tingle", "tingles", "tingled", "tingling", "tingly", "tension", "tensions"),
    *("ringing", "hearing"),
]
SOUNDS_LIKE_PAIN = [
    *("reaches", "teacher", "number", "numbers", "numbered", "teaches", "moustache", "cache"),
    *("painting", "Spain", "paints", "explain", "campaign", "hurtle", "sorely", "sorrel"),
    *("extension", "hypertension", "bringing", "stringing", "shearing", "coaches"),
    *("aché", "attaché", "panaché", "numbé", "painé"),
]


@pytest.mark.parametrize("word", PAIN)
def test_a_word_of_pain_is_found_however_it_is_written(word: str) -> None:
    """Alone, in capitals, in a sentence, joined by a hyphen, in quotes, with an apostrophe."""
    for text in (
        word,
        word.upper(),
        f"The wrist: {word}.",
        f"wrist-{word}",
        f"{word}-like",
        f"‘{word}’",
        f"{word}'s",
        f"{word}’s",
        f"l'{word}",
        f"_{word}_",
        f"5{word}",
    ):
        assert speaks_of_pain([text]), text


@pytest.mark.parametrize("word", SOUNDS_LIKE_PAIN)
def test_a_word_that_only_holds_one_is_not_found(word: str) -> None:
    """In capitals, with accents in one sign or in two, and beside a hyphen."""
    for text in (word, word.upper(), unicodedata.normalize("NFD", word), f"re-{word}", f"{word}’s"):
        assert not speaks_of_pain([text]), text


def test_a_soft_hyphen_or_a_wide_letter_hides_nothing() -> None:
    """What looks like the word to a reader is the word."""
    assert speaks_of_pain(["pa\u00adinful", ""])
    assert speaks_of_pain(["ｐａｉｎ"])


def test_two_texts_are_not_read_as_one_word() -> None:
    """Each text ends where it ends."""
    assert not speaks_of_pain(["explain p", "ain"])
    assert not speaks_of_pain([])
