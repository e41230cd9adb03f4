"""The way out: who is asked, what is sent, and how every bad answer ends in a sentence instead of a forecast."""

import datetime as dt
import gzip
import socket
import time
from typing import Any

import pytest

from groutjobs.weather import client
from groutjobs.weather.client import LARGEST_BYTES, Answer, NoAnswer, Question, ask, public_addresses
from tests.weather.forecast_server import CONTACT, Asked, Server, send

URL = "https://api.met.no/weatherapi/locationforecast/2.0/complete?lat=36.1&lon=-79.95"


def question(**more: str) -> Question:
    return Question(URL, CONTACT, **more)


def refused(server: Server, *answers: Any, **more: str) -> NoAnswer:
    server.answers = list(answers)
    with pytest.raises(NoAnswer) as error:
        ask(question(**more))
    return error.value


def test_it_names_who_asks_and_what_it_holds(service: Server) -> None:
    service.answers = [send(b"{}")]
    ask(question(etag='"abc"', last_modified="Mon, 04 May 2026 08:12:33 GMT"))
    path, headers = service.asked[0]
    assert path == "/weatherapi/locationforecast/2.0/complete?lat=36.1&lon=-79.95"
    assert headers["host"] == "api.met.no"
    assert headers["user-agent"] == f"groutjobs/0.1.0 ({CONTACT})"
    assert headers["if-none-match"] == '"abc"'
    assert headers["if-modified-since"] == "Mon, 04 May 2026 08:12:33 GMT"
    assert "cookie" not in headers


def test_it_hands_back_body_and_validators(service: Server) -> None:
    service.answers = [send(b'{"a": 1}', ETag='"x"', Last_Modified="Mon, 04 May 2026 08:12:33 GMT")]
    answer = ask(question())
    assert (answer.body, answer.etag, answer.last_modified) == (b'{"a": 1}', '"x"', "Mon, 04 May 2026 08:12:33 GMT")


def test_it_unpacks_gzip(service: Server) -> None:
    service.answers = [send(gzip.compress(b'{"a": 1}'), Content_Encoding="gzip")]
    assert ask(question()).body == b'{"a": 1}'


def test_nothing_newer_keeps_the_validators(service: Server) -> None:
    service.answers = [send(status=304, Cache_Control="max-age=600")]
    assert ask(question(etag='"x"')) == Answer(None, '"x"', "", dt.timedelta(minutes=10))


# RFC 9111 5.3: a max-age directive overrides Expires. 4.2.1: Expires counts from Date. From memory.
@pytest.mark.parametrize(
    ("headers", "minutes"),
    [
        ({"Cache_Control": "public, max-age=1800", "Expires": "Mon, 04 May 2026 20:00:00 GMT"}, 30),
        ({"Date": "Mon, 04 May 2026 08:00:00 GMT", "Expires": "Mon, 04 May 2026 08:40:00 GMT"}, 40),
        ({"Date": "Mon, 04 May 2026 08:00:00 GMT", "Expires": "Mon, 04 May 2026 07:00:00 GMT"}, 0),
        ({"Cache_Control": "max-age=soon", "Expires": "0"}, 0),
        ({}, 0),
    ],
)
def test_it_reads_how_long_the_answer_stays_fresh(service: Server, headers: dict[str, str], minutes: int) -> None:
    def answer(asked: Asked) -> None:
        asked.send_response_only(200)
        for name, value in ({"Content-Type": "application/json", "Content-Length": "2"} | headers).items():
            asked.send_header(name.replace("_", "-"), value)
        asked.end_headers()
        asked.wfile.write(b"{}")

    service.answers = [answer]
    assert ask(question()).fresh_for == dt.timedelta(minutes=minutes)


@pytest.mark.parametrize(
    ("answer", "words", "of_service"),
    [
        (send(b"<html>", Content_Type="text/html"), ["not JSON", "text/html"], True),
        (send(b"{}", Content_Type=""), ["not JSON", "no stated kind"], True),
        (send(status=301, Location="https://other.example/"), ["elsewhere", "other.example", "not followed"], True),
        (send(status=302, Location="http://169.254.169.254/latest"), ["elsewhere", "169.254.169.254"], True),
        (send(status=304), ["status 304"], True),
        (send(status=403), ["refuses", "403", "contact"], False),
        (send(status=404), ["no forecast for this place", "404"], False),
        (send(status=500), ["status 500"], True),
        (send(b"{}", Content_Encoding="br"), ["packed as “br”"], True),
        (send(b"no gzip", Content_Encoding="gzip"), ["not packed as it says"], True),
        (send(gzip.compress(b"{}" * 999)[:-9], Content_Encoding="gzip"), ["breaks off"], True),
        (send(b'{"a":', Content_Length="4000"), ["was not reached"], True),
        (send(b" " * (LARGEST_BYTES + 9)), ["longer than 6 MB"], True),
        (send(gzip.compress(b" " * 60_000_000), Content_Encoding="gzip"), ["longer than 6 MB"], True),
        (send(gzip.compress(b"{}") + b"\0" * (LARGEST_BYTES + 9), Content_Encoding="gzip"), ["longer than 6"], True),
    ],
)
def test_a_bad_answer_is_refused_in_words(service: Server, answer: Any, words: list[str], of_service: bool) -> None:
    error = refused(service, answer)
    assert [word for word in words if word not in error.reason] == []
    assert error.of_service == of_service
    assert len(service.asked) == 1


# RFC 9110 10.2.3 gives the forms: seconds, or a date. From memory.
@pytest.mark.parametrize(
    ("text", "minutes"),
    [("120", 2), ("Mon, 04 May 2026 08:30:00 GMT", 30), ("later", None), ("", None), ("-5", None)],
)
def test_it_hears_how_long_to_wait(service: Server, text: str, minutes: int | None) -> None:
    def answer(asked: Asked) -> None:
        asked.send_response_only(429)
        asked.send_header("Date", "Mon, 04 May 2026 08:00:00 GMT")
        asked.send_header("Retry-After", text)
        asked.end_headers()

    error = refused(service, answer)
    assert "too often" in error.reason
    assert error.wait == (None if minutes is None else dt.timedelta(minutes=minutes))


def test_a_service_that_says_nothing_is_given_up(service: Server) -> None:
    assert "did not answer in time" in refused(service, lambda asked: time.sleep(1)).reason


def test_a_service_that_drips_is_broken_off(service: Server) -> None:
    def drip(asked: Asked) -> None:
        asked.send_response(200)
        asked.send_header("Content-Type", "application/json")
        asked.end_headers()
        for _ in range(40):
            asked.wfile.write(b" ")
            time.sleep(0.1)

    assert "too slowly" in refused(service, drip).reason


def test_a_closed_door_is_told(service: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        way = client.Way("http", taken.getsockname()[1], lambda host: ["127.0.0.1"])
        monkeypatch.setattr(client, "WAY_OUT", way)
        assert "was not reached" in refused(service, send()).reason


@pytest.mark.parametrize(
    "url",
    [
        "https://other.example/forecast",
        "http://api.met.no/forecast",
        "https://api.met.no:8443/forecast",
        "https://someone@api.met.no/forecast",
        "https://api.met.no.other.example/forecast",
        "https://127.0.0.1/forecast",
        "file:///etc/hostname",
    ],
)
def test_only_hosts_of_the_list_are_asked(service: Server, url: str) -> None:
    with pytest.raises(NoAnswer, match="not on the list"):
        ask(Question(url, CONTACT))
    assert service.asked == []


# Ranges that are not public: RFC 1918, RFC 3927, RFC 4193, RFC 6598, RFC 6890, as Python's ipaddress holds them.
@pytest.mark.parametrize(
    "address",
    ["127.0.0.1", "10.1.2.3", "172.16.0.9", "192.168.1.1", "169.254.169.254", "100.64.0.1", "0.0.0.1", "224.0.0.1",
     "::1", "fe80::1", "fd00::1", "::ffff:10.0.0.1", "64:ff9b::a00:1", "2002:7f00:1::", "ff02::1"],
)  # fmt: skip
def test_a_name_that_leads_inside_is_refused(service: Server, monkeypatch: pytest.MonkeyPatch, address: str) -> None:
    rows = [(None, None, None, None, ("93.184.216.34", 443)), (None, None, None, None, (address, 443))]
    monkeypatch.setattr(socket, "getaddrinfo", lambda *names, **more: rows)
    monkeypatch.setattr(client, "WAY_OUT", client.Way("http", service.port))
    with pytest.raises(NoAnswer, match="not on the public internet; nothing was sent"):
        ask(question())
    assert service.asked == []


def test_public_addresses_pass_ipv4_first(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [(None, None, None, None, (text, 443)) for text in ("2606:2800:220:1::1", "93.184.216.34")]
    monkeypatch.setattr(socket, "getaddrinfo", lambda *names, **more: rows)
    assert public_addresses("api.met.no") == ["93.184.216.34", "2606:2800:220:1::1"]


def test_a_name_that_is_not_found_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def unknown(*names: Any, **more: Any) -> None:
        raise socket.gaierror(-2, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    with pytest.raises(NoAnswer, match="not found"):
        public_addresses("api.met.no")
