"""A forecast service in the test process: answers on loopback as the test tells it, and remembers what it was asked."""

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from groutjobs.weather.services.reading import Place

FORECASTS = Path(__file__).resolve().parents[2] / "fixtures" / "forecasts"
JSON = {"Content-Type": "application/json"}
PLACE = Place(36.1, -79.95, 273.0)
CONTACT = "shop@plant.example"
Asked = BaseHTTPRequestHandler
Answer = Callable[[Asked], None]


def body_of(name: str) -> bytes:
    """A made answer in the documented shape; the files say so themselves."""
    return (FORECASTS / name).read_bytes()


def changed(name: str, change: Callable[[Any], None]) -> bytes:
    """The made answer after a change to it."""
    answer = json.loads(body_of(name))
    change(answer)
    return json.dumps(answer).encode()


def send(body: bytes = b"", status: int = 200, **headers: str) -> Answer:
    """An answer with this body; an underscore in the name of a header stands for a hyphen."""

    def answer(asked: Asked) -> None:
        named = JSON | {name.replace("_", "-"): value for name, value in headers.items()}
        asked.send_response(status)
        for name, value in ({"Content-Length": str(len(body))} | named).items():
            asked.send_header(name, value)
        asked.end_headers()
        asked.wfile.write(body)

    return answer


class Server:
    """What it answers stands in `answers`: the one for each request, the last one again and again."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.answers: list[Answer] = []
        self.asked: list[tuple[str, dict[str, str]]] = []

    def reply(self, asked: Asked) -> None:
        self.asked.append((asked.path, {name.lower(): value for name, value in asked.headers.items()}))
        answer = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
        answer(asked)


@contextmanager
def running() -> Iterator[Server]:
    """The server on a free port of loopback."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            try:
                state.reply(self)
            except (BrokenPipeError, ConnectionResetError):
                self.close_connection = True

        def log_message(self, *words: Any) -> None:
            """Say nothing."""

    http = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    http.daemon_threads = True
    state = Server(http.server_address[1])
    thread = threading.Thread(target=http.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield state
    finally:
        http.shutdown()
        http.server_close()
        thread.join()
