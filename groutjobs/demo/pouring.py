"""Pour logs of the demonstration, entered batch by batch as a crew would."""

import datetime as dt
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from PIL import Image, ImageDraw

from groutjobs.accounts.models import Role, User
from groutjobs.demo.plant import Works
from groutjobs.planning.models import PlanPoint, PourPlan
from groutjobs.pours.actions import add_entry, add_photo, open_pour
from groutjobs.pours.log import Fill
from groutjobs.pours.models import EntryKind, Photo, Pour, PourEntry
from groutjobs.pours.queries import log_of

MINUTE = dt.timedelta(minutes=1)
WITNESSES: dict[str, str] = {Role.ENGINEER: "engineer", Role.CREW_LEAD: "lead", Role.INSPECTOR: "inspector"}
GROUT_C = 22.4
MEASURED = {
    4: "33.5 MPa by cores, 90 days",
    5: "14 mm peak to valley, hammer test sound",
    7: "sheet test 20 h, dry",
    9: "near-white blast, profile 62 µm, primer 3 days old",
    11: "0.08 mm/m along, 0.06 mm/m across; level no. 0417",
    12: "0.09 mm/m after snugging; level no. 0417",
    14: "concrete 20.6 °C, plate 20.9 °C, material 22.1 °C, spread 10.8 K",
}


@dataclass
class Crew:
    """Who writes in one pour log, and the moment of the last entry."""

    pour: Pour
    works: Works
    at: dt.datetime
    batch: int = 0
    photos: list[Photo] = field(default_factory=list)

    def enter(self, kind: str, by: str, body: dict[str, Any], *, at: dt.datetime | None = None) -> PourEntry:
        self.at = at or self.at + MINUTE
        return add_entry(
            pour=self.pour, kind=kind, body=body, by=self.works.people[by], happened_at=self.at, entered_at=self.at
        )

    def person(self, key: str) -> User:
        return self.works.people[key]


def start_pour(works: Works, plan: PourPlan, at: dt.datetime) -> Crew:
    return Crew(open_pour(plan=plan, by=works.people["lead"]), works, at)


def answer_points(crew: Crew, points: list[PlanPoint], at: dt.datetime, every: dt.timedelta) -> None:
    """Answer these hold points one after the other, each seen by somebody of the role that the plan names."""
    crew.at = at
    for number, point in enumerate(points):
        witness = WITNESSES.get(point.witness_role, "inspector")
        by = "inspector" if witness == "lead" else "lead"
        body = {"point_id": point.pk, "answer": "accepted", "witness_id": crew.person(witness).pk}
        if point.position in MEASURED and point.before_pour:
            body["measured"] = MEASURED[point.position]
        if "photo" in point.recorded.lower():
            body["photos"] = [picture(crew, f"{crew.pour.plan.machine.tag} step {point.position}", number).pk]
        crew.enter(EntryKind.POINT_ANSWER, by, body, at=crew.at + every)


def picture(crew: Crew, words: str, number: int) -> Photo:
    """A drawn stand-in for a photograph, labelled as such."""
    image = Image.new("RGB", (960, 640), (200 - number % 5 * 8, 198, 190))
    draw = ImageDraw.Draw(image)
    for line in range(0, 960, 24):
        draw.line([(line, 640), (line + 200, 240)], fill=(178, 176, 168), width=3)
    draw.rectangle([120, 180, 840, 300], fill=(92, 104, 116), outline=(40, 46, 54), width=4)
    draw.rectangle([60, 300, 900, 360], fill=(205, 184, 120), outline=(120, 100, 50), width=3)
    draw.text((40, 40), f"Invented stand-in for a photograph: {words}", fill=(20, 20, 20), font_size=30)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=82)
    photo = add_photo(pour=crew.pour, content=out.getvalue(), by=crew.person("lead"))
    crew.photos.append(photo)
    return photo


def readings_before(crew: Crew) -> None:
    for what, temp_c in (("concrete", 20.6), ("plate", 20.9), ("material", 22.1)):
        crew.enter(EntryKind.READING, "crew", {"what": what, "temp_c": temp_c, "instrument": "contact probe 2210"})
    crew.enter(
        EntryKind.READING,
        "crew",
        {"what": "air", "temp_c": 21.2, "humidity_ratio": 0.46, "instrument": "hygrometer 0093"},
    )


def place_grout(crew: Crew, *, leak_in: str = "", stop_after: int | None = None) -> None:
    """Mix and place until every compartment is full, or until so many batches are in."""
    portion = None
    for portion in _portions(crew, leak_in):
        if stop_after is not None and crew.batch >= stop_after and portion.is_new_batch:
            return
        _place(crew, portion)
    if portion is not None and portion.leaves_some:
        body = {"batch": crew.batch, "why": "left over when all was full; spread thin on sand, outdoors"}
        crew.enter(EntryKind.DISCARDED, "crew", body, at=crew.at + 3 * MINUTE)


def _place(crew: Crew, portion: "Portion") -> None:
    if portion.is_new_batch:
        _mix(crew)
    crew.enter(
        EntryKind.PLACED,
        "lead",
        {
            "batch": crew.batch,
            "compartment": portion.name,
            "volume_l": round(portion.volume_l, 1),
            "left": "some" if portion.leaves_some else "none",
            "filled_ratio": round(portion.filled_ratio, 2),
        },
        at=crew.at + 6 * MINUTE,
    )
    if portion.leaks:
        _find_and_close_leak(crew, portion.name)
    if portion.fills:
        crew.enter(EntryKind.COMPARTMENT_FULL, "lead", {"compartment": portion.name, "remark": "vents bleed"})


@dataclass(frozen=True)
class Portion:
    name: str
    volume_l: float
    filled_ratio: float
    is_new_batch: bool
    leaves_some: bool
    fills: bool
    leaks: bool


def _portions(crew: Crew, leak_in: str) -> Iterator[Portion]:
    """Split batches over the compartments in their order; a leak lets a share of one compartment run out."""
    log = log_of(crew.pour)
    left_l = 0.0
    for fill in log.fills:
        lost_l = 0.16 * fill.takeoff_l if fill.name == leak_in else 0.0
        wanted_l, placed_l = _needed_l(fill) + lost_l, 0.0
        has_leaked = False
        while wanted_l - placed_l > 0.5:
            is_new = left_l <= 0.5
            if is_new:
                left_l = log.batch_l
            volume_l = min(left_l, wanted_l - placed_l)
            placed_l += volume_l
            left_l -= volume_l
            leaks_now = bool(lost_l) and not has_leaked and placed_l > 0.6 * wanted_l
            has_leaked = has_leaked or leaks_now
            kept_l = max(placed_l - (lost_l if has_leaked else 0.0), 0.0)
            yield Portion(
                name=fill.name,
                volume_l=volume_l,
                filled_ratio=min(kept_l / _needed_l(fill), 1.0),
                is_new_batch=is_new,
                leaves_some=left_l > 0.5,
                fills=wanted_l - placed_l <= 0.5,
                leaks=leaks_now,
            )


def _needed_l(fill: Fill) -> float:
    return fill.takeoff_l * 0.99


def _mix(crew: Crew) -> None:
    crew.batch += 1
    kits = crew.pour.plan.kits_per_batch
    lot = crew.pour.plan.lot
    body = {"batch": crew.batch, "kits": kits, "lot": lot.lot_no if lot else "–"}
    crew.enter(EntryKind.LIQUIDS_STARTED, "crew", body, at=crew.at + 2 * MINUTE)
    crew.enter(EntryKind.AGGREGATE_IN, "crew", {"batch": crew.batch, "bags": 2 * kits}, at=crew.at + 4 * MINUTE)
    crew.enter(
        EntryKind.WETTED_OUT,
        "crew",
        {"batch": crew.batch, "grout_c": round(GROUT_C + 0.3 * (crew.batch % 4), 1)},
        at=crew.at + 3 * MINUTE,
    )
    if crew.batch in {1, 6}:
        crew.enter(
            EntryKind.SAMPLE,
            "inspector",
            {
                "label": f"{crew.pour.plan.machine.tag}-S{crew.batch}",
                "batch": crew.batch,
                "kept": "the rack beside the plate",
            },
        )


def _find_and_close_leak(crew: Crew, name: str) -> None:
    photo = picture(crew, f"leak at compartment {name}", 3)
    leak = crew.enter(
        EntryKind.LEAK, "lead", {"compartment": name, "where": "foot of the form, north side", "photos": [photo.pk]}
    )
    crew.enter(
        EntryKind.LEAK_CLOSED,
        "lead",
        {"leak": str(leak.pk), "how": "rags and putty packed, brace added, 4 minutes"},
        at=crew.at + 4 * MINUTE,
    )


def correct_first_temperature(crew: Crew) -> None:
    """A slip of the pen and its correction, so that the log shows one."""
    wrong = crew.enter(EntryKind.READING, "crew", {"what": "grout", "temp_c": 42.4, "instrument": "contact probe 2210"})
    add_entry(
        pour=crew.pour,
        kind=EntryKind.READING,
        body={"what": "grout", "temp_c": 24.4, "instrument": "contact probe 2210"},
        by=crew.person("crew"),
        happened_at=wrong.happened_at,
        entered_at=wrong.entered_at + 3 * MINUTE,
        replaces=wrong,
        reason="digits swapped; read again on the probe",
    )


def declare_complete(crew: Crew) -> None:
    crew.enter(
        EntryKind.DECLARED_COMPLETE, "lead", {"remark": "forms watched for an hour, no leak"}, at=crew.at + 60 * MINUTE
    )
