"""Mail: who gets it, when, what it says, that it comes once, and what happens when the mail server fails."""

import datetime as dt
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.core.management import call_command
from django.db import IntegrityError
from django.urls import reverse

from groutjobs.accounts.models import Membership, Role, User
from groutjobs.equipment.models import Site
from groutjobs.outages.models import ScheduledPour
from groutjobs.reminders.actions import choose_mail
from groutjobs.reminders.digest import digest
from groutjobs.reminders.mailing import MOST_TRIES, run_round, write_mails
from groutjobs.reminders.models import Mail, MailKind, MailState, ReminderChoice, ReminderRound
from groutjobs.reminders.queries import mails_due
from groutjobs.reminders.tasks import EVERY, queue_next, remind
from tests.factories import make_person, make_site
from tests.reminders.known import HOUR, START, make_accepted, make_chosen, make_outage, make_search, search_result
from tests.reminders.mail_server import mail_server
from tests.weather.asking import errors_in, signed_in, stranger

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
DAY = dt.timedelta(days=1)
# Sunday 1 November 2026: 06:30 EST, half an hour after the shift of the site starts, on the day of the clock change.
NOW = dt.datetime(2026, 11, 1, 11, 30, tzinfo=dt.UTC)


@pytest.fixture
def person(site: Site) -> User:
    someone = make_person(site=site, roles=(Role.ENGINEER,), email="engineer@example.test")
    choose_mail(site=site, by_mail=True, by=someone)
    return someone


def digest_text() -> str:
    run_round(NOW)
    return str(mail.outbox[0].body)


def test_nobody_gets_mail_who_did_not_ask_for_it(site: Site) -> None:
    make_person(site=site, roles=(Role.ENGINEER,))
    make_chosen(site)
    run_round(NOW)
    assert mail.outbox == []
    assert not Mail.objects.exists()


def test_the_digest_says_what_is_due_late_and_reached_soon(site: Site, person: User) -> None:
    make_chosen(site)
    text = digest_text()
    late, due = text.split("Due in the next 48 hours")
    assert "Bring the material into the store of 23.0 °C" in late
    assert "(late since Sat 31 Oct 08:00)" in late
    assert "- Mon 02 Nov 07:00  P-1: Pour" in due
    assert "Cured enough" not in text  # 18:00 UTC on the third is more than 48 h ahead
    run_round(NOW + DAY)
    assert "- now, until Mon 02 Nov 07:00  P-1: Answer the 2 hold and witness points" in str(mail.outbox[1].body)
    assert "The cure is expected to reach\n- Tue 03 Nov 13:00  P-1: Cured enough to strip" in str(mail.outbox[1].body)
    assert mail.outbox[0].to == ["engineer@example.test"]
    assert mail.outbox[0].subject == "Test works on the hill, Sun 01 Nov: what is due, 4 late"


def test_every_mail_says_why_it_came_and_where_to_switch_it_off(site: Site, person: User, settings: Any) -> None:
    settings.SITE_ADDRESS = "https://grout.example.test"
    make_chosen(site)
    text = digest_text()
    assert "because you switched on reminders of Test works on the hill for yourself" in text
    assert f"https://grout.example.test{reverse('reminders:own_reminders', args=[site.pk])}" in text
    assert "supplier's instruction" in text


def test_units_are_those_of_the_person(site: Site) -> None:
    someone = make_person(site=site, roles=(Role.CREW,), unit_system="us")
    choose_mail(site=site, by_mail=True, by=someone)
    make_chosen(site)
    assert "store of 73.4 °F" in digest_text()


def test_before_the_shift_starts_nothing_comes(site: Site, person: User) -> None:
    make_chosen(site)
    run_round(NOW - HOUR)
    assert mail.outbox == []
    run_round(NOW)
    assert len(mail.outbox) == 1


def test_it_comes_once_a_day_however_often_it_is_run(site: Site, person: User) -> None:
    make_chosen(site)
    for minutes in (0, 15, 30, 600):
        run_round(NOW + dt.timedelta(minutes=minutes))
    assert len(mail.outbox) == 1
    run_round(NOW + DAY)
    assert len(mail.outbox) == 2


def test_the_database_refuses_a_second_digest_of_the_day(site: Site, person: User) -> None:
    make_chosen(site)
    run_round(NOW)
    with pytest.raises(IntegrityError):
        Mail.objects.create(site=site, person=person, kind=MailKind.DIGEST, day=dt.date(2026, 11, 1))


def test_two_workers_send_one_mail(site: Site, person: User, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other worker takes its turn in the middle of this one's, after both have read what is due."""
    make_chosen(site)
    write_mails(site, NOW)
    mine = list(mails_due(NOW))
    run_round(NOW)
    monkeypatch.setattr("groutjobs.reminders.mailing.mails_due", lambda now: mine)
    run_round(NOW)
    assert len(mail.outbox) == 1


def test_where_there_is_nothing_to_say_nothing_is_sent(site: Site, person: User) -> None:
    run_round(NOW)
    assert mail.outbox == []
    assert Mail.objects.get().state == MailState.NOTHING
    make_chosen(site)
    run_round(NOW + 2 * HOUR)
    assert mail.outbox == []


def test_an_hour_that_turned_bad_is_told_with_its_reason(site: Site, person: User) -> None:
    pour = make_chosen(site)
    make_search(pour.plan, made_at=NOW - HOUR, result=search_result(blocked=True))
    assert "P-1, Mon 02 Nov 07:00: concrete 9.0 °C, under 10.0 °C" in digest_text()


def test_an_hour_that_a_newer_forecast_does_not_reach_is_told(site: Site, person: User) -> None:
    pour = make_chosen(site)
    make_search(pour.plan, made_at=NOW - HOUR, result=search_result(START + 50 * HOUR))
    assert "P-1, Mon 02 Nov 07:00: the newer forecast does not reach it" in digest_text()


def test_an_hour_that_still_stands_is_not_told(site: Site, person: User) -> None:
    pour = make_chosen(site)
    make_search(pour.plan, made_at=NOW - HOUR)
    assert "turned bad" not in digest_text()


def test_news_of_a_shaken_schedule_comes_at_once_and_once(site: Site, person: User) -> None:
    pour = make_chosen(site, outage=make_outage(site))
    make_accepted(pour)
    night = NOW - 6 * HOUR
    run_round(night)
    assert mail.outbox == []
    make_search(pour.plan, made_at=night, result=search_result(blocked=True))
    for minutes in (1, 16, 31):
        run_round(night + dt.timedelta(minutes=minutes))
    assert [one.subject for one in mail.outbox] == ["Test works on the hill: the accepted schedule of Autumn is shaken"]
    text = str(mail.outbox[0].body)
    assert "P-1, pour Mon 02 Nov 07:00: its hour does not stand any more" in text
    assert "concrete 9.0 °C, under 10.0 °C" in text
    assert "Alignment can start 10 h later" in text


def test_who_left_the_site_or_switched_off_gets_none(site: Site, person: User) -> None:
    make_chosen(site)
    write_mails(site, NOW)
    choose_mail(site=site, by_mail=False, by=person)
    run_round(NOW)
    assert mail.outbox == []
    assert "switched off" in Mail.objects.get().fault
    choose_mail(site=site, by_mail=True, by=person)
    Membership.objects.filter(user=person).delete()
    run_round(NOW + DAY)
    assert mail.outbox == []


class NoServer:
    """A mail server that cannot be reached."""

    def __init__(self, **_: Any) -> None: ...

    def send_messages(self, messages: Any) -> int:
        raise ConnectionRefusedError("nobody listens there")


def test_a_failing_server_is_tried_again_later_and_told_to_the_administrator(
    site: Site, person: User, settings: Any
) -> None:
    make_chosen(site)
    usual, settings.EMAIL_BACKEND = settings.EMAIL_BACKEND, "tests.reminders.test_mail.NoServer"
    assert run_round(NOW) == "0 sent"
    run_round(NOW + dt.timedelta(minutes=5))
    kept = Mail.objects.get()
    assert (kept.state, kept.tries, kept.next_try_at) == (MailState.WAITING, 1, NOW + dt.timedelta(minutes=10))
    page = signed_in(site, Role.ADMINISTRATOR).get(reverse("reminders:site_mail", args=[site.pk])).content.decode()
    assert "ConnectionRefusedError: nobody listens there" in page
    settings.EMAIL_BACKEND = usual
    assert run_round(NOW + dt.timedelta(minutes=15)) == "1 sent"
    assert Mail.objects.get().state == MailState.SENT


def test_it_is_given_up_after_twelve_tries_or_when_its_day_is_over(site: Site, person: User, settings: Any) -> None:
    make_chosen(site)
    settings.EMAIL_BACKEND = "tests.reminders.test_mail.NoServer"
    write_mails(site, NOW)
    Mail.objects.update(tries=MOST_TRIES - 1)
    run_round(NOW)
    assert Mail.objects.get().state == MailState.GIVEN_UP
    Mail.objects.update(state=MailState.WAITING, tries=1, next_try_at=NOW)
    ReminderChoice.objects.update(by_mail=True)
    run_round(NOW + DAY)
    old = Mail.objects.get(day=dt.date(2026, 11, 1))
    assert old.state == MailState.GIVEN_UP
    assert "day was over" in old.fault


def test_a_site_whose_digest_fails_does_not_stop_the_others(
    site: Site, person: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = make_site()
    choose_mail(site=other, by_mail=True, by=make_person(site=other, roles=(Role.ENGINEER,)))
    make_chosen(other)
    make_chosen(site)
    whole = digest

    def broken(where: Site, *given: Any) -> Any:
        if where == site:
            raise KeyError("a fault of the program")
        return whole(where, *given)

    monkeypatch.setattr("groutjobs.reminders.mailing.digest", broken)
    assert run_round(NOW) == "1 sent"


def test_it_goes_through_a_real_server_as_plain_text(site: Site, person: User, settings: Any) -> None:
    make_chosen(site)
    settings.EMAIL_BACKEND, settings.EMAIL_HOST = "django.core.mail.backends.smtp.EmailBackend", "127.0.0.1"
    with mail_server() as server:
        settings.EMAIL_PORT = server.port
        assert run_round(NOW) == "1 sent"
    assert "rcpt to:<engineer@example.test>" in [command.lower() for command in server.commands]
    [message] = server.messages
    assert "Content-Type: text/plain" in message
    assert "Subject: Test works on the hill, Sun 01 Nov: what is due, 4 late" in message
    assert "Late" in message


def test_a_real_server_that_refuses_leaves_its_words(site: Site, person: User, settings: Any) -> None:
    make_chosen(site)
    settings.EMAIL_BACKEND, settings.EMAIL_HOST = "django.core.mail.backends.smtp.EmailBackend", "127.0.0.1"
    with mail_server(refuses="MAIL") as server:
        settings.EMAIL_PORT = server.port
        assert run_round(NOW) == "0 sent"
    assert "451" in Mail.objects.get().fault
    assert "the disk is full" in Mail.objects.get().fault


def test_the_switch_is_a_person_s_own(site: Site) -> None:
    client, url = signed_in(site, Role.CREW), reverse("reminders:own_reminders", args=[site.pk])
    assert "Mail about this site" in client.get(url).content.decode()
    assert client.post(url, {"by_mail": "on"}).status_code == 302
    assert ReminderChoice.objects.get().by_mail
    answer = client.post(url, {"by_mail": "perhaps"})
    assert answer.status_code == 422
    assert "Mail about this site “perhaps” is none of" in errors_in(answer)
    client.post(url, {"by_mail": "off"})
    assert not ReminderChoice.objects.get().by_mail
    assert stranger().post(url, {"by_mail": "on"}).status_code == 404
    assert signed_in(site, Role.CREW).delete(url).status_code == 405


def test_only_the_administrator_sees_what_could_not_be_sent(site: Site) -> None:
    url = reverse("reminders:site_mail", args=[site.pk])
    assert signed_in(site, Role.ENGINEER).get(url).status_code == 403
    assert "Every mail of this site was sent" in signed_in(site, Role.ADMINISTRATOR).get(url).content.decode()


def test_rounds_follow_each_other_in_one_chain_while_somebody_wants_them(
    site: Site, person: User, settings: Any
) -> None:
    settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
    assert queue_next()
    assert not queue_next()
    with time_machine.travel(NOW + EVERY, tick=False):
        remind.func()
        assert ReminderRound.objects.get().queued_for == NOW + 2 * EVERY
        assert not queue_next()
    ReminderChoice.objects.update(by_mail=False)
    with time_machine.travel(NOW + 3 * EVERY, tick=False):
        assert not queue_next()


def test_the_command_does_a_round(site: Site, person: User, capsys: pytest.CaptureFixture[str]) -> None:
    make_chosen(site)
    call_command("send_reminders")
    assert "1 sent" in capsys.readouterr().out
    assert ScheduledPour.objects.count() == 1
