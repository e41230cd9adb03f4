"""What phones send that is no entry of the pour log. A later stage says here which kinds it takes, and how.

Imports go left, so that this stage knows none of those after it: they register when the program starts.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from groutjobs.accounts.models import User
from groutjobs.pours.models import Pour
from groutjobs.sync.ops import Op


@dataclass(frozen=True)
class Arrived:
    """An op that may be entered: who wrote it, how it came, and who vouches for it where a person decided so."""

    op: Op
    pour: Pour
    by: User
    how: dict[str, Any]
    vouched_by: User | None = None


@dataclass(frozen=True)
class Taker:
    """One kind of op. `enter` writes by the action that the desk uses; NotAllowed, Unusable and OutOfRange say why
    not. `words` are label and value pairs for the desk; `known` gives those of some ids that were entered."""

    title: str
    enter: Callable[[Arrived], Any]
    words: Callable[[Op, str], list[tuple[str, str]]]
    known: Callable[[Iterable[UUID]], set[UUID]]


TAKERS: dict[str, Taker] = {}
TOLD: dict[str, Callable[[Pour], Any]] = {}
"""Parts of a snapshot by name, made by the stage that needs them on the phone."""


def known_elsewhere(ids: set[UUID]) -> set[UUID]:
    """Those of the ids that a later stage has entered."""
    if not ids:
        return set()
    found: set[UUID] = set()
    for known in {taker.known for taker in TAKERS.values()}:
        found |= known(ids)
    return found
