"""Reads of the strength samples: which were cast, which are tested, and what a result says."""

import datetime as dt
from typing import Any

from groutjobs.curing.calc.samples import expected_of, rate_with_samples, sample_result
from groutjobs.curing.evidence import results_of
from groutjobs.curing.queries import cure_of, readings_of
from groutjobs.curing.sample_models import KeptWhere, SampleResult
from groutjobs.pours.log import Sample
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import log_of


def samples_cast(pour: Pour) -> list[Sample]:
    """The samples that the pour log holds, struck ones left out."""
    return list(log_of(pour).samples)


def worked_out_sample(
    pour: Pour, inputs: dict[str, Any], tested_at: dt.datetime
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Inputs with what the clock expects, and the result, as the record keeps them."""
    whole = inputs | {"expected": expected_of(pour, cure_of(pour), inputs["kept"], tested_at)}
    return whole, sample_result(whole)


def samples_page(pour: Pour) -> dict[str, Any]:
    """Everything that the page of the samples shows."""
    results = results_of(pour)
    beside = [(row.tested_at, row.strength_mpa) for row in results if row.kept == KeptWhere.BESIDE]
    cure = cure_of(pour)
    replaced = (
        SampleResult.objects.filter(pour=pour).exclude(replaced_by=None).select_related("entered_by", "replaced_by")
    )
    return {
        "cast": samples_cast(pour),
        "results": results,
        "replaced": list(replaced),
        "cure": cure,
        "rate": rate_with_samples(pour, readings_of(pour), beside),
    }
