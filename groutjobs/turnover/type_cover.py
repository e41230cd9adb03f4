"""Which characters the type of the report can print."""

from collections.abc import Iterable
from functools import cache

from django.conf import settings
from fontTools.ttLib import TTFont

FILES = (
    "atkinson-hyperlegible-5.3.0/atkinson-hyperlegible-latin-400-normal.woff2",
    "dejavu-fonts-ttf-2.37.3/DejaVuSans.ttf",
)


@cache
def covered() -> frozenset[int]:
    """Code points that one of our typefaces has a sign for; line ends and tabs count."""
    found = {ord(sign) for sign in "\n\r\t"}
    for name in FILES:
        with TTFont(settings.BASE_DIR / "static" / "vendor" / name, lazy=True) as font:
            found |= set(font.getBestCmap())
    return frozenset(found)


def uncovered(texts: Iterable[str]) -> set[str]:
    """The characters of these texts that no typeface of ours has."""
    return {sign for sign in set().union(*texts) if ord(sign) not in covered()}
