"""Servers with a planted fault, for twins: each does one thing wrong that the fault run must find. Never for use."""

import threading
import time
from collections.abc import Callable
from typing import Any

from django.core.wsgi import get_wsgi_application
from django.db import connection, transaction

application = get_wsgi_application()

from groutjobs.pours import merge  # noqa: E402  models need the settings first
from groutjobs.sync import entering, receiving, views  # noqa: E402
from groutjobs.sync.ops import Clock, read_op  # noqa: E402

HELD_BACK_S = 0.3
real_receive_all = receiving.receive_all


def answers_before_commit(*args: Any, **kwargs: Any) -> list[dict[str, Any]]:
    """Gives true receipts a moment before the database has been told to keep them."""
    answers: list[dict[str, Any]] = []
    is_answered = threading.Event()

    def late() -> None:
        try:
            with transaction.atomic():
                answers.extend(real_receive_all(*args, **kwargs))
                is_answered.set()
                time.sleep(HELD_BACK_S)
        finally:
            is_answered.set()
            connection.close()

    threading.Thread(target=late, daemon=True).start()
    is_answered.wait(30)
    return answers


def refuses_before_storing(*args: Any, **kwargs: Any) -> list[dict[str, Any]]:
    """Asks the rules first: what breaks one is refused, and stays on the phone for ever."""
    answers = []
    for one in args[0]:
        op = read_op(one.text)
        if entering.writer_of(op, kwargs["device"]).doubt:
            answers.append({"op_id": one.op_id, "error": {"code": "refused", "message": "refused", "http": 403}})
        else:
            answers += real_receive_all([one], **kwargs)
    return answers


def last_bytes_win(stored: Any, op: Any) -> Any:
    """Takes other bytes under a known id for the same op."""
    return stored


def _plant_before_commit() -> None:
    vars(views)["receive_all"] = answers_before_commit


def _plant_refusal() -> None:
    vars(views)["receive_all"] = refuses_before_storing


def _plant_last_bytes() -> None:
    receiving._same = last_bytes_win


def _plant_trust_in_clocks() -> None:
    Clock.corrected = lambda self, moment: moment  # type: ignore[method-assign]
    Clock.grade = property(lambda self: "A")  # type: ignore[assignment, method-assign]


def _plant_no_conflicts() -> None:
    merge.conflicts = lambda *_: []


PLANTED: dict[str, Callable[[], None]] = {
    "answers_before_commit": _plant_before_commit,
    "refuses_before_storing": _plant_refusal,
    "last_bytes_win": _plant_last_bytes,
    "trusts_clocks": _plant_trust_in_clocks,
    "no_conflicts": _plant_no_conflicts,
}


def app(name: str) -> Any:
    """A server with this fault planted, for gunicorn: groutjobs.faults.mutants:app("…")."""
    PLANTED[name]()
    return application
