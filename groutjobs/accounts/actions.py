"""Writes about people: invitations, roles, preferences, passwords."""

import hashlib
import secrets
from collections.abc import Iterable
from datetime import timedelta

from django.utils import timezone

from groutjobs.accounts.models import Invitation, Membership, Role, User
from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.errors import NotAllowed

INVITATION_LIFE = timedelta(days=7)


@action
def invite(
    *, site_id: int, email: str, name: str, roles: Iterable[Role], by: User | None, life: timedelta = INVITATION_LIFE
) -> tuple[Invitation, str]:
    """Make a single-use way in; returns it with its code, which is stored nowhere."""
    code = secrets.token_urlsafe(32)
    invitation = Invitation.objects.create(
        site_id=site_id,
        email=email.lower(),
        name=name,
        roles=sorted({Role(role).value for role in roles}),
        code_hash=hash_of_code(code),
        invited_by=by,
        expires_at=timezone.now() + life,
    )
    record(invitation, by=by, kind="invitation.made")
    return invitation, code


def hash_of_code(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()


@action
def accept_invitation(*, invitation: Invitation, password: str | None) -> User:
    """Use the invitation once: make the person if the address is new, and give the roles."""
    locked = Invitation.objects.select_for_update().get(pk=invitation.pk)
    if not locked.is_open:
        raise NotAllowed("This invitation was used or has expired. Ask the site administrator for a new one.")
    person = User.objects.filter(email=locked.email).first()
    if person is None:
        person = User.objects.create_user(locked.email, password=password, name=locked.name)
        record(person, by=person, kind="person.joined")
    for role in locked.roles:
        membership, is_new = Membership.objects.get_or_create(user=person, site_id=locked.site_id, role=role)
        if is_new:
            record(membership, by=locked.invited_by, kind="role.given")
    before = snapshot(locked)
    locked.used_at = timezone.now()
    locked.save(update_fields=["used_at"])
    record(locked, by=person, kind="invitation.used", before=before)
    return person


@action
def set_roles(*, site_id: int, user: User, roles: Iterable[Role], by: User) -> User:
    """Make these the roles of the person at the site; none ends the membership. The last administrator stays."""
    wanted = {Role(role) for role in roles}
    held = {Role(row.role): row for row in Membership.objects.filter(site_id=site_id, user=user)}
    if Role.ADMINISTRATOR in held and Role.ADMINISTRATOR not in wanted:
        others = Membership.objects.filter(site_id=site_id, role=Role.ADMINISTRATOR).exclude(user=user)
        if not others.exists():
            raise NotAllowed(
                "This is the last administrator of the site. Give the role to somebody else before you take it away."
            )
    for role in wanted - held.keys():
        record(Membership.objects.create(site_id=site_id, user=user, role=role), by=by, kind="role.given")
    for role in held.keys() - wanted:
        record(held[role], by=by, kind="role.ended", extra={"role": role.value})
        held[role].delete()
    if wanted == held.keys():
        unchanged()
    return user


@action
def change_preferences(*, by: User, name: str, unit_system: str) -> User:
    before = snapshot(by)
    by.name = name
    by.unit_system = unit_system
    by.save(update_fields=["name", "unit_system"])
    record(by, by=by, kind="person.changed", before=before)
    return by


@action
def change_password(*, by: User, password: str) -> User:
    before = snapshot(by)
    by.set_password(password)
    by.save(update_fields=["password"])
    record(by, by=by, kind="person.password_changed", before=before)
    return by
