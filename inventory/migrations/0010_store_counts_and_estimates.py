"""Store counts that last, and counts that were judged by eye."""

import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models

from curehouse.common.guards import GuardsAside, InstallGuards


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0001_squashed_0009_offers_and_orders"),
        ("workshops", "0001_squashed_0014_last_order_number"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name="count",
                    name="is_estimate",
                    field=models.BooleanField(default=False, help_text="Judged by eye, not weighed or counted."),
                ),
                migrations.AddField(
                    model_name="lot",
                    name="is_estimated",
                    field=models.BooleanField(default=False, help_text="What it holds rests on what was judged by eye."),
                ),
                migrations.CreateModel(
                    name="StoreCount",
                    fields=[
                        ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                        ("begun_at", models.DateTimeField()),
                        ("ended_at", models.DateTimeField(null=True)),
                        (
                            "lots_left",
                            models.PositiveIntegerField(
                                help_text="How many lots were not counted when it was ended.", null=True
                            ),
                        ),
                        (
                            "by_device",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="workshops.devicetoken",
                            ),
                        ),
                        (
                            "by_user",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "workshop",
                            models.ForeignKey(
                                db_index=False,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="workshops.workshop",
                            ),
                        ),
                    ],
                    managers=[
                        ("unscoped", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.AddField(
                    model_name="count",
                    name="store_count",
                    field=models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="counts", to="inventory.storecount"
                    ),
                ),
                migrations.AddConstraint(
                    model_name="count",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("is_estimate", False), ("store_count__isnull", True)),
                            models.Q(
                                ("by_list", False),
                                ("for_use__isnull", True),
                                ("restates__isnull", True),
                                ("takes_back__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="count_by_a_person",
                        violation_error_code="count",
                    ),
                ),
                migrations.AddIndex(
                    model_name="storecount",
                    index=models.Index(fields=["workshop", "begun_at"], name="storecount_newest"),
                ),
                migrations.AddConstraint(
                    model_name="storecount",
                    constraint=models.UniqueConstraint(
                        condition=models.Q(("ended_at__isnull", True)),
                        fields=("workshop",),
                        name="storecount_one_open",
                        violation_error_code="one_open",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="storecount",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended_at__isnull", True), ("lots_left__isnull", True)),
                            models.Q(("ended_at__gte", models.F("begun_at")), ("lots_left__isnull", False)),
                            _connector="OR",
                        ),
                        name="storecount_ended",
                        violation_error_code="ended",
                    ),
                ),
            ],
        ),
        InstallGuards(ledgers=["Count"], others=["StoreCount"]),
    ]
