import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("groutjobs", "0009_phone_ops")]

    operations = [
        migrations.CreateModel(
            name="HoursNews",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("asked_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("done_at", models.DateTimeField(null=True)),
                ("judged", models.PositiveSmallIntegerField(default=0)),
                ("refused", models.JSONField(default=list)),
                (
                    "forecast",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="groutjobs.forecast"
                    ),
                ),
                (
                    "outage",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="hours_news", to="groutjobs.outage"
                    ),
                ),
            ],
        ),
    ]
