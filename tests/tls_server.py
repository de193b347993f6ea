"""A small TLS server on this machine, with a certificate authority of its own, for tests of what is
fetched.
"""

import datetime
import re
import socket
import ssl
import threading
from collections.abc import Callable
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

HOST = "calendar.rowanmere.example"
PUBLIC = "93.184.216.34"
"""What the test's resolver answers: the connector leads to this machine all the same."""
Answer = Callable[[socket.socket, bytes], None]


def certificate(folder: Path, host: str = HOST) -> tuple[Path, Path]:
    """A certificate for the host that vouches for itself, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, host)])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(host)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    public, private = folder / "certificate.pem", folder / "key.pem"
    public.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    private.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    return public, private


class TlsServer:
    """Answers each connection with the next of `answers`; `requests` are the heads it got, `asked`
    the IPs the client chose.
    """

    def __init__(self, folder: Path) -> None:
        public, private = certificate(folder)
        self._context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        self._context.load_cert_chain(public, private)
        self.trusted = ssl.create_default_context(cafile=str(public))
        self.answers: list[Answer] = []
        self.requests: list[bytes] = []
        self.asked: list[str] = []
        self._socket = socket.create_server(("127.0.0.1", 0))
        threading.Thread(target=self._serve, daemon=True).start()

    def close(self) -> None:
        self._socket.close()

    def connect(self, address: str, seconds: float) -> socket.socket:
        """A connector that leads to this server, whatever address was judged."""
        self.asked.append(address)
        return socket.create_connection(self._socket.getsockname(), timeout=seconds)

    def _serve(self) -> None:
        while True:
            try:
                plain, _ = self._socket.accept()
            except OSError:
                return
            threading.Thread(target=self._answer, args=(plain,), daemon=True).start()

    def _answer(self, plain: socket.socket) -> None:
        try:
            with self._context.wrap_socket(plain, server_side=True) as secured:
                head = b""
                while b"\r\n\r\n" not in head:
                    more = secured.recv(65_536)
                    if not more:
                        return
                    head += more
                self.requests.append(head)
                # Closed before it has read the body, it would take its answer back with a reset.
                read = len(head.partition(b"\r\n\r\n")[2])
                while read < _length(head) and (more := secured.recv(65_536)):
                    read += len(more)
                self.answers.pop(0)(secured, head)
        except OSError:
            return  # the client has gone, which some tests want it to


def _length(head: bytes) -> int:
    found = re.search(rb"(?i)\r\ncontent-length: (\d+)", head)
    return int(found[1]) if found else 0


def say(status: str = "200 OK", body: bytes = b"", **headers: str) -> Answer:
    """An answer with that status, header fields (content_type is text/calendar unless said) and
    body.
    """
    fields = {
        "content_type": "text/calendar; charset=utf-8",
        "content_length": str(len(body)),
        **headers,
    }
    head = "".join(
        f"{name.replace('_', '-')}: {value}\r\n" for name, value in fields.items() if value
    )
    return lambda secured, _: secured.sendall(f"HTTP/1.1 {status}\r\n{head}\r\n".encode() + body)
