"""A mail server of a few lines, on a port of its own and in a thread: enough of RFC 5321 for one client at a time."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BufferedRWPair

ANSWERS = {"EHLO": "250 here", "HELO": "250 here", "MAIL": "250 yes", "RCPT": "250 yes", "RSET": "250 yes"}


@dataclass
class Server:
    port: int
    refuses: str = ""
    commands: list[str] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)

    def serve(self, listening: socket.socket) -> None:
        while True:
            try:
                connection, _ = listening.accept()
            except OSError:
                return
            with connection, connection.makefile("rwb") as lines:
                self._talk(lines)

    def _talk(self, lines: BufferedRWPair) -> None:
        def say(text: str) -> None:
            lines.write(f"{text}\r\n".encode())
            lines.flush()

        say("220 here")
        for line in iter(lines.readline, b""):
            command = line.decode().strip()
            self.commands.append(command)
            verb = command[:4].upper()
            if verb == "QUIT":
                say("221 bye")
                return
            if verb == self.refuses:
                say("451 the disk is full")
            elif verb == "DATA":
                say("354 go on")
                self.messages.append(_read_message(lines))
                say("250 kept")
            else:
                say(ANSWERS.get(verb, "502 not known"))


def _read_message(lines: BufferedRWPair) -> str:
    found: list[bytes] = []
    for line in iter(lines.readline, b".\r\n"):
        found.append(line)
    return b"".join(found).decode()


@contextmanager
def mail_server(*, refuses: str = "") -> Iterator[Server]:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        server = Server(listening.getsockname()[1], refuses)
        thread = threading.Thread(target=server.serve, args=[listening], daemon=True)
        thread.start()
        yield server
        listening.shutdown(socket.SHUT_RDWR)
    thread.join(timeout=5)
