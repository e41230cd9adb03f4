"""The way out to the forecast services leads to a server of the test's own."""

from collections.abc import Iterator

import pytest

from groutjobs.weather import client
from tests.weather.forecast_server import Server, running


def loopback(host: str) -> list[str]:
    return ["127.0.0.1"]


@pytest.fixture
def service(monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    with running() as server:
        way = client.Way("http", server.port, loopback, connect_s=2, read_s=0.5, whole_s=1.5)
        monkeypatch.setattr(client, "WAY_OUT", way)
        yield server
