from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("rounds", "0003_task_fingerprint")]
    operations = [
        migrations.AlterField(
            model_name="message",
            name="kind",
            field=models.CharField(
                choices=[
                    ("digest", "The day's work"),
                    ("overdue", "Overdue work"),
                    ("reading", "Reading beyond its limit"),
                    ("missing", "Animals not seen"),
                    ("trouble", "A message could not be delivered"),
                ],
                max_length=12,
            ),
        )
    ]
