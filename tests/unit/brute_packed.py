"""The packed grid the slow way, laid cell by cell and counted minute by minute.

Imports nothing of the project. What it is given it reads by attribute names only.
"""

from datetime import datetime, timedelta

from tests.unit.brute_hours import MINUTE, clashes, minutes_between, teachable, wall


class Packed:
    """The starts of the packed grid, laid minute by minute through whole local days: from each
    moment at which the instructor becomes free, and from each midnight, one after another.
    """

    def __init__(self, offering, instructor, policy, since, until):
        self.length = timedelta(minutes=offering.minutes)
        self.held = timedelta(minutes=offering.minutes + offering.changeover_minutes)
        self.instructor, self.policy = instructor, policy
        first = since.replace(minute=0, second=0, microsecond=0) - 48 * 60 * MINUTE
        cells = [
            first + 5 * k * MINUTE for k in range((until - first) // (5 * MINUTE) + 24 * 12 * 3)
        ]
        hours = teachable(instructor.teaching, first, cells[-1] + 5 * MINUTE)
        taught_then = {at for at, is_open in zip(cells, hours, strict=True) if is_open}
        self.open = {at for at in taught_then if not clashes(at, at + 5 * MINUTE, instructor.busy)}
        self.free = {
            at for at in self.open if not clashes(at, at + 5 * MINUTE, instructor.meetings)
        }
        zone, days = instructor.time_zone, {}
        for at in cells:
            days.setdefault(wall(at, zone)[0], []).append(at)
        self.starts = {at for day in days.values() for at in self.laid(day)}

    def fits(self, at: datetime) -> bool:
        """Whether the lesson lies in open time, and with its changeover off all meetings."""
        cells = (at + 5 * k * MINUTE for k in range(self.length // (5 * MINUTE)))
        held = [at + 5 * k * MINUTE for k in range(self.held // (5 * MINUTE))]
        return all(cell in self.open for cell in cells) and not any(
            clashes(cell, cell + 5 * MINUTE, self.instructor.meetings) for cell in held
        )

    def laid(self, day: list[datetime]) -> list[datetime]:
        """The starts of one local day, from its cells."""
        found, at = [], day[0]
        for cell in day:
            opens = cell in self.free and (cell == day[0] or cell - 5 * MINUTE not in self.free)
            if not opens:
                continue
            at = max(at, cell)
            while at in self.free and at <= day[-1] and self.fits(at):
                taught = [(p.starts_at, p.ends_at) for p in self.instructor.taught]
                taught += [(start, start + self.length) for start in found]
                before, ended = self.in_a_row(taught, at, ahead=False)
                after, _ = self.in_a_row(taught, at, ahead=True)
                if before + self.length + after <= self.policy.run_minutes * MINUTE:
                    found.append(at)
                    at += self.held
                elif before:
                    at = ended + max(self.policy.run_gap_minutes, 1) * MINUTE
                    at += -(at - day[0]) % (5 * MINUTE)
                else:
                    break
        return found

    def in_a_row(self, taught, at: datetime, *, ahead: bool) -> tuple[timedelta, datetime]:
        """What is taught in a row before a lesson at that time or after it, and where that row
        ends next to the lesson.
        """
        gap = max(self.policy.run_gap_minutes, 1) * MINUTE
        minutes = {minute for first, past in taught for minute in minutes_between(first, past)}
        edge, total, step = (at + self.length - MINUTE, 0, MINUTE) if ahead else (at, 0, -MINUTE)
        idle, ended = 0 * MINUTE, at
        while idle < gap:
            edge += step
            if edge in minutes:
                if not total:
                    ended = edge + MINUTE
                total, idle = total + 1, 0 * MINUTE
            else:
                idle += MINUTE
        return total * MINUTE, ended
