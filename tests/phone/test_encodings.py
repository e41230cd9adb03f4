"""The files of the phone's pages go over the wire in the smallest form that the browser takes."""

import gzip

import brotli
import pytest
from django.test import Client
from django.urls import reverse

from groutjobs.phone.shell import shell

UNPACK = {"br": brotli.decompress, "gzip": gzip.decompress, None: bytes}


@pytest.mark.parametrize(
    ("accepts", "encoding"),
    [
        ("gzip, deflate, br, zstd", "br"),
        ("gzip, deflate", "gzip"),
        ("br;q=1.0, gzip;q=0.5", "br"),
        ("identity", None),
        ("", None),
        ("brotli, xgzip", None),
    ],
)
def test_a_file_is_sent_as_the_browser_takes_it(client: Client, accepts: str, encoding: str | None) -> None:
    made = shell()
    url = reverse("phone:app_file", args=[made.build, "main.js"])
    answer = client.get(url, headers={"Accept-Encoding": accepts})
    assert answer.headers.get("Content-Encoding") == encoding
    assert answer.headers["Vary"] == "Accept-Encoding"
    assert UNPACK[encoding](answer.content) == made.files["main.js"].content
    assert len(answer.content) <= len(made.files["main.js"].content)


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["phone:app", "phone:worker"])
def test_pages_of_the_build_are_packed_too(client: Client, name: str) -> None:
    plain = client.get(reverse(name)).content
    for encoding in ("br", "gzip"):
        answer = client.get(reverse(name), headers={"Accept-Encoding": encoding})
        assert answer.headers["Content-Encoding"] == encoding
        assert UNPACK[encoding](answer.content) == plain
        assert len(answer.content) < len(plain)


def test_what_does_not_get_smaller_stays_as_it_is(client: Client) -> None:
    made = shell()
    answer = client.get(
        reverse("phone:app_file", args=[made.build, "icon-512.png"]), headers={"Accept-Encoding": "gzip"}
    )
    file = made.files["icon-512.png"]
    assert (answer.headers.get("Content-Encoding") == "gzip") == (len(file.packed.gzipped) < len(file.content))
