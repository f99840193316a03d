"""What suppliers sell, and what is ordered from them."""

import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models

from curehouse.common.guards import GuardsAside, InstallGuards


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0008_counts_taken_back'),
        ('workshops', '0014_last_order_number'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        GuardsAside([
        migrations.CreateModel(
            name='Offer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('article', models.CharField(blank=True, help_text="The supplier's own number or name of it.", max_length=80)),
                ('pack', models.DecimalField(decimal_places=3, help_text='Grams or pieces in a pack.', max_digits=13)),
                ('price', models.DecimalField(decimal_places=4, help_text="Of one pack, in the workshop's currency.", max_digits=12)),
                ('min_packs', models.PositiveIntegerField(default=1, help_text='Sold from so many packs on.')),
                ('is_hazardous', models.BooleanField(default=False, help_text="Whether the supplier's hazard surcharge comes with it.")),
                ('shelf_days', models.PositiveIntegerField(help_text='Days to its best-before as it usually comes in.', null=True)),
                ('lead_days', models.PositiveIntegerField(help_text='Days it takes, as the supplier says; empty: as its others.', null=True)),
                ('written_at', models.DateTimeField()),
                ('ended_at', models.DateTimeField(null=True)),
            ],
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name='OfferBreak',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('from_packs', models.PositiveIntegerField()),
                ('price', models.DecimalField(decimal_places=4, max_digits=12)),
            ],
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name='Order',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField(help_text="The house's own number.")),
                ('state', models.CharField(choices=[('written', 'written'), ('sent', 'sent'), ('partly_in', 'partly in'), ('in', 'in'), ('called_off', 'called off')], default='written', max_length=10)),
                ('note', models.TextField(blank=True, help_text='What the supplier is to read with it.', max_length=4000)),
                ('sent_on', models.DateField(null=True)),
                ('promised_on', models.DateField(help_text='The day that the supplier named for this order.', null=True)),
                ('freight', models.DecimalField(decimal_places=2, max_digits=12, null=True)),
                ('free_freight_from', models.DecimalField(decimal_places=2, max_digits=12, null=True)),
                ('hazard_surcharge', models.DecimalField(decimal_places=2, max_digits=12, null=True)),
                ('written_at', models.DateTimeField()),
            ],
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name='OrderLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('packs', models.PositiveIntegerField()),
                ('pack', models.DecimalField(decimal_places=3, help_text='Grams or pieces in a pack.', max_digits=13)),
                ('price', models.DecimalField(decimal_places=4, help_text='Of a pack, by so many packs.', max_digits=12)),
                ('article', models.CharField(blank=True, max_length=80)),
                ('is_hazardous', models.BooleanField(default=False)),
                ('shelf_days', models.PositiveIntegerField(null=True)),
                ('lead_days', models.PositiveIntegerField(help_text="As the supplier says, the line's own or that of all.", null=True)),
                ('expected_on', models.DateField(help_text='The day that was expected when the order was sent.', null=True)),
            ],
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name='OrderLineStep',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('came', 'came in'), ('damaged', 'came damaged'), ('ended', 'will not come')], max_length=8)),
                ('packs', models.PositiveIntegerField()),
                ('price', models.DecimalField(decimal_places=4, help_text='What a pack really cost.', max_digits=12, null=True)),
                ('said', models.CharField(blank=True, max_length=400)),
            ],
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name='OrderStep',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('written', 'written'), ('changed', 'changed'), ('sent', 'sent'), ('promised', 'another day was named'), ('received', 'something came in'), ('called_off', 'called off'), ('given_back', 'a receipt was taken back')], max_length=10)),
                ('day', models.DateField(null=True)),
                ('said', models.TextField(blank=True, help_text='What was changed, or why.')),
                ('at', models.DateTimeField()),
            ],
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        migrations.AddField(
            model_name='supplier',
            name='free_freight_from',
            field=models.DecimalField(decimal_places=2, help_text='Goods of so much come without freight.', max_digits=12, null=True),
        ),
        migrations.AddField(
            model_name='supplier',
            name='freight',
            field=models.DecimalField(decimal_places=2, help_text='What an order costs beside its goods.', max_digits=12, null=True),
        ),
        migrations.AddField(
            model_name='supplier',
            name='hazard_surcharge',
            field=models.DecimalField(decimal_places=2, help_text='Once an order, with anything hazardous in it, such as lye.', max_digits=12, null=True),
        ),
        migrations.AddField(
            model_name='supplier',
            name='lead_days',
            field=models.PositiveIntegerField(help_text='Days from sending to receipt, as the supplier says.', null=True),
        ),
        migrations.AddConstraint(
            model_name='supplier',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('freight__isnull', True), ('freight__gte', 0), _connector='OR'), models.Q(('free_freight_from__isnull', True), ('free_freight_from__gte', 0), _connector='OR'), models.Q(('hazard_surcharge__isnull', True), ('hazard_surcharge__gte', 0), _connector='OR')), name='supplier_costs', violation_error_code='negative'),
        ),
        migrations.AddConstraint(
            model_name='supplier',
            constraint=models.CheckConstraint(condition=models.Q(('lead_days__isnull', True), ('lead_days__lte', 730), _connector='OR'), name='supplier_lead_days', violation_error_code='lead_days'),
        ),
        migrations.AddField(
            model_name='offer',
            name='by_device',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken'),
        ),
        migrations.AddField(
            model_name='offer',
            name='by_user',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='offer',
            name='follows',
            field=models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='followed_by', to='inventory.offer'),
        ),
        migrations.AddField(
            model_name='offer',
            name='material',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='offers', to='inventory.material'),
        ),
        migrations.AddField(
            model_name='offer',
            name='supplier',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='offers', to='inventory.supplier'),
        ),
        migrations.AddField(
            model_name='offer',
            name='workshop',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop'),
        ),
        migrations.AddField(
            model_name='offerbreak',
            name='offer',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='breaks', to='inventory.offer'),
        ),
        migrations.AddField(
            model_name='offerbreak',
            name='workshop',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop'),
        ),
        migrations.AddField(
            model_name='order',
            name='by_device',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken'),
        ),
        migrations.AddField(
            model_name='order',
            name='by_user',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='order',
            name='supplier',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='orders', to='inventory.supplier'),
        ),
        migrations.AddField(
            model_name='order',
            name='workshop',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop'),
        ),
        migrations.AddField(
            model_name='orderline',
            name='material',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='order_lines', to='inventory.material'),
        ),
        migrations.AddField(
            model_name='orderline',
            name='offer',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.offer'),
        ),
        migrations.AddField(
            model_name='orderline',
            name='order',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.order'),
        ),
        migrations.AddField(
            model_name='orderline',
            name='workshop',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop'),
        ),
        migrations.AddField(
            model_name='orderlinestep',
            name='line',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='steps', to='inventory.orderline'),
        ),
        migrations.AddField(
            model_name='orderlinestep',
            name='lot',
            field=models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='ordered', to='inventory.lot'),
        ),
        migrations.AddField(
            model_name='orderlinestep',
            name='takes_back',
            field=models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='taken_back_by', to='inventory.orderlinestep'),
        ),
        migrations.AddField(
            model_name='orderlinestep',
            name='workshop',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop'),
        ),
        migrations.AddField(
            model_name='orderstep',
            name='by_device',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken'),
        ),
        migrations.AddField(
            model_name='orderstep',
            name='by_user',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='orderstep',
            name='order',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='steps', to='inventory.order'),
        ),
        migrations.AddField(
            model_name='orderstep',
            name='workshop',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop'),
        ),
        migrations.AddField(
            model_name='orderlinestep',
            name='step',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.orderstep'),
        ),
        migrations.AddConstraint(
            model_name='offer',
            constraint=models.UniqueConstraint(condition=models.Q(('ended_at__isnull', True)), fields=('supplier', 'material', 'pack', 'article'), name='offer_once', violation_error_code='offer_taken'),
        ),
        migrations.AddConstraint(
            model_name='offer',
            constraint=models.CheckConstraint(condition=models.Q(('pack__gt', 0)), name='offer_pack', violation_error_code='not_positive'),
        ),
        migrations.AddConstraint(
            model_name='offer',
            constraint=models.CheckConstraint(condition=models.Q(('price__gte', 0)), name='offer_price', violation_error_code='negative'),
        ),
        migrations.AddConstraint(
            model_name='offer',
            constraint=models.CheckConstraint(condition=models.Q(('min_packs__gte', 1), ('min_packs__lte', 9999)), name='offer_min_packs', violation_error_code='packs'),
        ),
        migrations.AddConstraint(
            model_name='offer',
            constraint=models.CheckConstraint(condition=models.Q(('shelf_days__isnull', True), models.Q(('shelf_days__gte', 1), ('shelf_days__lte', 3660)), _connector='OR'), name='offer_shelf_days', violation_error_code='shelf_days'),
        ),
        migrations.AddConstraint(
            model_name='offer',
            constraint=models.CheckConstraint(condition=models.Q(('lead_days__isnull', True), ('lead_days__lte', 730), _connector='OR'), name='offer_lead_days', violation_error_code='lead_days'),
        ),
        migrations.AddConstraint(
            model_name='offerbreak',
            constraint=models.UniqueConstraint(fields=('offer', 'from_packs'), name='offerbreak_once', violation_error_code='break_twice'),
        ),
        migrations.AddConstraint(
            model_name='offerbreak',
            constraint=models.CheckConstraint(condition=models.Q(('from_packs__gte', 2), ('from_packs__lte', 9999)), name='offerbreak_from_packs', violation_error_code='packs'),
        ),
        migrations.AddConstraint(
            model_name='offerbreak',
            constraint=models.CheckConstraint(condition=models.Q(('price__gte', 0)), name='offerbreak_price', violation_error_code='negative'),
        ),
        migrations.AddIndex(
            model_name='order',
            index=models.Index(fields=['supplier', 'state'], name='order_of_supplier'),
        ),
        migrations.AddIndex(
            model_name='order',
            index=models.Index(condition=models.Q(('state__in', ['sent', 'partly_in'])), fields=['workshop', 'sent_on'], name='order_on_the_way'),
        ),
        migrations.AddConstraint(
            model_name='order',
            constraint=models.UniqueConstraint(fields=('workshop', 'number'), name='order_number_once', violation_error_code='number_taken'),
        ),
        migrations.AddConstraint(
            model_name='order',
            constraint=models.UniqueConstraint(condition=models.Q(('state', 'written')), fields=('supplier',), name='order_one_written', violation_error_code='one_written'),
        ),
        migrations.AddConstraint(
            model_name='order',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ['written', 'sent', 'partly_in', 'in', 'called_off'])), name='order_state', violation_error_code='state'),
        ),
        migrations.AddConstraint(
            model_name='order',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('sent_on__isnull', True), ('state', 'written')), ('state', 'called_off'), models.Q(('sent_on__isnull', False), ('state__in', ['sent', 'partly_in', 'in'])), _connector='OR'), name='order_sent_has_day', violation_error_code='sent_on'),
        ),
        migrations.AddConstraint(
            model_name='order',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('freight__isnull', True), ('freight__gte', 0), _connector='OR'), models.Q(('free_freight_from__isnull', True), ('free_freight_from__gte', 0), _connector='OR'), models.Q(('hazard_surcharge__isnull', True), ('hazard_surcharge__gte', 0), _connector='OR')), name='order_costs', violation_error_code='negative'),
        ),
        migrations.AddConstraint(
            model_name='orderline',
            constraint=models.UniqueConstraint(fields=('order', 'offer'), name='orderline_once', violation_error_code='line_twice'),
        ),
        migrations.AddConstraint(
            model_name='orderline',
            constraint=models.CheckConstraint(condition=models.Q(('packs__gte', 1), ('packs__lte', 9999)), name='orderline_packs', violation_error_code='packs'),
        ),
        migrations.AddConstraint(
            model_name='orderline',
            constraint=models.CheckConstraint(condition=models.Q(('pack__gt', 0)), name='orderline_pack', violation_error_code='not_positive'),
        ),
        migrations.AddConstraint(
            model_name='orderline',
            constraint=models.CheckConstraint(condition=models.Q(('price__gte', 0)), name='orderline_price', violation_error_code='negative'),
        ),
        migrations.AddConstraint(
            model_name='orderstep',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['sent', 'received']), _negated=True), ('day__isnull', False), _connector='OR'), name='orderstep_day', violation_error_code='missing'),
        ),
        migrations.AddConstraint(
            model_name='orderstep',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['called_off', 'given_back']), _negated=True), models.Q(('said', ''), _negated=True), _connector='OR'), name='orderstep_why', violation_error_code='missing'),
        ),
        migrations.AddConstraint(
            model_name='orderlinestep',
            constraint=models.CheckConstraint(condition=models.Q(('packs__gte', 1), ('packs__lte', 9999)), name='orderlinestep_packs', violation_error_code='packs'),
        ),
        migrations.AddConstraint(
            model_name='orderlinestep',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('lot__isnull', True), ('takes_back__isnull', False)), models.Q(('kind', 'came'), ('lot__isnull', False)), ('kind', 'damaged'), models.Q(('kind', 'ended'), ('lot__isnull', True)), _connector='OR'), name='orderlinestep_lot', violation_error_code='lot'),
        ),
        migrations.AddConstraint(
            model_name='orderlinestep',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'came'), ('takes_back__isnull', True)), models.Q(('said', ''), _negated=True), _connector='OR'), name='orderlinestep_why', violation_error_code='missing'),
        ),
        migrations.AddConstraint(
            model_name='orderlinestep',
            constraint=models.CheckConstraint(condition=models.Q(('price__isnull', True), ('price__gte', 0), _connector='OR'), name='orderlinestep_price', violation_error_code='negative'),
        ),
        ]),
        InstallGuards(
            ledgers=['OfferBreak', 'OrderStep', 'OrderLineStep'],
            others=['Offer', 'Order', 'OrderLine'],
        ),
    ]
