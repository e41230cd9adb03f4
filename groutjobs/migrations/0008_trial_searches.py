from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("groutjobs", "0007_learned_spread")]

    operations = [
        migrations.AddField(
            model_name="pourhours",
            name="is_trial",
            field=models.BooleanField(default=False, verbose_name="only compared with others"),
        ),
    ]
