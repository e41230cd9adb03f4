"""Sites choose a live forecast service; how fetching goes stands in the database, where every worker sees it."""

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('groutjobs', '0003_plan_conditioning'),
    ]

    operations = [
        migrations.CreateModel(
            name='ServiceState',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('service', models.CharField(choices=[('us_nws', 'US National Weather Service'), ('met_no', 'MET Norway')], max_length=8, unique=True)),
                ('failures', models.PositiveIntegerField(default=0, verbose_name='failures in a row')),
                ('open_until', models.DateTimeField(null=True)),
                ('trial_until', models.DateTimeField(null=True)),
            ],
        ),
        migrations.AlterField(
            model_name='forecast',
            name='source',
            field=models.CharField(choices=[('csv', 'Table of hours (CSV)'), ('tmy3', 'Typical year, TMY3'), ('epw', 'Typical year, EPW'), ('hand', 'Entered by hand'), ('us_nws', 'Live forecast, US National Weather Service'), ('met_no', 'Live forecast, MET Norway')], max_length=8),
        ),
        migrations.CreateModel(
            name='ForecastFeed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('service', models.CharField(choices=[('us_nws', 'US National Weather Service'), ('met_no', 'MET Norway')], max_length=8)),
                ('is_on', models.BooleanField(default=True)),
                ('contact', models.CharField(max_length=120, verbose_name='contact sent to the service')),
                ('chosen_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('chosen_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('site', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='forecast_feed', to='groutjobs.site')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='FeedState',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('service', models.CharField(choices=[('us_nws', 'US National Weather Service'), ('met_no', 'MET Norway')], max_length=8)),
                ('place', models.CharField(blank=True, max_length=60, verbose_name='place that was asked for')),
                ('last_try_at', models.DateTimeField(null=True)),
                ('last_answer_at', models.DateTimeField(null=True, verbose_name='last good answer')),
                ('fault', models.TextField(blank=True)),
                ('failures', models.PositiveIntegerField(default=0, verbose_name='failures in a row')),
                ('next_try_at', models.DateTimeField(null=True)),
                ('not_before', models.DateTimeField(null=True)),
                ('working_until', models.DateTimeField(null=True)),
                ('queued_for', models.DateTimeField(null=True)),
                ('etag', models.CharField(blank=True, max_length=200)),
                ('last_modified', models.CharField(blank=True, max_length=200)),
                ('cell_url', models.CharField(blank=True, max_length=200, verbose_name='address of the grid cell')),
                ('last_forecast', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='groutjobs.forecast')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='feed_states', to='groutjobs.site')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('site', 'service'), name='groutjobs_feedstate_once')],
            },
        ),
    ]
