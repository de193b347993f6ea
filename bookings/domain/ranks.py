"""Ranks in words."""

_RANKS = (
    "first",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "eighth",
    "ninth",
    "tenth",
)


def in_words(rank: int) -> str:
    """ "second" of 2; "11th" of 11."""
    if rank <= len(_RANKS):
        return _RANKS[rank - 1]
    if rank % 100 in (11, 12, 13):
        return f"{rank}th"
    ending = {1: "st", 2: "nd", 3: "rd"}.get(rank % 10, "th")
    return f"{rank}{ending}"
