from django.apps import AppConfig


class GroutJobsConfig(AppConfig):
    name = "groutjobs"
    verbose_name = "GroutJobs"
