"""Who is at a site, and which invitations are open."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils import timezone

from groutjobs.accounts.models import Invitation, Membership, Role, User


@dataclass(frozen=True)
class Colleague:
    """A person with all roles held at one site."""

    user: User
    roles: tuple[Role, ...]

    @property
    def role_words(self) -> str:
        return ", ".join(role.label for role in self.roles)


def colleagues(site_id: int) -> list[Colleague]:
    """Everybody with a role at the site, by name."""
    found: dict[User, list[Role]] = {}
    for membership in Membership.objects.filter(site_id=site_id).select_related("user").order_by("user__name", "role"):
        found.setdefault(membership.user, []).append(Role(membership.role))
    return [Colleague(user, tuple(roles)) for user, roles in found.items()]


def roles_at(site_id: int) -> dict[int, tuple[str, ...]]:
    """Roles in words by person, as they are held at the site now."""
    held: defaultdict[int, list[str]] = defaultdict(list)
    for person_id, role in Membership.objects.filter(site=site_id).order_by("role").values_list("user_id", "role"):
        held[person_id].append(Role(role).label)
    return {person_id: tuple(roles) for person_id, roles in held.items()}


def open_invitations(site_id: int) -> list[Invitation]:
    return list(
        Invitation.objects.filter(site_id=site_id, used_at=None, expires_at__gt=timezone.now())
        .select_related("invited_by")
        .order_by("expires_at")
    )


def holds(user: User, site_id: int, roles: Iterable[Role]) -> bool:
    """Whether the person has one of these roles at the site."""
    return Membership.objects.filter(user=user, site=site_id, role__in=set(roles), user__is_active=True).exists()
