"""`manage.py retime`: brings meetings ahead back to their promised wall times after a new
tzdata.
"""

import json
from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from functools import partial
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.retiming import Clash
from bookings.domain.zone_rules import ZoneRules
from bookings.domain.zones import TZDATA_VERSION, zone
from bookings.door import write
from bookings.models import Meeting
from bookings.notices import OwnClock
from bookings.operations.own_clocks import tell_own_clock
from bookings.operations.retiming import retime, stamp
from bookings.operations.zone_rules import keep_zone_rules
from bookings.queries.own_clocks import kept_rules, own_clocks, versions_ahead
from bookings.queries.retiming import Retiming, clashes, plan

STAMPED_AT_ONCE = 500


class Command(BaseCommand):
    """A dry run unless --write is given.

    A second run finds nothing to do and tells nobody again.
    """

    help = (
        "Says which meetings ahead the installed time zone rules would move; with --write, moves "
        "them and tells everybody once."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--write",
            action="store_true",
            dest="is_written",
            help="do it; without this nothing is written",
        )
        parser.add_argument(
            "--json", action="store_true", dest="as_json", help="one JSON object instead of lines"
        )

    def handle(self, *args: Any, is_written: bool, as_json: bool, **options: Any) -> None:
        found, versions = plan(clock.now()), versions_ahead(clock.now())
        rules = kept_rules(versions)
        clocks, failed = own_clocks(clock.now(), rules=rules), list[str]()
        lines = self._write(found, failed) if is_written else _foreseen(found)
        if is_written:
            clocks = self._tell(clocks, rules)
            self._stamp(
                found
            )  # last, so that after an interrupted run the next one finds everything again
        meetings = sorted(lines, key=lambda line: (line["to"], line["meeting"]))
        told = {
            "tzdata": TZDATA_VERSION,
            "written": is_written,
            "zones": dict(sorted(Counter(line["time_zone"] for line in meetings).items())),
            "meetings": meetings,
            "flagged": sum(bool(line["why"]) for line in meetings),
            "unmoved": len(found.unmoved),
            "own_clocks": [_own_clock(one) for one in clocks],
            "not_kept": sorted(versions - set(rules)),
        }
        if as_json:
            self.stdout.write(json.dumps(told, indent=2))
        else:
            self._say(told)
        if failed:
            raise CommandError(f"{len(failed)} batches were left for another run: {failed[0]}")

    def _write(self, found: Retiming, failed: list[str]) -> list[dict[str, Any]]:
        moved = []
        for batch in found.batches:
            now = clock.now()
            try:
                done = write(partial(retime, meeting_ids=batch, now=now), now=now)
            except Refused as refusal:
                failed.append(str(refusal))
            else:
                moved += [
                    _line(one.meeting, one.old_starts_at, one.meeting.starts_at, one.why)
                    for one in done
                ]
        return moved

    def _tell(self, clocks: list[OwnClock], rules: Mapping[str, ZoneRules]) -> list[OwnClock]:
        told = []
        for one in clocks:
            now = clock.now()
            act = partial(tell_own_clock, reader_id=one.reader.pk, rules=rules, now=now)
            told.append(write(act, now=now))
        return [one for one in told if one is not None]

    def _stamp(self, found: Retiming) -> None:
        for first in range(0, len(found.unmoved), STAMPED_AT_ONCE):
            chunk, now = found.unmoved[first : first + STAMPED_AT_ONCE], clock.now()
            write(lambda chunk=chunk: stamp(meeting_ids=chunk), now=now)  # type: ignore[misc]
        write(lambda: keep_zone_rules(now=clock.now()), now=clock.now())

    def _say(self, told: dict[str, Any]) -> None:
        verb = "moved" if told["written"] else "would move"
        self.stdout.write(
            f"tzdata {told['tzdata']}: {len(told['meetings'])} meetings {verb} or lie in a gap, "
            f"{told['unmoved']} stay."
        )
        for name, count in told["zones"].items():
            self.stdout.write(f"{name}: {count}")
        for line in told["meetings"]:
            why = f"; a person has to look: {', '.join(line['why'])}" if line["why"] else ""
            self.stdout.write(
                f"  meeting {line['meeting']}, {line['wall']} {line['time_zone']}: {line['from']} "
                f"-> {line['to']}{why}"
            )
        for one in told["own_clocks"]:
            for line in one["meetings"]:
                told_ = "told" if told["written"] else "to be told"
                self.stdout.write(
                    f"  person {one['reader']}, {one['time_zone']}, {told_}: meeting "
                    f"{line['meeting']} {line['from']} -> {line['to']}"
                )
        if told["not_kept"]:
            self.stdout.write(
                f"The rules of {', '.join(told['not_kept'])} were not kept: whose own clock alone "
                "has changed is not known."
            )
        if not told["written"] and (told["meetings"] or told["unmoved"]):
            self.stdout.write("Nothing is written. To do it: manage.py retime --write")


def _foreseen(found: Retiming) -> list[dict[str, Any]]:
    lines = []
    for batch in found.batches:
        changes = [found.changes[pk] for pk in batch]
        clash = clashes(changes)
        lines += [
            _line(meeting, meeting.starts_at, meeting.starts_at + shift.by, clash[meeting.pk].why)
            for meeting, shift in changes
        ]
    return lines


def _line(
    meeting: Meeting, before: datetime, after: datetime, why: Iterable[Clash]
) -> dict[str, Any]:
    return {
        "meeting": meeting.pk,
        "time_zone": meeting.zone,
        "wall": f"{meeting.wall_on} {meeting.wall_at:%H:%M}",
        "fold": meeting.fold,
        "from": _utc(before),
        "to": _utc(after),
        "why": [clash.value for clash in why],
    }


def _own_clock(one: OwnClock) -> dict[str, Any]:
    """A person whose meetings stay while their own clock changes, with each meeting's old and new
    hour on it.
    """
    meetings = [
        {
            "meeting": same.meeting.pk,
            "from": f"{same.was:%Y-%m-%d %H:%M}",
            "to": f"{same.meeting.starts_at.astimezone(zone(one.reader.zone)):%Y-%m-%d %H:%M}",
        }
        for same in one.meetings
    ]
    return {"reader": one.reader.pk, "time_zone": one.reader.zone, "meetings": meetings}


def _utc(instant: datetime) -> str:
    return f"{instant.astimezone(UTC):%Y-%m-%dT%H:%MZ}"
