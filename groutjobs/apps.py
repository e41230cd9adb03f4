from django.apps import AppConfig


class GroutJobsConfig(AppConfig):
    name = "groutjobs"
    verbose_name = "GroutJobs"

    def ready(self) -> None:
        from groutjobs.curing.arriving import register  # noqa: PLC0415 (models are not there before)
        from groutjobs.curing.fresh import ask_for_site  # noqa: PLC0415
        from groutjobs.outages.fresh import judge_accepted  # noqa: PLC0415
        from groutjobs.pours.news import log_grew  # noqa: PLC0415
        from groutjobs.signing.following import follow  # noqa: PLC0415
        from groutjobs.weather.actions import forecast_brought  # noqa: PLC0415
        from groutjobs.weather.fetching import forecast_kept  # noqa: PLC0415

        forecast_kept.connect(judge_accepted, dispatch_uid="judge accepted schedules")
        forecast_brought.connect(ask_for_site, dispatch_uid="outlook of running cures")
        log_grew.connect(follow, dispatch_uid="pour records follow the log")
        register()
