"""Sites, machines, their plates, foundations and anchor bolts.

All plan coordinates of a machine are millimetres on its foundation block: the origin is one corner of the block, x runs
along its length and y along its width. Elevations are millimetres above the site's datum.
"""

from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django.db import models

from groutjobs.audit.models import AuditedRow, MeasuredRow

Point = tuple[float, float]


class Site(MeasuredRow, AuditedRow):
    """A plant: its zone, place, contacts and working hours."""

    site_path: ClassVar[str] = "self"

    name = models.CharField(max_length=80, unique=True)
    owner = models.CharField("owner of the plant", max_length=80)
    zone = models.CharField("time zone", max_length=40)
    latitude_deg = models.FloatField()
    longitude_deg = models.FloatField()
    elevation_m = models.FloatField()
    annual_mean_c = models.FloatField("mean air temperature of the year", null=True)
    annual_swing_c = models.FloatField("half the swing of monthly means", null=True)
    emergency_contact = models.CharField(max_length=200)
    environmental_contact = models.CharField(max_length=200)
    shift_starts = models.TimeField()
    shift_ends = models.TimeField()
    working_days = models.JSONField("working days, 0 is Monday", default=list)
    is_demo = models.BooleanField(default=False, editable=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def tz(self) -> ZoneInfo:
        return ZoneInfo(self.zone)


class MachineKind(models.TextChoices):
    PUMP = "pump", "Pump"
    RECIPROCATING_COMPRESSOR = "reciprocating_compressor", "Reciprocating compressor"
    ROTARY_COMPRESSOR = "rotary_compressor", "Rotary compressor"
    MOTOR = "motor", "Motor"
    TURBINE = "turbine", "Turbine"
    GEARBOX = "gearbox", "Gearbox"
    FAN = "fan", "Fan or blower"
    GENERATOR = "generator", "Generator"


class LevelClass(models.TextChoices):
    """Level tolerance classes; the limits stand in equipment/tolerances.py with their sources."""

    SPECIAL_PURPOSE = "special_purpose", "Special-purpose machine on soleplates"
    TURBOMACHINERY = "turbomachinery", "Turbomachinery baseplate"
    API_PUMP = "api_pump", "API pump baseplate"
    PROCESS_PUMP = "process_pump", "ASME process pump or general baseplate"


class Machine(MeasuredRow, AuditedRow):
    """A driven train that stands on one baseplate."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="machines")
    tag = models.CharField(max_length=30)
    service = models.CharField(max_length=120)
    kind = models.CharField(max_length=30, choices=MachineKind)
    driver_kw = models.FloatField("driver power")
    speed_rpm = models.FloatField("speed")
    mass_kg = models.FloatField("mass of machine, driver and plate")
    level_class = models.CharField(max_length=20, choices=LevelClass)

    class Meta:
        ordering = ["tag"]
        constraints = [models.UniqueConstraint(fields=["site", "tag"], name="groutjobs_machine_tag_once")]

    def __str__(self) -> str:
        return self.tag


class Exposure(models.TextChoices):
    INDOORS = "indoors", "Indoors"
    SHELTERED = "sheltered", "Sheltered by a roof"
    OPEN = "open", "In the open"


class Foundation(MeasuredRow, AuditedRow):
    """The concrete block under one machine."""

    site_path: ClassVar[str] = "machine__site"

    machine = models.OneToOneField(Machine, models.PROTECT, related_name="foundation")
    length_mm = models.FloatField()
    width_mm = models.FloatField()
    height_mm = models.FloatField()
    concrete_mpa = models.FloatField("specified concrete strength")
    tested_mpa = models.FloatField("tested concrete strength", null=True)
    placed_on = models.DateField("concrete placed on")
    exposure = models.CharField(max_length=10, choices=Exposure)
    removed_mm = models.FloatField("depth of concrete removed", null=True)
    roughness_mm = models.FloatField("profile of the chipped surface, peak to valley")

    def __str__(self) -> str:
        return f"foundation of {self.machine.tag}"


class SurveyPoint(AuditedRow):
    """One surveyed point of the prepared concrete."""

    site_path: ClassVar[str] = "foundation__machine__site"

    foundation = models.ForeignKey(Foundation, models.CASCADE, related_name="survey_points")
    x_mm = models.FloatField()
    y_mm = models.FloatField()
    elevation_mm = models.FloatField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"survey point {self.x_mm:g}, {self.y_mm:g}"


class AnchorBolt(AuditedRow):
    """One anchor bolt: place, thread, grade, sleeve and free length."""

    site_path: ClassVar[str] = "foundation__machine__site"

    foundation = models.ForeignKey(Foundation, models.CASCADE, related_name="bolts")
    label = models.CharField(max_length=12)
    x_mm = models.FloatField()
    y_mm = models.FloatField()
    thread = models.CharField(max_length=16)
    grade = models.CharField(max_length=24)
    free_length_mm = models.FloatField()
    sleeve_diameter_mm = models.FloatField(null=True)
    sleeve_depth_mm = models.FloatField(null=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["foundation", "label"], name="groutjobs_bolt_label_once")]

    def __str__(self) -> str:
        return f"bolt {self.label}"


class Baseplate(MeasuredRow, AuditedRow):
    """The steel plate: its outline and the elevation of its underside."""

    site_path: ClassVar[str] = "machine__site"

    machine = models.OneToOneField(Machine, models.PROTECT, related_name="baseplate")
    is_soleplate = models.BooleanField(default=False)
    outline = models.JSONField("outline as [x, y] in mm", default=list)
    underside_elevation_mm = models.FloatField()
    thickness_mm = models.FloatField()
    mass_kg = models.FloatField("mass of the plate")

    def __str__(self) -> str:
        return f"plate of {self.machine.tag}"

    def outline_points(self) -> list[Point]:
        return [(float(x), float(y)) for x, y in self.outline]


class Compartment(AuditedRow):
    """A part of the underside closed in by stiffeners; filled through its own hole, or from the side if it is open."""

    site_path: ClassVar[str] = "baseplate__machine__site"

    baseplate = models.ForeignKey(Baseplate, models.CASCADE, related_name="compartments")
    name = models.CharField(max_length=12)
    outline = models.JSONField("outline as [x, y] in mm", default=list)
    fill_above_mm = models.FloatField("grout stands above the underside in this compartment", default=0.0)
    open_edge = models.BooleanField("grout comes in from the side, not through a hole", default=False)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["baseplate", "name"], name="groutjobs_compartment_once")]

    def __str__(self) -> str:
        return f"compartment {self.name}"

    def outline_points(self) -> list[Point]:
        return [(float(x), float(y)) for x, y in self.outline]


class PartKind(models.TextChoices):
    FILL_HOLE = "fill_hole", "Fill hole"
    VENT = "vent", "Vent"
    JACKSCREW = "jackscrew", "Jackscrew"
    MOUNTING_PAD = "mounting_pad", "Mounting pad"


class PlatePart(AuditedRow):
    """A fill hole, vent, jackscrew or mounting pad. Round parts have a diameter; pads a length and a width."""

    site_path: ClassVar[str] = "baseplate__machine__site"

    baseplate = models.ForeignKey(Baseplate, models.CASCADE, related_name="parts")
    kind = models.CharField(max_length=14, choices=PartKind)
    label = models.CharField(max_length=12)
    x_mm = models.FloatField("x of the centre")
    y_mm = models.FloatField("y of the centre")
    diameter_mm = models.FloatField("diameter; of the pad under a jackscrew", null=True)
    length_mm = models.FloatField(null=True)
    width_mm = models.FloatField(null=True)
    pitch_mm = models.FloatField("thread pitch of a jackscrew", null=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["baseplate", "kind", "label"], name="groutjobs_platepart_once"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display().lower()} {self.label}"


def parts_of(parts: "list[PlatePart] | Any", kind: PartKind) -> list[PlatePart]:
    """Those parts of one kind, without another query."""
    return [part for part in parts if part.kind == kind]
