"""Making, taking up and replacing the key of the seal; each is an event of the record."""

import datetime as dt
from contextlib import suppress
from pathlib import Path

from django.utils import timezone

from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.errors import NotAllowed
from groutjobs.turnover.models import SealKey
from groutjobs.turnover.sealing import NotSealed, Seal, keep_seal, kept_seal, new_seal, seal_path


@action
def seal_in_use(*, organisation: str) -> tuple[Seal, SealKey]:
    """The key and its row. The first report of an installation makes both; a key that was lost is never made anew."""
    row = SealKey.objects.select_for_update().filter(is_in_use=True).first()
    if row is None:
        with suppress(FileExistsError):  # another worker, or an installation before this database
            keep_seal(new_seal(organisation, timezone.now()), seal_path())
        seal = kept_seal()
        return seal, _note(seal)
    seal = kept_seal()
    if seal.fingerprint != row.fingerprint:
        raise NotSealed(
            f"the key in the file has the fingerprint {seal.fingerprint[:16]}, the record knows "
            f"{row.fingerprint[:16]}; restore the file, or say so with “manage.py seal_key --replace REASON”"
        )
    if row.ends_at <= timezone.now():
        raise NotSealed(f"the certificate of the seal ended on {row.ends_at:%Y-%m-%d}; replace it")
    unchanged()
    return seal, row


def _note(seal: Seal) -> SealKey:
    row = SealKey.objects.create(
        fingerprint=seal.fingerprint,
        subject=seal.subject,
        certificate=seal.pem,
        ends_at=seal.certificate.not_valid_after_utc,
    )
    record(row, by=None, kind="seal.key_made")
    return row


@action
def replace_seal(*, organisation: str, reason: str) -> SealKey:
    """Put a new key in the place of the one in use; reports that the old one sealed stay as they are."""
    if len(reason.strip()) < 10:
        raise NotAllowed("Give a reason of at least 10 characters; it is kept in the record.")
    row = SealKey.objects.select_for_update().filter(is_in_use=True).first()
    if row:
        before = snapshot(row)
        row.is_in_use, row.replaced_at, row.replaced_because = False, timezone.now(), reason.strip()[:300]
        row.save(update_fields=["is_in_use", "replaced_at", "replaced_because"])
        record(row, by=None, kind="seal.key_replaced", before=before, reason=reason.strip()[:300])
    put_aside(timezone.now())
    seal = new_seal(organisation, timezone.now())
    keep_seal(seal, seal_path())
    return _note(seal)


def put_aside(at: dt.datetime) -> Path | None:
    """Keep the old key file under another name; where it is kept, or None."""
    path = seal_path()
    if not path.exists():
        return None
    return path.rename(path.with_name(f"{path.stem}-until-{at:%Y%m%d%H%M%S%f}.pem"))
