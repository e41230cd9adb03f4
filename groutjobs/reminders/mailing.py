"""Writing mails once and sending them once, with any number of workers; what fails is kept and tried again.

Nothing here holds a transaction while the mail server is asked, and no page waits for it.
"""

import datetime as dt
import logging

from django.conf import settings
from django.core.mail import EmailMessage
from django.db.models import F

from groutjobs.accounts.models import User
from groutjobs.equipment.models import Site
from groutjobs.reminders.digest import Letter, digest, news_of_moves
from groutjobs.reminders.models import Mail, MailKind, MailState
from groutjobs.reminders.queries import mails_due, people_to_remind, sites_to_remind, wants_mail

log = logging.getLogger(__name__)
LEASE = dt.timedelta(minutes=10)
FIRST_WAIT = dt.timedelta(minutes=10)
LONGEST_WAIT = dt.timedelta(hours=6)
MOST_TRIES = 12
KEPT = dt.timedelta(days=60)
MOST_AT_ONCE = 200


def run_round(now: dt.datetime) -> str:
    """Write what is to be told at each site, send what waits. A site that fails does not stop the others."""
    for site in sites_to_remind():
        try:
            write_mails(site, now)
        except Exception:
            log.exception("reminders of %s could not be written", site)
    Mail.objects.filter(written_at__lt=now - KEPT).delete()
    sent = sum(_sent(mail, now) for mail in mails_due(now)[:MOST_AT_ONCE])
    return f"{sent} sent"


def write_mails(site: Site, now: dt.datetime) -> None:
    """The digest of the day once the shift of the site has started, and news as soon as there is any."""
    local = now.astimezone(site.tz)
    for person in people_to_remind(site):
        if local.time() >= site.shift_starts:
            _write_digest(site, person, local.date(), now)
        for letter in news_of_moves(site, person, now):
            columns = {"kind": MailKind.MOVED, "about": letter.about}
            Mail.objects.get_or_create(
                site=site, person=person, **columns, defaults={"day": local.date()} | _columns(letter, now)
            )


def _write_digest(site: Site, person: User, day: dt.date, now: dt.datetime) -> None:
    """One a day: a row stands for it also where there was nothing to say."""
    one = {"site": site, "person": person, "kind": MailKind.DIGEST, "day": day}
    if Mail.objects.filter(**one).exists():
        return
    letter = digest(site, person, now)
    columns = _columns(letter, now) if letter else {"state": MailState.NOTHING, "written_at": now}
    Mail.objects.get_or_create(**one, defaults=columns)


def _columns(letter: Letter, now: dt.datetime) -> dict[str, object]:
    return {"subject": letter.subject, "body": letter.body, "written_at": now, "next_try_at": now}


def _sent(mail: Mail, now: dt.datetime) -> bool:
    """Send one mail unless another worker has it; whether it went out."""
    mine = Mail.objects.filter(pk=mail.pk, state=MailState.WAITING, next_try_at=mail.next_try_at)
    if not mine.update(next_try_at=now + LEASE, tries=F("tries") + 1):
        return False
    mail.tries += 1
    if why := _why_not(mail, now):
        Mail.objects.filter(pk=mail.pk).update(state=MailState.GIVEN_UP, fault=why)
        return False
    message = EmailMessage(mail.subject, mail.body, settings.DEFAULT_FROM_EMAIL, [mail.person.email])
    try:
        message.send()
    except Exception as error:  # a mail server fails in many ways; none of them may end the round
        _note_failure(mail, error, now)
        return False
    Mail.objects.filter(pk=mail.pk).update(state=MailState.SENT, sent_at=now, fault="")
    return True


def _why_not(mail: Mail, now: dt.datetime) -> str:
    """Why a mail that waited is of no use any more."""
    if not mail.person.is_active or not wants_mail(mail.site, mail.person):
        return "Reminders were switched off before it could be sent."
    if mail.kind == MailKind.DIGEST and mail.day < now.astimezone(mail.site.tz).date():
        return f"Its day was over before it could be sent. {mail.fault}".strip()[:300]
    return ""


def _note_failure(mail: Mail, error: Exception, now: dt.datetime) -> None:
    """Keep what went wrong and when it is tried again: after 10 min, doubled up to 6 h, twelve times in all."""
    fault = " ".join(f"{type(error).__name__}: {error}".split())[:300]
    log.warning("mail %s could not be sent: %s", mail.pk, fault)
    if mail.tries >= MOST_TRIES:
        Mail.objects.filter(pk=mail.pk).update(state=MailState.GIVEN_UP, fault=fault)
        return
    wait = min(FIRST_WAIT * 2 ** (mail.tries - 1), LONGEST_WAIT)
    Mail.objects.filter(pk=mail.pk).update(fault=fault, next_try_at=now + wait)
