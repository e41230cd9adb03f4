"""Trusted time from an authority that a client names (RFC 3161); off unless GROUTJOBS_TSA_URL is set."""

import httpx
from asn1crypto import tsp
from django.conf import settings
from pyhanko.sign.timestamps import TimeStamper

TIME_LIMIT_S = 15.0
MOST_BYTES = 64 * 1024


class HttpxTimeStamper(TimeStamper):
    """Asks one address over HTTPS, follows no redirects and reads no more than 64 kB."""

    def __init__(self, url: str) -> None:
        if not url.startswith("https://"):
            raise ValueError("GROUTJOBS_TSA_URL must begin with https://")
        super().__init__()  # type: ignore[no-untyped-call]
        self.url = url

    async def async_request_tsa_response(self, req: tsp.TimeStampReq) -> tsp.TimeStampResp:
        headers = {"Content-Type": "application/timestamp-query", "Accept": "application/timestamp-reply"}
        async with httpx.AsyncClient(timeout=TIME_LIMIT_S, follow_redirects=False) as client:
            answer = await client.post(self.url, content=req.dump(), headers=headers)
        answer.raise_for_status()
        if len(answer.content) > MOST_BYTES:
            raise ValueError(f"the time-stamp authority answered with {len(answer.content)} bytes")
        return tsp.TimeStampResp.load(answer.content)


def timestamper() -> TimeStamper | None:
    """The authority of the settings, or None."""
    return HttpxTimeStamper(settings.TSA_URL) if settings.TSA_URL else None
