"""A bad line: a relay on loopback that is slow, late, and cuts connections before or after the answer."""

import contextlib
import random
import socket
import threading
import time

CHUNK = 1024


class Line:
    """Relays to a port with so many bits a second, a delay each way, and a share of calls that are cut."""

    def __init__(self, port: int, rng: random.Random, *, bit_s: float, delay_s: float, cut_ratio: float) -> None:
        self.to_port, self.rng = port, rng
        self.bit_s, self.delay_s, self.cut_ratio = bit_s, delay_s, cut_ratio
        self.cuts = 0
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self.listener.getsockname()[1])
        threading.Thread(target=self._accept, daemon=True).start()

    def close(self) -> None:
        self.listener.close()

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self.listener.accept()
            except OSError:
                return
            is_cut = self.rng.random() < self.cut_ratio
            after_answer = self.rng.random() < 0.5
            threading.Thread(target=self._relay, args=(near, is_cut, after_answer), daemon=True).start()

    def _relay(self, near: socket.socket, is_cut: bool, after_answer: bool) -> None:
        """Bytes there and back. A cut loses the end of the question, or the whole answer to one that arrived."""
        self.cuts += is_cut
        with (
            near,
            contextlib.suppress(OSError),
            socket.create_connection(("127.0.0.1", self.to_port), timeout=30) as far,
        ):
            forth = threading.Thread(
                target=self._pump, args=(near, far, 900 if is_cut and not after_answer else None), daemon=True
            )
            forth.start()
            self._pump(far, near, 0 if is_cut and after_answer else None)

    def _pump(self, source: socket.socket, goal: socket.socket, most: int | None) -> None:
        passed, is_first = 0, True
        with contextlib.suppress(OSError):
            while content := source.recv(CHUNK):
                if is_first:
                    time.sleep(self.delay_s)
                    is_first = False
                time.sleep(len(content) * 8 / self.bit_s)
                if most is not None and passed + len(content) > most:
                    break
                goal.sendall(content)
                passed += len(content)
            for end in (source, goal):
                end.shutdown(socket.SHUT_RDWR)
