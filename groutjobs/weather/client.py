"""The one way out to the forecast services. Only the worker and the command fetch_forecasts come here, never a page.

A request goes to a host of the list, over TLS, to an address that was checked to be public, and names who asks [USNWS]
[METNO]. A redirect is not followed. What comes back is JSON, of limited size after unpacking and within a limited time.
"""

import datetime as dt
import email.utils
import ipaddress
import socket
import ssl
import time
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from urllib.parse import urlsplit

import httpx

from groutjobs.errors import GroutJobsError
from groutjobs.fields import quoted
from groutjobs.weather.services.offered import HOSTS

PROGRAM = "groutjobs/0.1.0"
LARGEST_BYTES = 6 * 1024 * 1024
JSON_TYPES = ("application/json", "application/geo+json", "application/ld+json")
A_DAY = dt.timedelta(days=1)
_NAT64 = ipaddress.ip_network("64:ff9b::/96")


class NoAnswer(GroutJobsError):
    """No answer that can be read. `of_service`: the service is at fault for everybody, so it counts for the breaker.

    `wait` is how long to leave it alone at least: what the service asked for, or a day where asking again is idle.
    """

    def __init__(self, reason: str, *, of_service: bool = True, wait: dt.timedelta | None = None) -> None:
        self.reason = reason
        self.of_service = of_service
        self.wait = wait
        super().__init__(reason)


@dataclass(frozen=True)
class Question:
    """What is asked for, in whose name, and what is held already."""

    url: str
    contact: str
    etag: str = ""
    last_modified: str = ""


@dataclass(frozen=True)
class Answer:
    """The body, None where nothing is newer than what is held; fresh_for says how long nothing newer will come."""

    body: bytes | None
    etag: str = ""
    last_modified: str = ""
    fresh_for: dt.timedelta = field(default_factory=dt.timedelta)


def public_addresses(host: str) -> list[str]:
    """The addresses of a host; refused where one of them is not on the public internet."""
    try:
        found = socket.getaddrinfo(host, 443, type=socket.SOCK_STREAM)
    except OSError as error:
        raise NoAnswer(f"the name {host} is not found: {error.strerror or 'no answer'}") from error
    addresses = sorted({str(row[4][0]) for row in found}, key=lambda text: (":" in text, text))
    for text in addresses:
        if not _is_public(text):
            raise NoAnswer(f"the name {host} leads to {text}, which is not on the public internet; nothing was sent")
    if not addresses:
        raise NoAnswer(f"the name {host} has no address")
    return addresses


def _is_public(text: str) -> bool:
    """Whether an address, and any IPv4 address inside it, is public."""
    address = ipaddress.ip_address(text.partition("%")[0])
    if isinstance(address, ipaddress.IPv6Address):
        inner = address.ipv4_mapped or address.sixtofour
        if address in _NAT64:
            inner = ipaddress.IPv4Address(int(address) & 0xFFFFFFFF)
        if inner is not None:
            return inner.is_global and not inner.is_multicast
    return address.is_global and not address.is_multicast


@dataclass(frozen=True)
class Way:
    """How a host of the list is reached. Tests lead it to a server of their own."""

    scheme: str = "https"
    port: int = 443
    addresses: Callable[[str], list[str]] = public_addresses
    connect_s: float = 5.0
    read_s: float = 10.0
    whole_s: float = 40.0


WAY_OUT = Way()


def ask(question: Question) -> Answer:
    """Ask a service; NoAnswer says in words why there is none."""
    way = WAY_OUT
    host = _listed_host(question.url)
    parts = urlsplit(question.url)
    address = way.addresses(host)[0]
    path = f"{parts.path}?{parts.query}" if parts.query else parts.path
    url = httpx.URL(scheme=way.scheme, host=address, port=way.port, raw_path=path.encode())
    until = time.monotonic() + way.whole_s
    timeout = httpx.Timeout(way.read_s, connect=way.connect_s)
    try:
        with httpx.Client(verify=_trusted(), timeout=timeout, follow_redirects=False, trust_env=False) as client:
            # The name is resolved once and checked; the certificate must still be that of the name.
            request = client.build_request("GET", url, headers=_headers(question), extensions={"sni_hostname": host})
            request.headers["Host"] = host
            with _Closing(client.send(request, stream=True)) as response:
                return _answer(response, question, until)
    except httpx.TimeoutException as error:
        raise NoAnswer(f"{host} did not answer in time") from error
    except (httpx.HTTPError, httpx.InvalidURL, httpx.StreamError) as error:
        raise NoAnswer(f"{host} was not reached: {str(error)[:160] or type(error).__name__}") from error


@cache
def _trusted() -> ssl.SSLContext:
    """The certificates that are believed, read once for each process."""
    return httpx.create_ssl_context(trust_env=False)


class _Closing:
    """Close a streamed response whatever happens; its connection is not used again."""

    def __init__(self, response: httpx.Response) -> None:
        self.response = response

    def __enter__(self) -> httpx.Response:
        return self.response

    def __exit__(self, *what: object) -> None:
        self.response.close()


def _listed_host(url: str) -> str:
    parts = urlsplit(url)
    plain = parts.netloc == parts.hostname and parts.scheme == "https"
    if not plain or parts.hostname not in HOSTS:
        raise NoAnswer(f"{quoted(url)} is not on the list of services; nothing was sent", of_service=False, wait=A_DAY)
    return str(parts.hostname)


def _headers(question: Question) -> dict[str, str]:
    headers = {
        "User-Agent": f"{PROGRAM} ({question.contact})",
        "Accept": "application/geo+json, application/json",
        "Accept-Encoding": "gzip",
    }
    if question.etag:
        headers["If-None-Match"] = question.etag
    if question.last_modified:
        headers["If-Modified-Since"] = question.last_modified
    return headers


def _answer(response: httpx.Response, question: Question, until: float) -> Answer:
    status = response.status_code
    asked_for_changes = bool(question.etag or question.last_modified)
    if status == 304 and asked_for_changes:
        return Answer(None, question.etag, question.last_modified, _fresh_for(response))
    if status not in {200, 203}:
        raise _refusal(response)
    kind = response.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in JSON_TYPES:
        raise NoAnswer(f"the answer is not JSON but {quoted(kind or 'of no stated kind')}")
    return Answer(
        body=_body(response, until),
        etag=_kept_header(response, "etag"),
        last_modified=_kept_header(response, "last-modified"),
        fresh_for=_fresh_for(response),
    )


def _refusal(response: httpx.Response) -> NoAnswer:
    """Why an answer with this status is none."""
    status = response.status_code
    if status in {301, 302, 303, 305, 307, 308}:
        where = quoted(response.headers.get("location", "nowhere"))
        return NoAnswer(f"it sends the request elsewhere ({status}, to {where}); redirects are not followed")
    if status in {401, 403}:
        return NoAnswer(
            f"it refuses the request ({status}); look at the contact that is sent with it", of_service=False, wait=A_DAY
        )
    if status in {400, 404, 410, 422}:
        return NoAnswer(f"it has no forecast for this place ({status})", of_service=False, wait=A_DAY / 4)
    if status == 429:
        return NoAnswer("it is asked too often (429)", wait=_retry_after(response))
    return NoAnswer(f"it answered with status {status}", wait=_retry_after(response))


def _body(response: httpx.Response, until: float) -> bytes:
    """The whole body, unpacked piece by piece so that a small answer cannot fill the memory."""
    packing = response.headers.get("content-encoding", "").strip().lower()
    if packing not in {"", "identity", "gzip"}:
        raise NoAnswer(f"the answer is packed as {quoted(packing)}, which was not asked for")
    unpacker = zlib.decompressobj(wbits=31) if packing == "gzip" else None
    body, received = bytearray(), 0
    for piece in response.iter_raw():
        received += len(piece)
        try:
            body += unpacker.decompress(piece, LARGEST_BYTES + 1 - len(body)) if unpacker else piece
        except zlib.error as error:
            raise NoAnswer("the answer is not packed as it says (gzip)") from error
        if max(len(body), received) > LARGEST_BYTES:
            raise NoAnswer(f"the answer is longer than {LARGEST_BYTES // 1024 // 1024} MB")
        if time.monotonic() > until:
            raise NoAnswer("the answer came too slowly and was broken off")
    if unpacker and not unpacker.eof:
        raise NoAnswer("the answer breaks off before its end")
    return bytes(body)


def _kept_header(response: httpx.Response, name: str) -> str:
    """A header to send back later; one that is too long to keep is as good as none."""
    text = str(response.headers.get(name, ""))
    return text if len(text) <= 200 and text.isprintable() else ""


def _fresh_for(response: httpx.Response) -> dt.timedelta:
    """How long the answer stays the newest: max-age before Expires, as RFC 9111 5.2 and 5.3 order them [RFC9111]."""
    for directive in response.headers.get("cache-control", "").split(","):
        name, _, seconds = directive.strip().partition("=")
        if name.lower() == "max-age" and seconds.isascii() and seconds.isdigit() and len(seconds) < 9:
            return dt.timedelta(seconds=int(seconds))
    return _until(response, response.headers.get("expires", "")) or dt.timedelta()


def _retry_after(response: httpx.Response) -> dt.timedelta | None:
    """The wait that the service asks for, in seconds or up to a date [RFC9110]."""
    text = response.headers.get("retry-after", "").strip()
    if text.isascii() and text.isdigit() and len(text) < 9:
        return dt.timedelta(seconds=int(text))
    return _until(response, text)


def _until(response: httpx.Response, text: str) -> dt.timedelta | None:
    """From the service's own clock to a date of its; None where there is no date that lies ahead."""
    ends = _http_date(text)
    now = _http_date(response.headers.get("date", "")) or dt.datetime.now(dt.UTC)
    return ends - now if ends and ends > now else None


def _http_date(text: str) -> dt.datetime | None:
    try:
        moment = email.utils.parsedate_to_datetime(text)
    except (ValueError, TypeError):
        return None
    return moment.astimezone(dt.UTC) if moment.tzinfo else moment.replace(tzinfo=dt.UTC)
