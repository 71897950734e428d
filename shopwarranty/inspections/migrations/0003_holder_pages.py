import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0002_offers_and_rules"),
        ("jobs", "0001_initial"),
        ("shops", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="AskedOften",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("who", models.CharField(max_length=64)),
                ("hour", models.DateTimeField(db_index=True)),
                ("times", models.PositiveIntegerField(default=0)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("who", "hour"), name="asked_often_once"),
                ],
            },
        ),
        migrations.CreateModel(
            name="OneTimeCode",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("code_hash", models.CharField(max_length=64)),
                ("made_at", models.DateTimeField()),
                ("expires_at", models.DateTimeField()),
                ("wrong", models.PositiveSmallIntegerField(default=0)),
                ("used_at", models.DateTimeField(blank=True, null=True)),
                (
                    "party",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="jobs.party"
                    ),
                ),
                (
                    "shop",
                    models.ForeignKey(
                        db_index=False,
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="shops.shop",
                    ),
                ),
                (
                    "vehicle",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="jobs.vehicle"
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["shop", "vehicle", "party", "-made_at"], name="one_time_code_last"),
                ],
            },
        ),
        migrations.AddField(
            model_name="holderreport",
            name="link",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="jobs.holderlink",
            ),
        ),
        migrations.AddField(
            model_name="holderreport",
            name="sent_as",
            field=models.UUIDField(
                blank=True,
                editable=False,
                help_text="Made by the form: sent twice, kept once.",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="holderreport",
            name="set_aside_why",
            field=models.CharField(blank=True, max_length=160),
        ),
        migrations.AddField(
            model_name="holderreport",
            name="since_until",
            field=models.DateField(
                blank=True, help_text="The latest day it can have begun; since_when: the earliest.", null=True
            ),
        ),
        migrations.AddIndex(
            model_name="holderreport",
            index=models.Index(fields=["shop", "link", "sent_at"], name="report_of_link"),
        ),
        migrations.AddConstraint(
            model_name="holderreport",
            constraint=models.UniqueConstraint(fields=("shop", "sent_as"), name="holder_report_sent_once"),
        ),
    ]
