"""The register as a table, and tables as CSV and workbook in which no text can become a formula."""

import csv
import datetime as dt
import io
from collections.abc import Iterable, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Font

from groutjobs import units
from groutjobs.turnover.models import Meaning, TurnoverReport

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
MOMENTS = ("poured", "frozen", "sealed", "issued")
LONGEST_CELL = 32_000


def register_table(reports: Iterable[TurnoverReport], system: str) -> list[list[Any]]:
    """Head and one row for each report: local and UTC times, volumes in the reader's unit, which stands in the head."""
    unit = units.preferred_unit("l", system)
    head = ["report", "revision", "state", "site", "invented", "machine", "service", "grout", "lots"]
    for name in MOMENTS:
        head += [f"{name} [site time]", f"{name} [UTC]"]
    head += [f"placed [{unit.label}]", f"takeoff [{unit.label}]", f"takeoff less placed [{unit.label}]", "deviations"]
    head += ["open nonconformances", "entries corrected", *(meaning.label.lower() for meaning in Meaning)]
    head += ["accepted by", "accepted on", "SHA-256 of the file", "SHA-256 of the record"]
    return [head, *(_row(report, unit.key) for report in reports)]


def _row(report: TurnoverReport, unit: str) -> list[Any]:
    machine, facts = report.pour.plan.machine, report.facts
    poured = dt.datetime.fromisoformat(facts["poured_at"]) if facts.get("poured_at") else None
    row: list[Any] = [
        report.number, report.revision, report.get_state_display(), machine.site.name,
        "yes" if machine.site.is_demo else "no", machine.tag, machine.service, facts.get("grout", ""),
        ", ".join(facts.get("lots", [])),
    ]  # fmt: skip
    for moment in (poured, report.frozen_at, report.sealed_at, report.issued_at):
        row += [_local(moment, machine.site.zone), _utc(moment)]
    placed, net = facts.get("placed_l"), facts.get("net_l")
    missing = net - placed if net is not None and placed is not None else None
    row += [_volume(value, unit) for value in (placed, net, missing)]
    row += [facts.get("deviations"), facts.get("open_nonconformances"), facts.get("corrections")]
    signed = {one.meaning: one.printed_name for one in report.signatures.all()}
    row += [signed.get(meaning, "") for meaning in Meaning]
    accepted = getattr(report, "acceptance", None)
    row += [accepted.name, accepted.accepted_on.isoformat()] if accepted else ["", ""]
    return [*row, report.pdf_sha256, report.manifest_sha256]


def _volume(litres: float | None, unit: str) -> float | None:
    return None if litres is None else round(units.from_si(litres, "l", unit), 3)


def _local(moment: dt.datetime | None, zone: str) -> str:
    return f"{moment.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M%z}" if moment else ""


def _utc(moment: dt.datetime | None) -> str:
    return f"{moment.astimezone(dt.UTC):%Y-%m-%d %H:%M}" if moment else ""


def harmless(text: str) -> str:
    """A text that no table program takes for a formula: an apostrophe stands before a sign that begins one."""
    return f"'{text}" if text.startswith(FORMULA_SIGNS) else text


def as_csv(rows: Iterable[Sequence[Any]]) -> bytes:
    """Comma, quotes, CRLF as in RFC 4180, UTF-8 with a mark of order; numbers stay numbers, also negative ones."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    for row in rows:
        writer.writerow([harmless(cell) if isinstance(cell, str) else "" if cell is None else cell for cell in row])
    return out.getvalue().encode("utf-8-sig")


def as_xlsx(rows: Sequence[Sequence[Any]], title: str = "Register") -> bytes:
    """A workbook with one sheet; text is stored as text, whatever it begins with."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "A2"
    for index, row in enumerate(rows):
        sheet.append([_cell(sheet, value, is_head=index == 0) for value in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _cell(sheet: Any, value: Any, *, is_head: bool) -> WriteOnlyCell:
    text = ILLEGAL_CHARACTERS_RE.sub("\ufffd", value)[:LONGEST_CELL] if isinstance(value, str) else value
    cell = WriteOnlyCell(sheet, value=text)
    if isinstance(text, str):
        cell.data_type = "s"
    if is_head:
        cell.font = Font(bold=True)
    return cell
