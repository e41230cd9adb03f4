"""Writing forecasts. A stored forecast is never changed; a correction is a new one that names the old."""

import datetime as dt
import hashlib
from functools import partial

from django.db import transaction
from django.dispatch import Signal

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record
from groutjobs.audit.chain import canonical, plain
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.weather.calc import hours_to_store, moisture
from groutjobs.weather.models import Forecast, ForecastSource
from groutjobs.weather.series import LIMIT_OF, Series
from groutjobs.wording import counted

forecast_brought = Signal()
"""Sent after any forecast is stored, live, by file or corrected: later stages pull what they need of it."""


@action
def add_forecast(
    *,
    site: Site,
    source: str,
    series: Series,
    issued_at: dt.datetime,
    by: User,
    source_name: str = "",
    note: str = "",
    file_sha256: str = "",
) -> Forecast:
    """Store hours of weather. The name and note of the series are used where none are given."""
    if issued_at > series.at(series.hour_count - 1):
        raise NotAllowed(
            "this forecast was issued after its last hour; check the issue time, or the times of its hours"
        )
    forecast = Forecast.objects.create(
        site=site,
        source=ForecastSource(source),
        source_name=source_name or series.source_name,
        issued_at=issued_at,
        zone=site.zone,
        starts_at=series.starts_at,
        hour_count=series.hour_count,
        hours=hours_to_store(series, site),
        note="\n".join(part for part in (series.note, note) if part),
        file_sha256=file_sha256,
        made_by=by,
    )
    _record_added(forecast, by)
    _tell(forecast)
    return forecast


def _tell(forecast: Forecast) -> None:
    transaction.on_commit(partial(forecast_brought.send_robust, sender=Forecast, forecast=forecast))


def _record_added(forecast: Forecast, by: User) -> None:
    """Note a new forecast. Of a live one, which comes several times a day, the record keeps the hash of the hours."""
    if not forecast.is_live:
        record(forecast, by=by, kind="forecast.added")
        return
    hours = plain(forecast.hours)
    digest = hashlib.sha256(canonical(hours).encode()).hexdigest()
    record(forecast, by=by, kind="forecast.fetched", before={"hours": hours}, extra={"hours_sha256": digest})


@action
def correct_forecast(
    *, forecast: Forecast, changes: dict[dt.datetime, dict[str, float]], reason: str, by: User
) -> Forecast:
    """Store a new forecast with other values at some hours: moment → quantity → value.

    Where the temperature changes the dew point stays, because the air keeps its water; where the humidity is given the
    dew point follows it. Sunlight that was computed from cloud is computed again.
    """
    if not changes:
        raise NotAllowed("there is nothing to correct; enter at least one hour with a value")
    if not reason.strip():
        raise NotAllowed("a correction needs a reason; say what is known better than the forecast")
    corrected = Forecast.objects.create(
        site=forecast.site,
        source=ForecastSource.HAND,
        source_name=f"{forecast.source_name[:180]}, corrected",
        issued_at=forecast.issued_at,
        zone=forecast.zone,
        starts_at=forecast.starts_at,
        hour_count=forecast.hour_count,
        hours=hours_to_store(_changed(forecast, changes), forecast.site),
        note="\n".join(
            part for part in (forecast.note, f"{counted(len(changes), 'hour')} corrected: {reason}") if part
        ),
        corrects=forecast,
        made_by=by,
    )
    record(corrected, by=by, kind="forecast.corrected", reason=reason)
    _tell(corrected)
    return corrected


def _changed(forecast: Forecast, changes: dict[dt.datetime, dict[str, float]]) -> Series:
    computed = set(forecast.hours.get("computed", []))
    kept = {quantity for quantity in LIMIT_OF if quantity in forecast.hours}
    if "solar_w_m2" in computed:
        kept.discard("solar_w_m2")
    hours = {quantity: forecast.values(quantity) for quantity in LIMIT_OF if quantity in kept}
    touched: dict[int, dict[str, float]] = {}
    for moment, values in changes.items():
        index = round((moment - forecast.starts_at).total_seconds() / 3600)
        if not 0 <= index < forecast.hour_count or forecast.at(index) != moment:
            raise NotAllowed(
                f"{moment:%Y-%m-%d %H:%M} {moment:%Z} is no hour of this forecast; correct hours that it has"
            )
        touched[index] = values
        for quantity, value in values.items():
            if quantity not in hours:
                raise NotAllowed(
                    "this forecast does not tell the chance of rain; it cannot be corrected, add a new one"
                )
            hours[quantity][index] = value
    for index, values in touched.items():
        given = "relative_humidity" if "relative_humidity" in values else "dew_point_c"
        hours["dew_point_c"][index], hours["relative_humidity"][index] = moisture(
            hours["temp_c"][index], given, hours[given][index]
        )
    return Series(forecast.starts_at, hours, past_hours=forecast.past_hours)
