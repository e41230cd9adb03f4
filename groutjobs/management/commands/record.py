"""The record as a file, its verification, its anchors and its key."""

import datetime as dt
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from groutjobs.audit.anchors import anchor_lines, anchor_words, make_anchor
from groutjobs.audit.export import VERIFIER, export_lines, first_fault, verifier_sha256
from groutjobs.audit.keys import change_key
from groutjobs.errors import NotAllowed


class Command(BaseCommand):
    help = "Export the record with its anchors, verify it, make an anchor, or begin a new key that signs anchors."

    def add_arguments(self, parser: CommandParser) -> None:
        steps = parser.add_subparsers(dest="step", required=True)
        export = steps.add_parser("export", help="write export, anchors and the verifier into a folder")
        export.add_argument("folder", type=Path)
        export.add_argument("--site", type=int, help="number of a site; events of others go in as hashes only")
        steps.add_parser("verify", help="check chain, tree and anchors; names the first bad place")
        anchor = steps.add_parser("anchor", help="make an anchor if the last one is older than --hours")
        anchor.add_argument("--hours", type=float, default=0.0)
        key = steps.add_parser("new-key", help="begin a new key; the change is noted in the record")
        key.add_argument("--reason", required=True)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            {"export": self._export, "verify": self._verify, "anchor": self._anchor, "new-key": self._new_key}[
                options["step"]
            ](options)
        except NotAllowed as error:
            raise CommandError(str(error)) from error

    def _export(self, options: dict[str, Any]) -> None:
        folder: Path = options["folder"]
        folder.mkdir(parents=True, exist_ok=True)
        make_anchor()
        count = _write(folder / "export.jsonl", export_lines(site_id=options["site"])) - 2
        _write(folder / "anchors.txt", (f"{line}\n" for line in anchor_lines()))
        (folder / VERIFIER.name).write_bytes(VERIFIER.read_bytes())
        self.stdout.write(f"{count} events in {folder}. Check them anywhere with Python 3 alone, in that folder:\n")
        self.stdout.write(f"  python3 {VERIFIER.name} export.jsonl anchors.txt\n")
        self.stdout.write(f"SHA-256 of {VERIFIER.name}: {verifier_sha256()}\n")

    def _verify(self, options: dict[str, Any]) -> None:
        fault = first_fault()
        if fault:
            raise CommandError(f"The record does not hold: {fault}.")
        self.stdout.write("The record holds: chain, tree and anchors.\n")

    def _anchor(self, options: dict[str, Any]) -> None:
        anchor = make_anchor(older_than=dt.timedelta(hours=options["hours"]))
        self.stdout.write(f"{anchor_words(anchor)}  {anchor.at:%Y-%m-%d %H:%M} UTC\n")

    def _new_key(self, options: dict[str, Any]) -> None:
        key = change_key(reason=options["reason"])
        make_anchor()
        self.stdout.write(f"Anchors are signed with {key.fingerprint} from now on.\n")


def _write(path: Path, lines: Iterable[str]) -> int:
    count = 0
    with path.open("w", encoding="utf-8", newline="\n") as file:
        for line in lines:
            file.write(line)
            count += 1
    return count
