"""Put a site, its engineer and six approved plans into a database that has its tables: a program of its own.

What is planned in the pages of test_one_job.py is made by the factories here; all that follows is done in the pages.
"""

import django

MACHINES = ("P-511", "P-512", "P-513", "P-514", "P-515", "P-516")


def main() -> None:
    from groutjobs.accounts.models import Role  # noqa: PLC0415
    from tests.browser import story  # noqa: PLC0415
    from tests.factories import make_machine, make_person, make_site  # noqa: PLC0415
    from tests.windows.asked import planned  # noqa: PLC0415

    site = make_site(name=story.SITE_NAME)
    engineer = make_person(site=site, roles=(Role.ENGINEER,), email=story.ENGINEER.email, name=story.ENGINEER.name)
    engineer.set_password(story.ENGINEER.password)
    engineer.save()
    for tag in MACHINES:
        planned(machine=make_machine(site=site, tag=tag), made_by=engineer)


if __name__ == "__main__":
    django.setup()
    main()
