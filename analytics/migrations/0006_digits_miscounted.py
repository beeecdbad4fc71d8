from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("analytics", "0005_score")]

    operations = [
        migrations.AlterField(
            model_name="suspectreading",
            name="cause",
            field=models.CharField(
                choices=[
                    ("ok", "nothing wrong"),
                    ("rollover", "counter went past its last digit"),
                    ("counter_exchange", "counter exchanged or reset"),
                    ("digits_swapped", "two digits swapped"),
                    ("digit_misread", "one digit misread"),
                    ("wrong_truck", "read on another truck"),
                    ("unchanged", "counter stuck, or the last value copied"),
                    ("unexplained", "not explained"),
                    ("digits_miscounted", "one digit left out or written twice"),
                    ("ruled", "somebody decided"),
                ],
                max_length=20,
                verbose_name="cause",
            ),
        ),
    ]
