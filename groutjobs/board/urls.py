from django.urls import path

from groutjobs.board import views

app_name = "board"
urlpatterns = [
    path("", views.day_sheet, name="day_sheet"),
    path("sources/", views.sources, name="sources"),
    path("sites/<int:site_id>/forecasts/score/", views.forecast_score, name="forecast_score"),
    path("sites/<int:site_id>/forecasts/score/use/", views.forecast_score_use, name="forecast_score_use"),
    path("how-it-is-computed/", views.how, name="how"),
]
