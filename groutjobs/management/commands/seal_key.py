"""The key that seals reports: make it, show its fingerprint, replace it."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from groutjobs.errors import GroutJobsError
from groutjobs.turnover.models import SealKey
from groutjobs.turnover.seal_actions import replace_seal, seal_in_use


class Command(BaseCommand):
    help = "Show the key that seals turnover reports with its fingerprint; make it once, or replace it with a reason."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--make", metavar="ORGANISATION", help="make the key for this organisation, if there is none"
        )
        parser.add_argument("--replace", metavar="REASON", help="put a new key in its place; the old file is kept")
        parser.add_argument("--organisation", default="", help="name in the new certificate; default as in the old one")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["make"]:
                seal_in_use(organisation=options["make"])
            if options["replace"]:
                replace_seal(organisation=options["organisation"] or _organisation(), reason=options["replace"])
        except GroutJobsError as error:
            raise CommandError(str(error)) from error
        rows = list(SealKey.objects.all())
        if not rows:
            self.stdout.write("There is no key yet. Make it with --make “Name of the organisation”.\n")
        for row in rows:
            word = "in use" if row.is_in_use else f"replaced {row.replaced_at:%Y-%m-%d}: {row.replaced_because}"
            self.stdout.write(f"{row.subject}, made {row.made_at:%Y-%m-%d}, ends {row.ends_at:%Y-%m-%d}, {word}\n")
            self.stdout.write(f"  SHA-256 {row.fingerprint}\n")


def _organisation() -> str:
    last = SealKey.objects.first()
    parts = dict(part.split("=", 1) for part in last.subject.split(",") if "=" in part) if last else {}
    return parts.get("O", "")
