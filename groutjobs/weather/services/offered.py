"""The services that a site may choose: where each is asked, and how it wants to be named."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Offer:
    """One open service. `key` is its word in forms, in the database and in Forecast.source."""

    key: str
    title: str
    host: str
    area: str
    credit: str
    credit_url: str
    changes: str
    source: str


US_NWS = Offer(
    key="us_nws",
    title="US National Weather Service",
    host="api.weather.gov",
    area="the United States and its territories, hour by hour for about seven days",
    credit="Forecast data: US National Weather Service (NOAA). Public domain.",
    credit_url="https://www.weather.gov/disclaimer",
    changes="Each value is held for the hours it is given for. The service does not endorse this program.",
    source="USNWS",
)
MET_NORWAY = Offer(
    key="met_no",
    title="MET Norway, Locationforecast 2.0 (CC BY 4.0)",
    host="api.met.no",
    area="the whole world, hour by hour for two to three days and every six hours up to about ten",
    credit="Forecast data: the Norwegian Meteorological Institute (MET Norway), CC BY 4.0.",
    credit_url="https://creativecommons.org/licenses/by/4.0/",
    changes="Changed here: where it gives a value every few hours, the hours between lie on a straight line.",
    source="METNO",
)
OFFERS = {offer.key: offer for offer in (US_NWS, MET_NORWAY)}
HOSTS = frozenset(offer.host for offer in OFFERS.values())
