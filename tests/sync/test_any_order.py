"""Through the tables: what two phones made, received in any order, some of it twice, ends in one state."""

import random
from typing import Any

import pytest

from groutjobs.faults.fi_04 import story
from groutjobs.faults.phone import Made
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import log_of, pour_whole
from groutjobs.sync import snapshot
from groutjobs.sync.models import PhoneOp
from tests.factories import make_pour
from tests.sync.calling import Wire, make_device, make_phone

pytestmark = pytest.mark.django_db


def state(pour: Pour, ops: list[Made]) -> Any:
    whole = pour_whole().get(pk=pour.pk)
    log = log_of(whole)
    place = {one.op_id: number for number, one in enumerate(ops)}
    lines = [(place[str(line.fact.id)], line.title, line.is_struck, line.struck_reason) for line in log.lines]
    sides = [[place[str(side)] for side in one.sides] for one in log.conflicts]
    waiting = snapshot.log_since(whole, 0)["waiting"]
    return lines, sides, log.state, log.batches, [fill.full_at for fill in log.fills], waiting


@pytest.mark.parametrize("seed", range(6))
def test_the_state_does_not_depend_on_the_order_of_arrival(seed: int) -> None:
    rng = random.Random(seed)  # noqa: S311  a shuffle, not a secret
    states = []
    for is_shuffled in (False, True):
        pour = make_pour()
        site = pour.plan.machine.site
        phones = [make_phone(site, pour.opened_by, name, make_device(site, name)) for name in ("Phone 1", "Phone 2")]
        ops = story(phones[0], phones[1], pour.pk)
        order = ops + rng.choices(ops, k=5) if is_shuffled else list(ops)
        if is_shuffled:
            rng.shuffle(order)
        wires = {phone.device_id: Wire(phone) for phone in phones}
        for one in order:
            device_id = next(name for name in wires if name in one.text)
            wires[device_id].send(one)
        states.append(state(pour, ops))
        assert PhoneOp.objects.filter(pour=pour).count() == len(ops)
        assert pour.entries.count() == len(ops)
    assert states[0][0] == states[1][0]
    assert states[0] == states[1]
