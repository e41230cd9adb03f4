"""How fast the data of the Cure page come out of millions of readings on PostgreSQL, and how few points are sent.

A scratch schema gets a table of readings with the columns and indexes of ours, filled by generate_series in the order
in which loggers send: all pours of a day mixed. Then the readings of pours drawn at random are fetched as the page
fetches them and thinned as the picture does. The scratch schema is dropped at the end.
"""

import random
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

from django.db import connection
from django.utils import timezone

from groutjobs.curing.models import CureReading, Probe
from groutjobs.curing.queries import readings_of_pour
from groutjobs.curing.series import MOST_POINTS, as_json, series_of
from groutjobs.engineering.checks import require_between
from groutjobs.errors import Unusable

SCHEMA = "readings_benchmark"
READINGS_A_POUR = 1_000
LONG_POURS, LONG_READINGS = 20, 50_000
DRAWN, DRAWN_LONG = 300, 40
BUDGET_MS = 300.0


@dataclass(frozen=True)
class Measured:
    """Times of one kind of pour, and the most points that a series was sent with."""

    what: str
    count: int
    p50_ms: float
    p95_ms: float
    most_points: int


def fill(readings: int, say: Callable[[str], None]) -> int:
    """Make the scratch table with so many readings; the number of its pours."""
    if connection.vendor != "postgresql":
        raise Unusable("benchmark of readings", "it needs PostgreSQL in DATABASE_URL", source="GROUTJOBS")
    require_between("readings", readings, 100_000, 200_000_000, source="GROUTJOBS")
    long_rows = min(LONG_POURS * LONG_READINGS, readings // 10)
    pours = (readings - long_rows) // READINGS_A_POUR
    begun = time.perf_counter()
    with connection.cursor() as cursor:
        cursor.execute(f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE")
        cursor.execute(f"CREATE SCHEMA {SCHEMA}")
        cursor.execute(f"SET search_path TO {SCHEMA}, public")
        cursor.execute("SET synchronous_commit TO off")
        cursor.execute("CREATE UNLOGGED TABLE groutjobs_curereading (LIKE public.groutjobs_curereading)")
        _insert(cursor, pours, READINGS_A_POUR, 0)
        _insert(cursor, LONG_POURS, long_rows // LONG_POURS, pours)
        say(f"{readings:,} readings of {pours + LONG_POURS:,} pours written in {time.perf_counter() - begun:.0f} s")
        begun = time.perf_counter()
        _index(cursor)
        cursor.execute("ANALYZE groutjobs_curereading")
        say(f"indexes made in {time.perf_counter() - begun:.0f} s")
        cursor.execute(
            "SELECT pg_size_pretty(pg_table_size('groutjobs_curereading')), "
            "pg_size_pretty(pg_indexes_size('groutjobs_curereading'))"
        )
        table, indexes = cursor.fetchone()
        say(f"table {table}, indexes {indexes}")
    with connection.cursor() as cursor:
        cursor.execute("VACUUM groutjobs_curereading")
    return pours


def _insert(cursor: object, pours: int, each: int, first: int) -> None:
    """Readings of pours in the order of time, all pours mixed: 4 probes a moment, every half hour, a peak in each."""
    rows = (
        "INSERT INTO groutjobs_curereading (id, pour_id, brought_in_id, probe, read_at, temp_c, typed, set_aside) "
        "SELECT %s + t::bigint * %s + p, %s + p, 1, (ARRAY['grout','concrete','plate','air'])[1 + t %% 4], "
        "TIMESTAMPTZ '2026-01-01' + (t / 4) * INTERVAL '30 minutes' + (p %% 1440) * INTERVAL '1 second', "
        "20 + 5 * sin(t / 100.0) + CASE WHEN t %% 397 = 396 THEN 30 ELSE 0 END + random(), '21.5 °C', false "
        "FROM generate_series(0, %s - 1) AS t, generate_series(1, %s) AS p"
    )
    start = first * READINGS_A_POUR * 10
    cursor.execute(rows, [start, pours, first, each, pours])  # type: ignore[attr-defined]


def _index(cursor: object) -> None:
    """The indexes of the model, as its migration makes them."""
    statements = [*CureReading._meta.indexes, *CureReading._meta.constraints]
    with connection.schema_editor(collect_sql=True) as editor:
        sql = [str(one.create_sql(CureReading, editor)) for one in statements]
    for statement in sql:
        cursor.execute(statement)  # type: ignore[attr-defined]


def measure(pours: int, seed: int = 1) -> list[Measured]:
    """Fetch and thin the readings of random pours of both kinds."""
    draw = random.Random(seed)  # noqa: S311 (no secret)
    ordinary = [draw.randint(1, pours) for _ in range(DRAWN)]
    long_ones = [pours + draw.randint(1, LONG_POURS) for _ in range(DRAWN_LONG)]
    return [
        _timed("random pours", ordinary),
        _timed("pours with a logger of many weeks", long_ones),
    ]


def _timed(what: str, pour_ids: list[int]) -> Measured:
    taken, most, rows = [], 0, 0
    for pour_id in pour_ids:
        begun = time.perf_counter()
        found = readings_of_pour(pour_id)
        started_at = min((values[0][0] for values in found.values() if values), default=timezone.now())
        drawn = {probe: as_json(series_of(found[probe], started_at)) for probe in Probe.values}
        taken.append((time.perf_counter() - begun) * 1000)
        rows = max(rows, sum(len(values) for values in found.values()))
        most = max([most, *(len(series["at_h"]) for series in drawn.values())])
    cuts = statistics.quantiles(taken, n=20, method="inclusive")
    return Measured(f"{what} ({rows:,} readings)", len(taken), statistics.median(taken), cuts[18], most)


def drop() -> None:
    """Take the scratch schema away."""
    with connection.cursor() as cursor:
        cursor.execute("RESET search_path")
        cursor.execute("RESET synchronous_commit")
        cursor.execute(f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE")


def reading_lines(readings: int, say: Callable[[str], None]) -> list[Measured]:
    """Fill, measure, say and drop."""
    try:
        pours = fill(readings, say)
        found = measure(pours)
        for row in found:
            say(
                f"{row.what}: {row.count} fetched and thinned, p50 {row.p50_ms:.1f} ms, p95 {row.p95_ms:.1f} ms "
                f"(budget {BUDGET_MS:.0f} ms), at most {row.most_points} of {MOST_POINTS} points a series"
            )
        return found
    finally:
        drop()
