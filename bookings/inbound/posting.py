"""Posts a delivery to another program's https address, under the guard of inbound.guarded.

No redirect is followed, and of the answer only its status is read.
"""

import http.client
import time
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

from bookings.domain.errors import Refused
from bookings.inbound.addresses import Address, read_address
from bookings.inbound.guarded import Limits, Road, Unreached, connected

CONNECT, IN_ALL = 5.0, 15.0
"""Seconds for one connection, and for the whole delivery.

Standard Webhooks 1.0.0, "Request timeouts", recommends 15 to 30.
"""
_THE_MACHINES = Road()


@dataclass(frozen=True, slots=True)
class Answered:
    """What became of one attempt.

    `status` is None where no answer came, and `problem` is empty only for a status of 2xx. `wait`
    is how long the receiver asks to be left alone.
    """

    status: int | None
    problem: str
    milliseconds: int
    wait: timedelta = timedelta()


def post(
    text: str, fields: Mapping[str, str], body: bytes, *, road: Road = _THE_MACHINES
) -> Answered:
    """Posts `body` as JSON with these header fields. Raises nothing: a fault is a `problem`.

    Its codes: "not-public", "unknown-host", "unreachable", "certificate", "slow", "no-answer", and
    "status" for an answer that is not 2xx.
    """
    began = time.monotonic()
    limits = Limits.begin(CONNECT, IN_ALL)
    status, problem, wait = None, "", timedelta()
    try:
        address = read_address(text)
        with connected(address, limits, road) as secured:
            answer = _sent(secured, address, fields, body)
            limits.left()  # a connection that was shut down looks like the end of the head
            status, wait = answer.status, _asked_to_wait(answer.getheader("Retry-After"))
            problem = "" if 200 <= status < 300 else "status"
    except Refused:
        problem = "not-public"
    except Unreached as error:
        problem = error.problem
    except (OSError, http.client.HTTPException):
        problem = "slow" if time.monotonic() >= limits.until else "no-answer"
    return Answered(status, problem, round((time.monotonic() - began) * 1000), wait)


def _sent(
    secured: object, address: Address, fields: Mapping[str, str], body: bytes
) -> http.client.HTTPResponse:
    headers = {
        **fields,
        "Content-Type": "application/json",
        "User-Agent": "Levare",
        "Connection": "close",
    }
    connection = http.client.HTTPConnection(address.host)
    connection.sock = secured
    connection.request("POST", address.target, body=body, headers=headers)
    return connection.getresponse()


def _asked_to_wait(text: str | None) -> timedelta:
    """The seconds of a Retry-After field (RFC 9110 section 10.2.3). A date in it is not read."""
    is_seconds = text is not None and text.isascii() and text.isdigit() and len(text) < 8
    return timedelta(seconds=int(text)) if text is not None and is_seconds else timedelta()
