"""People, their roles at each site, and invitations. There is no public sign-up and no default person."""

import secrets
import uuid
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.utils import timezone

from groutjobs import keeping, units
from groutjobs.audit.models import AuditedRow


class Role(models.TextChoices):
    ENGINEER = "engineer", "Engineer"
    CREW_LEAD = "crew_lead", "Crew lead"
    CREW = "crew", "Crew"
    INSPECTOR = "inspector", "Inspector"
    AUDITOR = "auditor", "Auditor"
    ADMINISTRATOR = "administrator", "Site administrator"


EVERY_ROLE = frozenset(Role)
ROLES_WITH_SECOND_FACTOR = frozenset({Role.ENGINEER, Role.AUDITOR, Role.ADMINISTRATOR})
"""Engineers review, engineers and administrators approve, auditors read everything."""
ROLES_THAT_RECORD = frozenset({Role.CREW_LEAD, Role.CREW, Role.INSPECTOR, Role.ENGINEER})


SHIFT_KEYS = "shift keys of phones"
"""Purpose under which keeping.py closes them."""


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


class Device(AuditedRow):
    """A phone of one site that may append to its pour logs, and nothing else. Only the hash of its key is kept."""

    personal_fields: ClassVar[tuple[str, ...]] = ("token_hash",)

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    site = models.ForeignKey("groutjobs.Site", models.PROTECT, related_name="devices")
    name = models.CharField(max_length=40)
    token_hash = models.CharField(max_length=64, unique=True)
    enrolled_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    enrolled_at = models.DateTimeField(default=timezone.now)
    revoked_at = models.DateTimeField(null=True)
    revoked_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    revoked_because = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["name", "enrolled_at"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(revoked_at__isnull=True) | ~models.Q(revoked_because=""),
                name="groutjobs_device_revoked_has_reason",
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def salt(self) -> str:
        return str(self.pk)


class DeviceCode(AuditedRow):
    """A single-use way for a phone to become a device of the site; short-lived, kept as its hash."""

    personal_fields: ClassVar[tuple[str, ...]] = ("code_hash",)

    site = models.ForeignKey("groutjobs.Site", models.PROTECT, related_name="device_codes")
    name = models.CharField(max_length=40)
    code_hash = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    device = models.OneToOneField(Device, models.PROTECT, null=True, related_name="code")

    def __str__(self) -> str:
        return f"device code {self.pk}"

    @property
    def salt(self) -> str:
        return self.code_hash

    @property
    def is_open(self) -> bool:
        return self.device_id is None and timezone.now() < self.expires_at


class ShiftKey(AuditedRow):
    """The key with which the entries of one person on one phone are marked as his. Ends by itself after some days."""

    site_path: ClassVar[str] = "device__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("secret",)

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    device = models.ForeignKey(Device, models.PROTECT, related_name="shift_keys")
    person = models.ForeignKey(User, models.PROTECT, related_name="shift_keys")
    secret = models.TextField("key as hex, closed for the database")
    issued_at = models.DateTimeField(default=timezone.now)
    ends_at = models.DateTimeField()

    class Meta:
        ordering = ["-issued_at"]

    def __str__(self) -> str:
        return f"shift key {self.pk}"

    @property
    def salt(self) -> str:
        return str(self.pk)

    @property
    def key(self) -> bytes:
        """The key itself; NotOurs where the secret key of this installation did not close it."""
        return bytes.fromhex(keeping.opened(self.secret, purpose=SHIFT_KEYS))


class PhonePin(AuditedRow):
    """The short secret of a person for phones of the shop; it opens nothing without an enrolled phone."""

    site_path: ClassVar[str] = ""
    personal_fields: ClassVar[tuple[str, ...]] = ("pin_hash",)

    person = models.OneToOneField(User, models.PROTECT, related_name="phone_pin")
    pin_hash = models.CharField(max_length=256)
    set_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"PIN of person {self.person_id}"

    def owning_site_id(self) -> int | None:
        return None

    @property
    def salt(self) -> str:
        return self.person.salt


class SecondFactor(AuditedRow):
    """The program on a person's own phone that shows a new code every 30 seconds [RFC6238], and codes for a lost phone.

    `secret` is closed by keeping.py; of the recovery codes only hashes are kept, and each leaves the list when it is
    used. `last_step` is the time step of the last code taken: a code is good once. It is told, not recorded.
    """

    site_path: ClassVar[str] = ""
    personal_fields: ClassVar[tuple[str, ...]] = ("secret", "recovery", "last_step")

    person = models.OneToOneField(User, models.PROTECT, related_name="second_factor")
    secret = models.TextField("secret, closed")
    made_at = models.DateTimeField(default=timezone.now)
    confirmed_at = models.DateTimeField(null=True)
    last_step = models.BigIntegerField(default=0)
    recovery = models.JSONField("hashes of recovery codes not used yet", default=list)

    def __str__(self) -> str:
        return f"second factor of person {self.person_id}"

    def owning_site_id(self) -> int | None:
        return None

    @property
    def salt(self) -> str:
        return self.person.salt
