"""`manage.py demo`: tells the story once, then serves the school."""

import shutil
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from bookings.demo import people
from bookings.demo.client import NotSoError
from bookings.demo.server import serving
from bookings.demo.story import tell

WHO = (
    (people.NOOR, "student, New York"),
    (people.HEDDA, "guardian of Posy, Sydney"),
    (people.ORSOLA, "guardian of Lark and Kit, London; Kit's consent is missing"),
    (people.ILSE, "lead instructor, Dublin"),
    (people.TENZIN, "instructor, Kathmandu; eight consultations today"),
    (people.BRAM, "instructor, Lord Howe Island"),
    (people.DAG, "admin"),
)


class Command(BaseCommand):
    """Serves until Ctrl-C."""

    help = "Load a fresh demo school under var/demo, run the main job once, then serve it."
    requires_system_checks = []  # the server checks at its own start

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *, port: int, **options: Any) -> None:
        folder = settings.VAR_DIR / "demo"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        try:
            with serving(folder, port) as house:
                tell(house.base, house.mailbox, say=self._say)
                self._introduce(house.base)
                house.process.wait()
            raise CommandError("The server ended by itself; var/demo/server.log says why.")
        except NotSoError as error:
            raise CommandError(str(error)) from error
        except (OSError, OverflowError) as error:
            raise CommandError(
                f"Port {port}: {error}. Choose another: make demo ARGS='--port 8001'"
            ) from error
        except KeyboardInterrupt:
            self._say("Stopped.")

    def _introduce(self, base: str) -> None:
        self._say(
            f"\nThe school is open at {base}/ until Ctrl-C; its clock runs on from Monday 1 March "
            "2027. Sign in as"
        )
        for who, role in WHO:
            self._say(f"  {who.email:40} {role}")
        self._say(f"with the password {people.PASSWORD}")
        self._say(
            f"API: {base}/api/docs/   Office: {base}/office/   Emails as files: var/demo/mail"
        )

    def _say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()  # flushed, so that the story can be followed through a pipe
