from django.apps import AppConfig


class GroutJobsConfig(AppConfig):
    name = "groutjobs"
    verbose_name = "GroutJobs"

    def ready(self) -> None:
        from groutjobs.curing.arriving import register  # noqa: PLC0415
        from groutjobs.outages.fresh import judge_accepted  # noqa: PLC0415 (models are not there before)
        from groutjobs.weather.fetching import forecast_kept  # noqa: PLC0415

        forecast_kept.connect(judge_accepted, dispatch_uid="judge accepted schedules")
        register()
