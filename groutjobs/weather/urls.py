from django.urls import path

from groutjobs.weather import views

app_name = "weather"
urlpatterns = [
    path("sites/<int:site_id>/forecasts/", views.forecast_list, name="forecast_list"),
    path("sites/<int:site_id>/forecasts/add-csv/", views.forecast_add_csv, name="forecast_add_csv"),
    path("sites/<int:site_id>/forecasts/add-year/", views.forecast_add_year, name="forecast_add_year"),
    path("sites/<int:site_id>/forecasts/add-hand/", views.forecast_add_hand, name="forecast_add_hand"),
    path("sites/<int:site_id>/forecasts/example.csv", views.csv_example, name="csv_example"),
    path("sites/<int:site_id>/forecasts/live/", views.feed_edit, name="feed_edit"),
    path("sites/<int:site_id>/forecasts/live/ask/", views.feed_ask, name="feed_ask"),
    path("forecasts/<int:forecast_id>/", views.forecast_detail, name="forecast_detail"),
    path("forecasts/<int:forecast_id>/correct/", views.forecast_correct, name="forecast_correct"),
]
