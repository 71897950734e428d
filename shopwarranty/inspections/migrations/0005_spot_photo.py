from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0004_people_at_once"),
    ]

    operations = [
        migrations.AddField(
            model_name="checkrules",
            name="spot_photo",
            field=models.BooleanField(
                default=False, help_text="a second look at a place drawn at random comes with a photo"
            ),
        ),
    ]
