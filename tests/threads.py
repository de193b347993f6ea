"""Acts that run at the same time, each in a thread with a connection of its own."""

import threading
from collections.abc import Callable

from django.db import connection


def together(*acts: Callable[[], object]) -> list[BaseException]:
    """All at one moment, each in a thread of its own; what they raised."""
    ready, raised = threading.Barrier(len(acts)), []

    def run(act: Callable[[], object]) -> None:
        ready.wait()
        try:
            act()
        except BaseException as error:
            raised.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(act,)) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return raised


def beside(act: Callable[[], object]) -> threading.Thread:
    """The act in a thread with a connection of its own."""

    def run() -> None:
        try:
            act()
        finally:
            connection.close()

    thread = threading.Thread(target=run)
    thread.start()
    return thread
