"""The process in which a stranger's mail is read: `python -m bookings.calendars.replies_child`.

On stdin: one line of JSON (to, sender, authserv_id), then the bytes of the mail. On stdout: JSON
with the `answer` of a calendar, the `report` of a mail server, or the `reason` for ignoring the
mail. The process limits itself before it
reads anything; reaching a limit ends it by a signal.
"""

import json
import signal
import sys

from bookings.calendars.busy_child import WORK_SECONDS, limit


def main() -> None:
    """Reads stdin, understands the mail, writes stdout."""
    limit()
    # Imported only now, so that the limits hold for these modules too.
    from bookings.calendars.ignoring import Ignored, WhyIgnored
    from bookings.calendars.replies import read_reply
    from bookings.calendars.reports import read_report

    signal.signal(signal.SIGPROF, signal.SIG_DFL)
    signal.setitimer(signal.ITIMER_PROF, WORK_SECONDS)
    try:
        envelope = json.loads(sys.stdin.buffer.readline())
        mail = sys.stdin.buffer.read()
        report = read_report(mail, to=envelope["to"], sender=envelope["sender"])
        if report is not None:
            told = {"report": report.as_text()}
        else:
            told = {"answer": read_reply(mail, **envelope).as_text()}
    except Ignored as ignored:
        told = {"reason": ignored.reason.value}
    except MemoryError:
        told = {"reason": WhyIgnored.TOO_MUCH.value}
    sys.stdout.write(json.dumps(told))


if __name__ == "__main__":
    main()
