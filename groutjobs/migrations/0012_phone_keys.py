import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models

from groutjobs import keeping

TABLES = ["groutjobs_devicekey", "groutjobs_devicecookie"]
PURPOSE = "shift keys of phones"


def close_shift_keys(apps, editor):
    """Keys that stood in plain form are closed; what they signed stays proven."""
    rows = apps.get_model("groutjobs", "ShiftKey").objects
    for pk, secret in list(rows.values_list("pk", "secret")):
        rows.filter(pk=pk).update(secret=keeping.closed(secret, purpose=PURPOSE))


def open_shift_keys(apps, editor):
    rows = apps.get_model("groutjobs", "ShiftKey").objects
    for pk, secret in list(rows.values_list("pk", "secret")):
        rows.filter(pk=pk).update(secret=keeping.opened(secret, purpose=PURPOSE))


def forbid_changes(apps, editor):
    """As in 0002 and 0009: the database itself refuses to change or delete these rows."""
    on_postgres = editor.connection.vendor == "postgresql"
    for table in TABLES:
        for verb in ("UPDATE", "DELETE"):
            body = (
                "FOR EACH ROW EXECUTE FUNCTION groutjobs_append_only()"
                if on_postgres
                else f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
            )
            editor.execute(f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} {body}")
        if on_postgres:
            editor.execute(
                f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION groutjobs_append_only()"
            )


def allow_changes(apps, editor):
    on_postgres = editor.connection.vendor == "postgresql"
    for table in TABLES:
        for verb in ("update", "delete", *(["truncate"] if on_postgres else [])):
            editor.execute(f"DROP TRIGGER {table}_no_{verb}" + (f" ON {table}" if on_postgres else ""))


class Migration(migrations.Migration):
    dependencies = [("groutjobs", "0011_loggers_and_outlook")]

    operations = [
        migrations.CreateModel(
            name="DeviceKey",
            fields=[
                (
                    "thumbprint",
                    models.CharField(
                        max_length=64, primary_key=True, serialize=False, verbose_name="SHA-256 of the public key"
                    ),
                ),
                ("public_key", models.TextField(verbose_name="as SubjectPublicKeyInfo, base64url")),
                ("at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "device",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="proving_keys", to="groutjobs.device"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="DeviceCookie",
            fields=[
                ("token_hash", models.CharField(max_length=64, primary_key=True, serialize=False)),
                (
                    "question",
                    models.CharField(
                        max_length=64, unique=True, verbose_name="the question that was answered, each once"
                    ),
                ),
                ("at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "device",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="further_cookies",
                        to="groutjobs.device",
                    ),
                ),
                (
                    "key",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="cookies", to="groutjobs.devicekey"
                    ),
                ),
            ],
        ),
        migrations.RunPython(forbid_changes, allow_changes, elidable=False),
        migrations.AlterField(
            model_name="shiftkey",
            name="secret",
            field=models.TextField(verbose_name="key as hex, closed for the database"),
        ),
        migrations.RunPython(close_shift_keys, open_shift_keys, elidable=False),
    ]
