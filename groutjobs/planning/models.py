"""Grout systems with their data sheets and lots, and the pour plan of a machine with its hold points."""

from typing import ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import Role, User
from groutjobs.audit.models import AuditedRow, MeasuredRow
from groutjobs.equipment.models import Machine, Site


class GroutKind(models.TextChoices):
    EPOXY = "epoxy", "Epoxy, three parts"
    CEMENT = "cement", "Cementitious"


class GroutSystem(AuditedRow):
    """A grout that the site uses."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="grout_systems")
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=8, choices=GroutKind)
    supplier = models.CharField(max_length=80)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="groutjobs_groutsystem_once")]

    def __str__(self) -> str:
        return self.name


class DataSheet(MeasuredRow, AuditedRow):
    """One revision of a supplier's data sheet, typed in by the shop. Never changed once a plan rests on it."""

    site_path: ClassVar[str] = "grout_system__site"

    grout_system = models.ForeignKey(GroutSystem, models.PROTECT, related_name="data_sheets")
    revision = models.CharField(max_length=20)
    dated_on = models.DateField()
    kit_yield_l = models.FloatField("yield of one kit or bag")
    kit_kg = models.FloatField("mass of one kit or bag")
    composition = models.CharField("what one kit holds", max_length=200)
    density_kg_m3 = models.FloatField()
    thickness_min_mm = models.FloatField()
    thickness_max_mm = models.FloatField()
    placing_min_c = models.FloatField()
    placing_max_c = models.FloatField()
    cure_min_c = models.FloatField("temperature below which it does not cure")
    shelf_life_d = models.FloatField()
    mix_min = models.FloatField("mixing time of one kit")
    mixing_rules = models.TextField(max_length=1000)
    working_life = models.JSONField("working life as [temp_c, minutes]", default=list)
    strength = models.JSONField("strength as [temp_c, hours, mpa]", default=list)
    activation_kj_mol = models.FloatField("activation energy", null=True)

    class Meta:
        ordering = ["grout_system__name", "-dated_on"]
        constraints = [models.UniqueConstraint(fields=["grout_system", "revision"], name="groutjobs_datasheet_once")]

    def __str__(self) -> str:
        return f"{self.grout_system.name} rev {self.revision}"


class GroutLot(MeasuredRow, AuditedRow):
    """Kits of one batch number in the store."""

    site_path: ClassVar[str] = "grout_system__site"

    grout_system = models.ForeignKey(GroutSystem, models.PROTECT, related_name="lots")
    lot_no = models.CharField(max_length=40)
    kits = models.PositiveIntegerField()
    expires_on = models.DateField()
    store_c = models.FloatField("store temperature")
    place = models.CharField(max_length=80)

    class Meta:
        ordering = ["expires_on"]
        constraints = [models.UniqueConstraint(fields=["grout_system", "lot_no"], name="groutjobs_groutlot_once")]

    def __str__(self) -> str:
        return f"lot {self.lot_no}"


class PlanState(models.TextChoices):
    DRAFTED = "drafted", "Drafted"
    APPROVED = "approved", "Approved"
    SUPERSEDED = "superseded", "Superseded"


class PourPlan(MeasuredRow, AuditedRow):
    """How a machine will be grouted. Approving freezes inputs and results; a change makes a new revision."""

    site_path: ClassVar[str] = "machine__site"

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="plans")
    revision = models.PositiveIntegerField(default=1)
    state = models.CharField(max_length=12, choices=PlanState, default=PlanState.DRAFTED)
    data_sheet = models.ForeignKey(DataSheet, models.PROTECT, related_name="plans")
    lot = models.ForeignKey(GroutLot, models.PROTECT, null=True, related_name="plans")
    clearance_mm = models.FloatField("plate to formwork")
    rise_mm = models.FloatField("grout up the plate edge, above the underside")
    chamfer_mm = models.FloatField()
    head_mm = models.FloatField("head of grout above the underside")
    waste_ratio = models.FloatField()
    spare_kits = models.PositiveIntegerField()
    mixers = models.PositiveIntegerField()
    crew = models.PositiveIntegerField()
    place_min = models.FloatField("time to carry and place one batch")
    turnaround_min = models.FloatField("time to empty, wipe and refill a mixer")
    kits_per_batch = models.PositiveIntegerField(default=1)
    planned_grout_c = models.FloatField("planned temperature of the mixed grout")
    material_c = models.FloatField("temperature of the material before it is conditioned", null=True)
    conditioning_store_c = models.FloatField("store in which it is conditioned", null=True)
    core_c = models.FloatField("coldest core before mixing", null=True)
    conditioning_h = models.FloatField("time in that store before mixing", null=True)
    pour_on = models.DateField("day of the pour as planned", null=True)
    snug_kn = models.FloatField("tension of all snug anchor bolts together", default=0.0)
    machine_mounted = models.BooleanField("machine stands on the plate during the pour", default=False)
    result = models.JSONField("what was computed, with inputs, engine version and sources", default=dict)
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    approved_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    approved_at = models.DateTimeField(null=True)
    approval_note = models.CharField("authority on which blockers were accepted", max_length=300, blank=True)

    class Meta:
        ordering = ["machine__tag", "-revision"]
        constraints = [
            models.UniqueConstraint(fields=["machine", "revision"], name="groutjobs_pourplan_revision_once"),
            models.UniqueConstraint(
                fields=["machine"], condition=models.Q(state="approved"), name="groutjobs_pourplan_one_approved"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.machine.tag} pour plan rev {self.revision}"


class PointCode(models.TextChoices):
    HOLD = "H", "Hold point"
    WITNESS = "W", "Witness point"
    MONITOR = "M", "Monitor"
    REVIEW = "R", "Record review"


class PlanPoint(AuditedRow):
    """One line of the inspection and test plan: what is checked, what is acceptable, who holds or witnesses it."""

    site_path: ClassVar[str] = "plan__machine__site"

    plan = models.ForeignKey(PourPlan, models.CASCADE, related_name="points")
    position = models.PositiveIntegerField()
    step = models.CharField(max_length=120)
    checked = models.CharField(max_length=300)
    recorded = models.CharField(max_length=200)
    acceptance = models.CharField(max_length=300)
    code = models.CharField(max_length=1, choices=PointCode)
    witness_role = models.CharField(max_length=40, blank=True)
    before_pour = models.BooleanField()
    source = models.CharField(max_length=120)

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["plan", "position"], name="groutjobs_planpoint_once")]

    def __str__(self) -> str:
        return f"{self.position}. {self.step}"

    @property
    def witness_word(self) -> str:
        """The role that holds or witnesses, in words."""
        return str(dict(Role.choices).get(self.witness_role, self.witness_role))
