"""Reading a PDF with poppler's own programs, so that the reader is not the writer."""

import re
import shutil
import subprocess
import tempfile
from dataclasses import dataclass


def poppler(program: str, *options: str, pdf: bytes) -> str:
    """What the program says about the PDF; the file takes the place of "@"."""
    path = shutil.which(program)
    assert path, f"{program} of poppler is not installed"
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        file.write(pdf)
        file.flush()
        command = [path, *(file.name if option == "@" else option for option in options)]
        run = subprocess.run(command, capture_output=True, check=True)  # noqa: S603  a fixed program
    return run.stdout.decode()


def text_of_pdf(pdf: bytes) -> str:
    """The text as it lies on the pages."""
    return poppler("pdftotext", "-layout", "@", "-", pdf=pdf)


def read_pdf(pdf: bytes) -> str:
    """The text in the order of reading, cell after cell, without white space: a line may break anywhere."""
    return squeezed(poppler("pdftotext", "-raw", "@", "-", pdf=pdf))


def squeezed(text: str) -> str:
    """Text without any white space."""
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
    for line in poppler("pdftotext", "-bbox", "@", "-", pdf=pdf).splitlines():
        if match := re.search(r'<page width="([\d.]+)" height="([\d.]+)"', line):
            page, size = page + 1, (float(match[1]), float(match[2]))
        elif match := re.search(r'xMin="(\S+)" yMin="(\S+)" xMax="(\S+)" yMax="(\S+)">(.*)</word>', line):
            left, top, right, bottom = (float(match[number]) for number in range(1, 5))
            words.append(Word(page, size[0], size[1], left, top, right, bottom, match[5]))
    return words
