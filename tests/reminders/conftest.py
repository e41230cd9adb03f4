"""What the tests of the reminders share: the clock stands at the NOW of their module, and one site."""

from collections.abc import Iterator

import pytest
import time_machine

from groutjobs.equipment.models import Site
from tests.factories import make_site


@pytest.fixture
def clock(request: pytest.FixtureRequest) -> Iterator[time_machine.Traveller]:
    with time_machine.travel(request.module.NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def site() -> Site:
    return make_site(name="Test works on the hill")
