"""The golden mails, read back from their files, which hold each part decoded."""

from collections.abc import Iterator
from dataclasses import dataclass
from email import message_from_string
from pathlib import Path

FOLDER = Path(__file__).parent / "golden/mails"


@dataclass(frozen=True, slots=True)
class GoldenMail:
    """One mail by the name of its file: its subject, and the words of two of its parts."""

    name: str
    subject: str
    plain: str
    html: str


def golden() -> Iterator[GoldenMail]:
    """Every golden mail, by name."""
    for path in sorted(FOLDER.glob("*.mail")):
        text = path.read_bytes().decode().replace("\r\n", "\n")
        head, _, parts = text.partition("\n\n")
        plain = parts.partition("Content-Type: text/plain")[2].partition("\n\n")[2]
        html = parts.partition("Content-Type: text/html")[2].partition("\n\n")[2]
        yield GoldenMail(
            path.stem,
            str(message_from_string(head)["Subject"]),
            plain.partition("--boundary-")[0],
            html.partition("--boundary-")[0],
        )
