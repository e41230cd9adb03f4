"""What the server tells phones after a backup or a restore."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from groutjobs.errors import NotAllowed
from groutjobs.sync.epochs import begin_epoch, mark_safe
from groutjobs.sync.queries import head_seq, mark


class Command(BaseCommand):
    help = "Show the epoch and the safe mark; begin an epoch after a restore, move the mark after a verified backup."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--restored", action="store_true", help="the database was restored: phones offer again")
        parser.add_argument("--safe-up-to", type=int, metavar="SEQ", help="the verified backup reaches so far")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["restored"]:
                begin_epoch()
            if options["safe_up_to"] is not None:
                mark_safe(seq=options["safe_up_to"])
        except NotAllowed as error:
            raise CommandError(str(error)) from error
        now = mark()
        self.stdout.write(f"epoch {now.epoch}, began at {now.epoch_head}; safe up to {now.safe_seq} of {head_seq()}\n")
