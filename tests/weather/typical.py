"""The typical year of Greensboro, North Carolina (NREL TMY3), that ships with pvlib, and the same hours as EPW.

No package at hand carries an EPW file. The EPW text here holds the hours of the TMY3 file in the columns of the EPW
data dictionary (EnergyPlus, Auxiliary Programs), so both readers must find the same weather.
"""

import csv
import io
from functools import cache
from pathlib import Path

import pvlib

from groutjobs.weather.years import TypicalYear, tmy3_year

PATH = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
EPW_COLUMNS = 35


@cache
def tmy3_bytes() -> bytes:
    return PATH.read_bytes()


@cache
def greensboro() -> TypicalYear:
    return tmy3_year(tmy3_bytes())


@cache
def tmy3_rows() -> list[dict[str, str]]:
    """The lines of the file as the csv module of the standard library reads them: a second reader for checks."""
    return list(csv.DictReader(io.StringIO(tmy3_bytes().decode().partition("\n")[2])))


def cell(day: str, clock: str, column: str) -> float:
    """One value of the file: month/day, hour as printed, name in the header."""
    return next(
        float(row[column])
        for row in tmy3_rows()
        if row["Date (MM/DD/YYYY)"].startswith(day) and row["Time (HH:MM)"] == clock
    )


@cache
def epw_bytes() -> bytes:
    """The same hours as an EPW file."""
    head = ["LOCATION,Greensboro Piedmont Triad Intl,NC,USA,TMY3,723170,36.100,-79.950,-5.0,273.0"]
    head += [
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
    ]
    head += [
        "COMMENTS 1,hours of the TMY3 file of the same station",
        "COMMENTS 2,",
        "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
    ]
    return ("\n".join(head + [_epw_line(row) for row in tmy3_rows()]) + "\n").encode()


def _epw_line(row: dict[str, str]) -> str:
    month, day, year = row["Date (MM/DD/YYYY)"].split("/")
    cells = ["0"] * EPW_COLUMNS
    cells[:5] = [year, str(int(month)), str(int(day)), str(int(row["Time (HH:MM)"][:2])), "0"]
    cells[5] = "?9"
    cells[6], cells[7], cells[8] = row["Dry-bulb (C)"], row["Dew-point (C)"], row["RHum (%)"]
    cells[9], cells[13] = str(100 * int(row["Pressure (mbar)"])), row["GHI (W/m^2)"]
    cells[21], cells[22], cells[33] = row["Wspd (m/s)"], row["TotCld (tenths)"], row["Lprecip depth (mm)"]
    return ",".join(cells)
