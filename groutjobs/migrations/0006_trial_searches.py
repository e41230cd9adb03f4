from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("groutjobs", "0005_outage_crews")]

    operations = [
        migrations.AddField(
            model_name="pourhours",
            name="is_trial",
            field=models.BooleanField(default=False, verbose_name="only compared with others"),
        ),
    ]
