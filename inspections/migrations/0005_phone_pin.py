"""The PIN by which a person is known on a shared phone."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0004_accepted_plans"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="PhonePin",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("pin_hash", models.CharField(max_length=128, verbose_name="hash of the PIN")),
                ("set_at", models.DateTimeField(verbose_name="set at")),
                (
                    "wrong_tries",
                    models.PositiveSmallIntegerField(
                        default=0, verbose_name="wrong tries in a row"
                    ),
                ),
                (
                    "closed_until",
                    models.DateTimeField(blank=True, null=True, verbose_name="takes no try until"),
                ),
                (
                    "person",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="phone_pin",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="person",
                    ),
                ),
            ],
            options={
                "verbose_name": "PIN on phones",
                "verbose_name_plural": "PINs on phones",
                "ordering": ("person",),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("pin_hash", ""), _negated=True),
                        name="phone_pin_has_its_hash",
                    )
                ],
            },
        ),
    ]
