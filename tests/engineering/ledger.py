"""Write the ledger of refusals anew: `.venv/bin/python -m tests.engineering.ledger`, then read what changed in it.

Needed after a new public function of the engineering, or a new record that checks itself.
"""

import json
import os
from pathlib import Path

import django

LEDGER = Path(__file__).with_name("refusals.toml")
HEAD = """\
# What refusals say, per function and argument, in the order of calls.py, and per record in the order of records.py.
# A line is: quantity, limits as docstrings write them, unit, key of the source. The words are our own. Read by
# test_refusal_facts.py.
"""
WIDEST = 120


def _row(name: str, lines: list[str]) -> str:
    plain = all(letter.isalnum() or letter == "_" for letter in name)
    key = name if plain else json.dumps(name, ensure_ascii=False)
    told = [json.dumps(line, ensure_ascii=False) for line in lines]
    row = f"{key} = [{', '.join(told)}]"
    return row if len(row) <= WIDEST else "\n".join([f"{key} = [", *(f"    {line}," for line in told), "]"])


def written() -> str:
    """The ledger as the code has it now."""
    # ruff: noqa: PLC0415, they need Django to be set up
    from tests.engineering.calls import CALLS
    from tests.engineering.records import RECORDS
    from tests.engineering.test_refusal_facts import told_by, told_by_record
    from tests.engineering.test_refusals import NOT_CHECKED

    parts = [HEAD]
    for name in CALLS:
        if name not in NOT_CHECKED and (told := told_by(name)):
            parts += [f'["{name}"]', *(_row(*row) for row in told.items()), ""]
    for index, record in enumerate(RECORDS):
        parts += ["[[records]]", f'record = "{type(record.valid).__name__}"', "[records.told]"]
        parts += [*(_row(*row) for row in told_by_record(index).items()), ""]
    return "\n".join(parts).rstrip() + "\n"


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "groutjobs.settings")
    django.setup()
    LEDGER.write_text(written(), "utf-8")
