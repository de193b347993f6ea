"""Pages that take a file say how much they take; every other takes what a form needs
(config.body_size)."""

from collections.abc import Callable
from typing import TypeVar

V = TypeVar("V", bound=Callable[..., object])
_FORM = 100_000
"""Bytes beside the file: the other fields, and what stands between the parts."""


def takes_file(most: int) -> Callable[[V], V]:
    """For a view whose form holds one file of up to `most` bytes."""

    def marked(view: V) -> V:
        view.most_bytes = most + _FORM  # type: ignore[attr-defined]
        return view

    return marked
