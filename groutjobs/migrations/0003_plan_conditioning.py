"""A pour plan says from where and how long its material is brought to temperature; empty where nobody planned it."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("groutjobs", "0002_append_only")]

    operations = [
        migrations.AddField(
            model_name="pourplan",
            name="material_c",
            field=models.FloatField(null=True, verbose_name="temperature of the material before it is conditioned"),
        ),
        migrations.AddField(
            model_name="pourplan",
            name="conditioning_store_c",
            field=models.FloatField(null=True, verbose_name="store in which it is conditioned"),
        ),
        migrations.AddField(
            model_name="pourplan",
            name="core_c",
            field=models.FloatField(null=True, verbose_name="coldest core before mixing"),
        ),
        migrations.AddField(
            model_name="pourplan",
            name="conditioning_h",
            field=models.FloatField(null=True, verbose_name="time in that store before mixing"),
        ),
    ]
