"""The part of the manifest about what was decided after the pour: nonconformances, releases, samples, instruments."""

from typing import Any

from groutjobs.curing.evidence import release_json
from groutjobs.instruments.queries import instruments
from groutjobs.nonconformances.queries import nonconformance_json, nonconformances_of
from groutjobs.turnover.gathering import Standing
from groutjobs.turnover.plain import columns


def after_part(job: Standing) -> dict[str, Any]:
    """Nonconformances with their steps, releases with their evidence, sample results, instruments with calibrations."""
    used = {row.made_with_id for row in job.inspections} | {row.read_with_id for row in job.reading_imports}
    rows = instruments().filter(pk__in=[number for number in used if number is not None]).order_by("pk")
    return {
        "nonconformances": [nonconformance_json(row) for row in nonconformances_of(job.pour)],
        "releases": [release_json(row) for row in job.releases],
        "sample_results": [columns(row) | {"entered_by": row.entered_by.name} for row in job.samples],
        "instruments": [
            columns(row)
            | {
                "kind_words": row.get_kind_display(),
                "label": str(row),
                "calibrations": [
                    columns(one) | {"is_replaced": hasattr(one, "replaced_by")} for one in row.calibrations.all()
                ],
            }
            for row in rows
        ],
    }
