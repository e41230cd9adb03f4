"""The job that is done, and the people who do it: an invented pump on an invented works. Nothing of it exists."""

import datetime as dt
from pathlib import Path
from zoneinfo import ZoneInfo

import pvlib

from tests.browser.visitor import Person

ZONE = ZoneInfo("America/New_York")
# A Monday in spring; the grout cures for three weeks before it is inspected.
OFFICE_AT = dt.datetime(2027, 4, 5, 9, 0, tzinfo=ZONE)
FIRST_DAY = dt.date(2027, 4, 12)
CURE = dt.timedelta(days=21)
# NREL typical meteorological year (TMY3) of station 723170, Greensboro, North Carolina; ships in the package pvlib.
TYPICAL_YEAR = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"

ADMINISTRATOR = Person("Lovisa Quillmarsh", "lovisa@works.example", "Site administrator", "nine grey herons wade")
ENGINEER = Person("Tobias Fennimoor", "tobias@works.example", "Engineer", "plumb bob over the datum")
APPROVER = Person("Ines Thornwhistle", "ines@works.example", "Engineer", "second pair of quiet eyes")
LEAD = Person("Rufus Oakhollow", "rufus@works.example", "Crew lead", "whole kits and nothing less")
CREW = Person("Mina Saltbrook", "mina@works.example", "Crew", "slow paddle dry aggregate")
INSPECTOR = Person("Edda Larkstone", "edda@works.example", "Inspector", "half a kilo hammer rings")
OUTSIDER = Person("Odo Farwether", "", "Reader outside", "")
INVITED = (ENGINEER, APPROVER, LEAD, CREW, INSPECTOR)

SITE_NAME = "Plover Sound Pumping Works"
SITE = {
    "Name of the site": SITE_NAME,
    "Owner of the plant": "Plover Sound Water Board (invented)",
    "Time zone": "America/New_York",
    "Latitude": "36.1",
    "Longitude": "-79.95",
    "Elevation above sea level": "273",
    "Mean air temperature of the year": "14.5",
    "Half the difference between the warmest and the coldest month": "11",
    "Emergency contact": "gate house, radio channel 1 (invented)",
    "Environmental contact": "duty environmental engineer, radio channel 4 (invented)",
    "Shift starts": "06:00",
    "Shift ends": "18:00",
}

GROUT = "Invented epoxy Q"
DATA_SHEET = {
    "Revision of the data sheet": "2",
    "Date printed on it": "2027-01-15",
    "What one kit or bag holds": "resin 4.9 kg, hardener 1.7 kg, aggregate 2 bags of 25.5 kg",
    "Yield of one kit or bag, mixed": "28.3",
    "Mass of one kit or bag": "57.5",
    "Density of the mixed grout": "2030",
    "Least depth of grout": "25",
    "Greatest depth in one lift": "125",
    "Coldest for placing": "10",
    "Hottest for placing": "32",
    "Does not cure below": "8",
    "Mixing time of one kit": "8",
    "Shelf life": "730",
    "Mixing rules": "Whole kits only. Resin and hardener 3 to 5 minutes with a slow paddle, then aggregate bag by bag.",
    "Working life": "10; 170\n23; 90\n32; 48",
    "Compressive strength": "10; 48; 38\n10; 96; 66\n10; 336; 92\n23; 16; 40\n23; 24; 58\n23; 48; 78\n23; 168; 96",
}
LOT_NO = "Q-2701-118"
LOT = {
    "Lot number": LOT_NO,
    "Kits or bags in store": "12",
    "Expires on": "2028-06-30",
    "Store temperature": "21",
    "Where it is kept": "heated store, bay 2",
}

TAG = "P-310"
MACHINE = {
    "Tag": TAG,
    "Service": "brine transfer pump, open-air row",
    "Speed": "1480",
    "Mass of machine, driver and plate": "950",
}
FOUNDATION = {
    "Length of the block": "1800",
    "Width of the block": "1300",
    "Height of the block": "900",
    "Specified strength of the concrete": "28",
    "Tested strength of the concrete": "31",
    "Concrete placed on": "2026-09-14",
    "Depth of concrete removed": "20",
    "Profile of the chipped surface": "14",
    "Surveyed points of the prepared concrete": "\n".join(
        f"{x}; {y}; {100 + (x + 2 * y) / 300 % 4:.1f}"
        for y in (0, 433, 867, 1300)
        for x in (0, 360, 720, 1080, 1440, 1800)
    ),
    "Anchor bolts": "\n".join(
        f"B{number}; {x}; {y}; M20×2.5; ASTM F1554 grade 36; 320; 60; 250"
        for number, (x, y) in enumerate([(345, 510), (1455, 510), (345, 790), (1455, 790)], 1)
    ),
}
RECTANGLE = {
    "Length of the plate": "1200",
    "Width of the plate": "700",
    "From the corner of the block along x": "300",
    "From the corner of the block along y": "300",
    "Compartments side by side along x": "2",
    "Diameter of the fill holes": "100",
    "Diameter of the vents": "13",
    "Elevation of the underside": "150",
    "Thickness of the plate": "25",
    "Mass of the plate": "190",
}
PARTS = {
    "Jackscrews": "\n".join(
        f"J{number}; {x}; {y}; 60; 2.54"
        for number, (x, y) in enumerate([(480, 340), (1320, 340), (480, 960), (1320, 960)], 1)
    ),
    "Mounting pads": "\n".join(
        f"M{number}; {x}; {y}; 200; 120"
        for number, (x, y) in enumerate([(620, 480), (1180, 480), (620, 820), (1180, 820)], 1)
    ),
}
PLAN = {
    "Day of the pour, as planned": "2027-04-14",
    "Temperature of the mixed grout": "22",
    "Tension of all snug bolts together": "20",
    "Mixers": "1",
    "People on the crew": "5",
    "Carrying and placing of one batch": "8",
    "Turnaround of a mixer": "4",
}
# Hold points of the list that other crews close after the turnover; accepted as deviations.
LEFT_TO_OTHERS = ("Piping made up, pipe strain", "Final alignment", "Joints sealed, painted, turned over")
