"""Many sealed files in one ZIP with a list of hashes, sent while it is packed; one file is in memory at a time."""

import zipfile
from collections.abc import Iterable, Iterator
from typing import IO, cast

from groutjobs.errors import NotAllowed
from groutjobs.turnover.downloads import file_name
from groutjobs.turnover.models import TurnoverReport
from groutjobs.turnover.register_rows import as_csv
from groutjobs.turnover.store import fetch

MOST_REPORTS = 200
EPOCH = (1980, 1, 1, 0, 0, 0)
HEAD = ["file", "report", "revision", "state", "SHA-256 of the file", "SHA-256 of the record", "what is wrong"]


class Stream:
    """What a ZIP is written to: it can only grow, and hands out what came since the last time."""

    def __init__(self) -> None:
        self.parts: list[bytes] = []

    def write(self, part: bytes) -> int:
        self.parts.append(bytes(part))
        return len(part)

    def flush(self) -> None:
        """Nothing waits here."""

    def taken(self) -> bytes:
        out, self.parts = b"".join(self.parts), []
        return out


def bulk_zip(reports: Iterable[TurnoverReport]) -> Iterator[bytes]:
    """The parts of the ZIP. A file that is missing or does not match its hash is named in the list and left out."""
    stream, rows, sums = Stream(), [HEAD], []
    with zipfile.ZipFile(cast(IO[bytes], stream), "w", zipfile.ZIP_STORED) as out:  # it needs only write
        for report in reports:
            name, wrong = f"{file_name(report)}.pdf", ""
            try:
                out.writestr(zipfile.ZipInfo(name, EPOCH), fetch(report.pdf_sha256))
                sums.append(f"{report.pdf_sha256}  {name}\n")
            except NotAllowed as error:
                wrong = str(error)
            rows.append(
                [
                    name, report.number, str(report.revision), report.get_state_display(), report.pdf_sha256,
                    report.manifest_sha256, wrong,
                ]
            )  # fmt: skip
            yield stream.taken()
        out.writestr(zipfile.ZipInfo("manifest.csv", EPOCH), as_csv(rows))
        out.writestr(zipfile.ZipInfo("SHA256SUMS", EPOCH), "".join(sums))
    yield stream.taken()
