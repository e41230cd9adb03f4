"""All pages, stage by stage. tests/house reads this list: each URL says who may use it."""

from django.urls import include, path, register_converter
from django.urls.converters import StringConverter


class HashConverter(StringConverter):
    """A SHA-256 in hex, small letters."""

    regex = "[0-9a-f]{64}"


register_converter(HashConverter, "hash")

urlpatterns = [
    path("", include("groutjobs.board.urls")),
    path("", include("groutjobs.accounts.urls")),
    path("", include("groutjobs.equipment.urls")),
    path("", include("groutjobs.instruments.urls")),
    path("", include("groutjobs.planning.urls")),
    path("", include("groutjobs.weather.urls")),
    path("", include("groutjobs.windows.urls")),
    path("", include("groutjobs.outages.urls")),
    path("", include("groutjobs.pours.urls")),
    path("", include("groutjobs.sync.urls")),
    path("", include("groutjobs.curing.urls")),
    path("", include("groutjobs.nonconformances.urls")),
    path("", include("groutjobs.signing.urls")),
    path("", include("groutjobs.turnover.urls")),
    path("", include("groutjobs.reminders.urls")),
    path("phone/", include("groutjobs.phone.urls")),
]
