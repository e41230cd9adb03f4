"""Reading a PDF with poppler's own programs, so that the reader is not the writer."""

import re
import shutil
import subprocess
from dataclasses import dataclass


def poppler(program: str, *options: str, pdf: bytes) -> str:
    path = shutil.which(program)
    assert path, f"{program} of poppler is not installed"
    run = subprocess.run([path, *options], input=pdf, capture_output=True, check=True)  # noqa: S603  a fixed program
    return run.stdout.decode()


def text_of_pdf(pdf: bytes) -> str:
    return poppler("pdftotext", "-layout", "-", "-", pdf=pdf)


def squeezed(text: str) -> str:
    """Text without any white space: a line may break anywhere."""
    return re.sub(r"\s+", "", text.replace("\u00ad", ""))


@dataclass(frozen=True)
class Word:
    page: int
    page_width: float
    page_height: float
    left: float
    top: float
    right: float
    bottom: float
    text: str


def words_of_pdf(pdf: bytes) -> list[Word]:
    """Every word with its box, in points from the upper left corner of its page."""
    page, size, words = 0, (0.0, 0.0), []
    for line in poppler("pdftotext", "-bbox", "-", "-", pdf=pdf).splitlines():
        if match := re.search(r'<page width="([\d.]+)" height="([\d.]+)"', line):
            page, size = page + 1, (float(match[1]), float(match[2]))
        elif match := re.search(r'xMin="(\S+)" yMin="(\S+)" xMax="(\S+)" yMax="(\S+)">(.*)</word>', line):
            words.append(Word(page, *size, *(float(match[number]) for number in range(1, 5)), match[5]))
    return words
