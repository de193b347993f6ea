"""The form of Hours you can come: a line for each word and weekday, read into plain values."""

from collections.abc import Iterable, Iterator
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from bookings.domain.hours import WEEKDAYS, faults_of_week
from bookings.domain.student_hours import Opening, WishedWindow, faults_of_wishes
from bookings.domain.typed_hours import read_hours, say_hours
from bookings.domain.vocabulary import Wish
from bookings.pages.forms.fields import PlainText

_LABELS = {wish: wish.words.capitalize() for wish in Wish}


class StudentHoursForm(forms.Form):
    """Lines such as "16-19, 20:00-20:30"; an empty line says nothing of that day."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    school = PlainText(
        label="School, Monday to Friday",
        help_text="One stretch, such as 08:00-15:30; never offered on the days of a term."
        " Empty for no school.",
        required=False,
        max_length=60,
    )

    def __init__(
        self,
        data: Any = None,
        *,
        windows: Iterable[WishedWindow],
        school: Opening | None,
        version: int,
    ) -> None:
        initial: dict[str, Any] = {
            "version": version,
            "school": say_hours([school] if school else []),
        }
        lines: dict[str, list[Opening]] = {}
        for window in windows:
            name = _line(window.weekday, window.wish)
            lines.setdefault(name, []).append((window.opens, window.closes))
        initial |= {name: say_hours(openings) for name, openings in lines.items()}
        super().__init__(data, initial=initial)
        for weekday in range(len(WEEKDAYS)):
            for wish in Wish:
                self.fields[_line(weekday, wish)] = PlainText(
                    required=False, max_length=120, label=_LABELS[wish]
                )

    def day(self, weekday: int) -> list[BoundField]:
        """The four lines of a weekday."""
        return [self[_line(weekday, wish)] for wish in Wish]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        windows = list(self._windows(values))
        for fault in faults_of_wishes(windows):
            broken = windows[fault.position]
            self.add_error(_line(broken.weekday, broken.wish), fault.sentence)
        return {**values, "windows": windows, "school": self._school(values)}

    def _windows(self, values: dict[str, Any]) -> Iterator[WishedWindow]:
        for weekday in range(len(WEEKDAYS)):
            for wish in Wish:
                name = _line(weekday, wish)
                read = read_hours(values.get(name, ""))
                for sentence in read.faults:
                    self.add_error(name, sentence)
                yield from (WishedWindow(weekday, *opening, wish) for opening in read.windows)

    def _school(self, values: dict[str, Any]) -> Opening | None:
        read = read_hours(values.get("school", ""))
        faults = [*read.faults, *_sentences(read.windows)]
        if len(read.windows) > 1:
            faults.append("Write one stretch, from the first hour of school to the last.")
        for sentence in faults:
            self.add_error("school", sentence)
        return next(iter(read.windows), None)


def _sentences(openings: Iterable[Opening]) -> list[str]:
    return [fault.sentence for fault in faults_of_week([(0, *opening) for opening in openings])]


def _line(weekday: int, wish: Wish) -> str:
    return f"{wish.name.lower()}_{weekday}"
