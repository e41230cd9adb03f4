"""People, their roles at each site, and invitations. There is no public sign-up and no default person."""

import secrets
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.utils import timezone

from groutjobs import units
from groutjobs.audit.models import AuditedRow


class Role(models.TextChoices):
    ENGINEER = "engineer", "Engineer"
    CREW_LEAD = "crew_lead", "Crew lead"
    CREW = "crew", "Crew"
    INSPECTOR = "inspector", "Inspector"
    AUDITOR = "auditor", "Auditor"
    ADMINISTRATOR = "administrator", "Site administrator"


EVERY_ROLE = frozenset(Role)
ROLES_THAT_RECORD = frozenset({Role.CREW_LEAD, Role.CREW, Role.INSPECTOR, Role.ENGINEER})


class UnitSystem(models.TextChoices):
    METRIC = units.METRIC, "SI (mm, °C, MPa)"
    US = units.US, "US customary (in, °F, psi)"


def new_salt() -> str:
    return secrets.token_hex(16)


class People(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, **columns: Any) -> "User":
        person = self.model(email=self.normalize_email(email).lower(), **columns)
        person.set_password(password)
        person.save()
        return person

    def get_by_natural_key(self, username: str | None) -> "User":
        return self.get(email=(username or "").lower())


class User(AbstractBaseUser, AuditedRow):
    """A person who can sign in. Rights come from memberships alone; nobody has rights everywhere."""

    site_path: ClassVar[str] = ""
    personal_fields: ClassVar[tuple[str, ...]] = ("email", "name", "password", "salt")

    email = models.EmailField(unique=True)
    name = models.CharField("full name", max_length=100)
    unit_system = models.CharField("units shown", max_length=8, choices=UnitSystem, default=UnitSystem.METRIC)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(default=timezone.now)
    salt = models.CharField(max_length=32, default=new_salt, editable=False)

    objects = People()
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def record_label(self) -> str:
        return f"person {self.pk}"

    def owning_site_id(self) -> int | None:
        return None

    def get_short_name(self) -> str:
        return self.name


class Membership(AuditedRow):
    """One role of one person at one site."""

    user = models.ForeignKey(User, models.PROTECT, related_name="memberships")
    site = models.ForeignKey("groutjobs.Site", models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=16, choices=Role)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "site", "role"], name="groutjobs_membership_once"),
        ]

    def __str__(self) -> str:
        return f"person {self.user_id} as {self.role}"


class Invitation(AuditedRow):
    """A single-use, expiring way in. Only the hash of its code is kept."""

    personal_fields: ClassVar[tuple[str, ...]] = ("email", "name", "code_hash")

    site = models.ForeignKey("groutjobs.Site", models.PROTECT, related_name="invitations")
    email = models.EmailField()
    name = models.CharField("full name", max_length=100)
    roles = models.JSONField(default=list)
    code_hash = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    invited_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"invitation {self.pk}"

    @property
    def salt(self) -> str:
        return self.code_hash

    @property
    def is_open(self) -> bool:
        return self.used_at is None and timezone.now() < self.expires_at
