import django.db.models.deletion
from django.db import migrations, models

STATES = [
    ("received", "received"),
    ("acknowledged", "acknowledged"),
    ("in_assessment", "in assessment"),
    ("decided", "decided"),
    ("told", "told"),
    ("remedied", "put right"),
    ("closed", "closed"),
    ("reopened", "reopened"),
]


class Migration(migrations.Migration):
    dependencies = [("shops", "0001_initial"), ("claims", "0004_claims_to_makers")]

    operations = [
        migrations.CreateModel(
            name="StageDays",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("state", models.CharField(choices=STATES, max_length=13)),
                ("days", models.PositiveSmallIntegerField()),
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
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=["shop", "state"], name="claim_stage_days_once"),
                    models.CheckConstraint(
                        condition=models.Q(state__in=[state for state, _ in STATES]),
                        name="claim_stage_days_state_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(days__lte=365), name="claim_stage_days_within_a_year"
                    ),
                ]
            },
        )
    ]
