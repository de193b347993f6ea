"""Weeks as families may say them, made up."""

from datetime import date

from hypothesis import strategies as st

from bookings.domain.student_hours import SaidHours, WishedWindow
from bookings.domain.terms import TermDates
from bookings.domain.vocabulary import Wish

TERM = TermDates(date(2027, 1, 11), date(2027, 4, 9), ((date(2027, 2, 15), date(2027, 2, 21)),))


@st.composite
def weeks(draw: st.DrawFn) -> SaidHours:
    """A few windows that do not overlap, on any days, now and then with school and presumed."""
    edges = draw(st.lists(st.integers(0, 7 * 288), unique=True, min_size=0, max_size=12))
    edges.sort()
    windows = []
    for first, past in zip(edges[::2], edges[1::2], strict=False):
        day = first // 288
        windows.append(
            WishedWindow(
                day,
                (first - day * 288) * 5,
                (min(past, (day + 1) * 288) - day * 288) * 5,
                draw(st.sampled_from(Wish)),
            )
        )
    windows = [window for window in windows if window.opens < window.closes]
    school = draw(st.sampled_from((None, (480, 930))))
    return SaidHours(tuple(windows), school, draw(st.booleans()), (TERM,))
