"""Taking the score of a site's forecasts over into the odds. Apart from actions.py, which stores forecasts."""

from dataclasses import asdict

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.weather.models import LearnedSpread
from groutjobs.weather.scoring import LEAST_PAIRS, MOST_ERROR_K, DayAhead


@action
def use_score(*, site: Site, pair_count: int, days: list[DayAhead], by: User) -> LearnedSpread:
    """Keep the score; searches made from now on of live forecasts of the site count their odds with it."""
    if pair_count < LEAST_PAIRS or not days:
        raise NotAllowed(
            f"the score rests on {pair_count} pairs of forecast and reading; the odds take it from {LEAST_PAIRS} pairs "
            "on [GROUTJOBS], with 12 or more on some day ahead; read the air beside open foundations for longer"
        )
    for day in days:
        if max(abs(day.bias_k), day.spread_k) > MOST_ERROR_K:
            raise NotAllowed(
                f"day ahead {day.number} of the score has a mean error of {day.bias_k:.1f} K and a spread of "
                f"{day.spread_k:.1f} K; up to {MOST_ERROR_K:g} K is taken for an error of the forecast [GROUTJOBS]; "
                "look for a probe that measured no outside air and set its readings aside"
            )
    kept = LearnedSpread.objects.create(
        site=site, pair_count=pair_count, days=[asdict(day) for day in days], made_by=by
    )
    record(kept, by=by, kind="forecast_spread.learned")
    return kept
