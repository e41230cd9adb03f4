"""Make the first site and an invitation for its administrator. The only way in on a new installation."""

import datetime as dt
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from groutjobs.accounts.actions import invite
from groutjobs.accounts.models import Role, User
from groutjobs.equipment.actions import add_site
from groutjobs.equipment.models import Site


class Command(BaseCommand):
    help = "Make the first site and print a single-use invitation for its administrator."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--site", required=True, help="name of the site")
        parser.add_argument("--email", required=True)
        parser.add_argument("--name", required=True, help="full name of the administrator")
        parser.add_argument("--zone", default="UTC", help="time zone such as America/New_York")
        parser.add_argument("--address", default="https://localhost", help="where the server is reached")

    def handle(self, *args: Any, **options: Any) -> None:
        if User.objects.exists() or Site.objects.exists():
            raise CommandError("There are people or sites already; an administrator invites the next person.")
        site = add_site(
            by=None,
            columns={
                "name": options["site"], "owner": options["site"], "zone": options["zone"],
                "latitude_deg": 0.0, "longitude_deg": 0.0, "elevation_m": 0.0,
                "emergency_contact": "to be entered", "environmental_contact": "to be entered",
                "shift_starts": dt.time(7), "shift_ends": dt.time(17), "working_days": [0, 1, 2, 3, 4],
            },
        )  # fmt: skip
        _, code = invite(
            site_id=site.pk, email=options["email"], name=options["name"], roles=[Role.ADMINISTRATOR], by=None
        )
        self.stdout.write(f"Open this link once, within seven days: {options['address']}/invitations/{code}/")
        self.stdout.write("Then correct the place, contacts and hours of the site before anything else.")
