import curehouse.common.fresh_tables
import curehouse.common.guards
import django.db.models.deletion
import django.db.models.functions.text
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [('inventory', '0001_stock'), ('inventory', '0002_guards'), ('inventory', '0003_kinds_of_papers'), ('inventory', '0004_random_names'), ('inventory', '0005_counts_that_stand'), ('inventory', '0006_what_lists_said'), ('inventory', '0007_papers_without_prices'), ('inventory', '0008_counts_taken_back'), ('inventory', '0009_offers_and_orders')]

    initial = True

    dependencies = [
        ('workshops', '0014_last_order_number'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        curehouse.common.fresh_tables.TablesAtOnce(
            models=[migrations.CreateModel(
                name='Material',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=120)),
                    ('kind', models.CharField(choices=[('fat', 'fat'), ('lye', 'lye'), ('liquid', 'liquid'), ('additive', 'additive'), ('fragrance', 'fragrance'), ('colour', 'colour'), ('packaging', 'packaging'), ('bars', 'bars')], max_length=10)),
                    ('measure', models.CharField(choices=[('grams', 'grams'), ('pieces', 'pieces')], max_length=6)),
                    ('low_at', models.DecimalField(decimal_places=3, help_text='With less than this usable, the material is flagged low.', max_digits=13, null=True)),
                    ('retired_at', models.DateTimeField(null=True)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(models.F('workshop'), django.db.models.functions.text.Lower('name'), name='material_name_once', violation_error_code='name_taken'), models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='material_named', violation_error_code='missing'), models.CheckConstraint(condition=models.Q(('measure__in', ['grams', 'pieces'])), name='material_measure', violation_error_code='measure'), models.CheckConstraint(condition=models.Q(('low_at__isnull', True), ('low_at__gte', 0), _connector='OR'), name='material_low_at', violation_error_code='negative')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Lot',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('material', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.material')),
                    ('supplier', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.supplier')),
                    ('number', models.PositiveIntegerField(help_text="The house's own number.")),
                    ('supplier_lot', models.CharField(blank=True, help_text="The supplier's lot number.", max_length=120)),
                    ('received_on', models.DateField()),
                    ('best_before', models.DateField(null=True)),
                    ('unit_cost', models.DecimalField(decimal_places=6, help_text="A gram or a piece, in the workshop's currency.", max_digits=14, null=True)),
                    ('standing', models.CharField(choices=[('quarantine', 'in quarantine'), ('released', 'released'), ('rejected', 'rejected')], max_length=10)),
                    ('on_hand', models.DecimalField(decimal_places=3, default=0, max_digits=13)),
                    ('written_at', models.DateTimeField()),
                ],
                options={
                    'indexes': [models.Index(fields=['material', 'on_hand'], name='lot_of_material'), models.Index(fields=['material', 'received_on'], name='lot_first_receipt'), models.Index(fields=['workshop', 'on_hand'], name='lot_in_stock')],
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'number'), name='lot_number_once', violation_error_code='number_taken'), models.CheckConstraint(condition=models.Q(('on_hand__gte', 0), ('on_hand__lte', 9999999)), name='lot_on_hand', violation_error_code='not_enough'), models.CheckConstraint(condition=models.Q(('unit_cost__isnull', True), ('unit_cost__gte', 0), _connector='OR'), name='lot_unit_cost', violation_error_code='negative'), models.CheckConstraint(condition=models.Q(('standing__in', ['quarantine', 'released', 'rejected'])), name='lot_standing', violation_error_code='standing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Movement',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('kind', models.CharField(choices=[('receive', 'received'), ('use', 'used'), ('count', 'corrected by a count'), ('write_off', 'written off'), ('give_back', 'returned to the supplier'), ('reversal', 'taken back')], max_length=10)),
                    ('amount', models.DecimalField(decimal_places=3, max_digits=13)),
                    ('moment', models.DateTimeField()),
                    ('reason', models.CharField(blank=True, max_length=400)),
                    ('source', models.CharField(choices=[('page', 'page'), ('api', 'API'), ('import', 'import'), ('demo', 'demo')], max_length=6)),
                    ('written_at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('corrects', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='inventory.movement')),
                    ('lot', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='movements', to='inventory.lot')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'indexes': [models.Index(fields=['lot', 'moment'], name='movement_of_lot'), models.Index(fields=['workshop', 'kind', 'moment'], name='movement_recent_use')],
                    'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('amount__gt', 0), ('kind', 'receive')), models.Q(('amount__lt', 0), ('kind__in', ['use', 'write_off', 'give_back'])), models.Q(('kind__in', ['count', 'reversal']), models.Q(('amount', 0), _negated=True)), _connector='OR'), name='movement_sign_fits_kind', violation_error_code='sign'), models.CheckConstraint(condition=models.Q(models.Q(('corrects__isnull', False), ('kind', 'reversal')), models.Q(models.Q(('kind', 'reversal'), _negated=True), ('corrects__isnull', True)), _connector='OR'), name='movement_reversal_corrects', violation_error_code='corrects'), models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['count', 'write_off', 'give_back', 'reversal']), _negated=True), models.Q(('reason', ''), _negated=True), _connector='OR'), name='movement_reason', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Count',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('counted', models.DecimalField(decimal_places=3, max_digits=13)),
                    ('expected', models.DecimalField(decimal_places=3, max_digits=13)),
                    ('moment', models.DateTimeField()),
                    ('reason', models.CharField(blank=True, max_length=400)),
                    ('by_list', models.BooleanField(default=False)),
                    ('written_at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('restates', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='restated_by', to='inventory.count')),
                    ('takes_back', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='taken_back_by', to='inventory.count')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='counts', to='inventory.lot')),
                    ('for_use', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='found', to='inventory.movement')),
                    ('movement', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='count_of', to='inventory.movement')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('counted__gte', 0)), name='count_not_negative', violation_error_code='negative'), models.CheckConstraint(condition=models.Q(models.Q(('counted', models.F('expected')), ('movement__isnull', True)), models.Q(('movement__isnull', False), models.Q(('counted', models.F('expected')), _negated=True), models.Q(('reason', ''), _negated=True)), _connector='OR'), name='count_corrects_a_difference', violation_error_code='count'), models.CheckConstraint(condition=models.Q(('takes_back__isnull', True), models.Q(('by_list', False), ('for_use__isnull', True), ('movement__isnull', True), ('restates__isnull', True), models.Q(('reason', ''), _negated=True)), _connector='OR'), name='count_taken_back_says_why', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Offer',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('supplier', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='offers', to='inventory.supplier')),
                    ('material', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='offers', to='inventory.material')),
                    ('article', models.CharField(blank=True, help_text="The supplier's own number or name of it.", max_length=80)),
                    ('pack', models.DecimalField(decimal_places=3, help_text='Grams or pieces in a pack.', max_digits=13)),
                    ('price', models.DecimalField(decimal_places=4, help_text="Of one pack, in the workshop's currency.", max_digits=12)),
                    ('min_packs', models.PositiveIntegerField(default=1, help_text='Sold from so many packs on.')),
                    ('is_hazardous', models.BooleanField(default=False, help_text="Whether the supplier's hazard surcharge comes with it.")),
                    ('shelf_days', models.PositiveIntegerField(help_text='Days to its best-before as it usually comes in.', null=True)),
                    ('lead_days', models.PositiveIntegerField(help_text='Days it takes, as the supplier says; empty: as its others.', null=True)),
                    ('follows', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='followed_by', to='inventory.offer')),
                    ('written_at', models.DateTimeField()),
                    ('ended_at', models.DateTimeField(null=True)),
                ],
                options={
                    'constraints': [models.UniqueConstraint(condition=models.Q(('ended_at__isnull', True)), fields=('supplier', 'material', 'pack', 'article'), name='offer_once', violation_error_code='offer_taken'), models.CheckConstraint(condition=models.Q(('pack__gt', 0)), name='offer_pack', violation_error_code='not_positive'), models.CheckConstraint(condition=models.Q(('price__gte', 0)), name='offer_price', violation_error_code='negative'), models.CheckConstraint(condition=models.Q(('min_packs__gte', 1), ('min_packs__lte', 9999)), name='offer_min_packs', violation_error_code='packs'), models.CheckConstraint(condition=models.Q(('shelf_days__isnull', True), models.Q(('shelf_days__gte', 1), ('shelf_days__lte', 3660)), _connector='OR'), name='offer_shelf_days', violation_error_code='shelf_days'), models.CheckConstraint(condition=models.Q(('lead_days__isnull', True), ('lead_days__lte', 730), _connector='OR'), name='offer_lead_days', violation_error_code='lead_days')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='OfferBreak',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('from_packs', models.PositiveIntegerField()),
                    ('price', models.DecimalField(decimal_places=4, max_digits=12)),
                    ('offer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='breaks', to='inventory.offer')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('offer', 'from_packs'), name='offerbreak_once', violation_error_code='break_twice'), models.CheckConstraint(condition=models.Q(('from_packs__gte', 2), ('from_packs__lte', 9999)), name='offerbreak_from_packs', violation_error_code='packs'), models.CheckConstraint(condition=models.Q(('price__gte', 0)), name='offerbreak_price', violation_error_code='negative')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Order',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('supplier', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='orders', to='inventory.supplier')),
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
                options={
                    'indexes': [models.Index(fields=['supplier', 'state'], name='order_of_supplier'), models.Index(condition=models.Q(('state__in', ['sent', 'partly_in'])), fields=['workshop', 'sent_on'], name='order_on_the_way')],
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'number'), name='order_number_once', violation_error_code='number_taken'), models.UniqueConstraint(condition=models.Q(('state', 'written')), fields=('supplier',), name='order_one_written', violation_error_code='one_written'), models.CheckConstraint(condition=models.Q(('state__in', ['written', 'sent', 'partly_in', 'in', 'called_off'])), name='order_state', violation_error_code='state'), models.CheckConstraint(condition=models.Q(models.Q(('sent_on__isnull', True), ('state', 'written')), ('state', 'called_off'), models.Q(('sent_on__isnull', False), ('state__in', ['sent', 'partly_in', 'in'])), _connector='OR'), name='order_sent_has_day', violation_error_code='sent_on'), models.CheckConstraint(condition=models.Q(models.Q(('freight__isnull', True), ('freight__gte', 0), _connector='OR'), models.Q(('free_freight_from__isnull', True), ('free_freight_from__gte', 0), _connector='OR'), models.Q(('hazard_surcharge__isnull', True), ('hazard_surcharge__gte', 0), _connector='OR')), name='order_costs', violation_error_code='negative')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
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
                    ('material', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='order_lines', to='inventory.material')),
                    ('offer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.offer')),
                    ('order', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.order')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('order', 'offer'), name='orderline_once', violation_error_code='line_twice'), models.CheckConstraint(condition=models.Q(('packs__gte', 1), ('packs__lte', 9999)), name='orderline_packs', violation_error_code='packs'), models.CheckConstraint(condition=models.Q(('pack__gt', 0)), name='orderline_pack', violation_error_code='not_positive'), models.CheckConstraint(condition=models.Q(('price__gte', 0)), name='orderline_price', violation_error_code='negative')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='OrderStep',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('kind', models.CharField(choices=[('written', 'written'), ('changed', 'changed'), ('sent', 'sent'), ('promised', 'another day was named'), ('received', 'something came in'), ('called_off', 'called off'), ('given_back', 'a receipt was taken back')], max_length=10)),
                    ('day', models.DateField(null=True)),
                    ('said', models.TextField(blank=True, help_text='What was changed, or why.')),
                    ('at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('order', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='steps', to='inventory.order')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['sent', 'received']), _negated=True), ('day__isnull', False), _connector='OR'), name='orderstep_day', violation_error_code='missing'), models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['called_off', 'given_back']), _negated=True), models.Q(('said', ''), _negated=True), _connector='OR'), name='orderstep_why', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='OrderLineStep',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('kind', models.CharField(choices=[('came', 'came in'), ('damaged', 'came damaged'), ('ended', 'will not come')], max_length=8)),
                    ('packs', models.PositiveIntegerField()),
                    ('price', models.DecimalField(decimal_places=4, help_text='What a pack really cost.', max_digits=12, null=True)),
                    ('said', models.CharField(blank=True, max_length=400)),
                    ('line', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='steps', to='inventory.orderline')),
                    ('lot', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='ordered', to='inventory.lot')),
                    ('takes_back', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='taken_back_by', to='inventory.orderlinestep')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('step', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.orderstep')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('packs__gte', 1), ('packs__lte', 9999)), name='orderlinestep_packs', violation_error_code='packs'), models.CheckConstraint(condition=models.Q(models.Q(('lot__isnull', True), ('takes_back__isnull', False)), models.Q(('kind', 'came'), ('lot__isnull', False)), ('kind', 'damaged'), models.Q(('kind', 'ended'), ('lot__isnull', True)), _connector='OR'), name='orderlinestep_lot', violation_error_code='lot'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'came'), ('takes_back__isnull', True)), models.Q(('said', ''), _negated=True), _connector='OR'), name='orderlinestep_why', violation_error_code='missing'), models.CheckConstraint(condition=models.Q(('price__isnull', True), ('price__gte', 0), _connector='OR'), name='orderlinestep_price', violation_error_code='negative')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Supplier',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=120)),
                    ('contact', models.CharField(blank=True, max_length=400)),
                    ('note', models.TextField(blank=True, max_length=4000)),
                    ('freight', models.DecimalField(decimal_places=2, help_text='What an order costs beside its goods.', max_digits=12, null=True)),
                    ('free_freight_from', models.DecimalField(decimal_places=2, help_text='Goods of so much come without freight.', max_digits=12, null=True)),
                    ('hazard_surcharge', models.DecimalField(decimal_places=2, help_text='Once an order, with anything hazardous in it, such as lye.', max_digits=12, null=True)),
                    ('lead_days', models.PositiveIntegerField(help_text='Days from sending to receipt, as the supplier says.', null=True)),
                    ('retired_at', models.DateTimeField(null=True)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(models.F('workshop'), django.db.models.functions.text.Lower('name'), name='supplier_name_once', violation_error_code='name_taken'), models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='supplier_named', violation_error_code='missing'), models.CheckConstraint(condition=models.Q(models.Q(('freight__isnull', True), ('freight__gte', 0), _connector='OR'), models.Q(('free_freight_from__isnull', True), ('free_freight_from__gte', 0), _connector='OR'), models.Q(('hazard_surcharge__isnull', True), ('hazard_surcharge__gte', 0), _connector='OR')), name='supplier_costs', violation_error_code='negative'), models.CheckConstraint(condition=models.Q(('lead_days__isnull', True), ('lead_days__lte', 730), _connector='OR'), name='supplier_lead_days', violation_error_code='lead_days')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='LotCorrection',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('field', models.CharField(choices=[('supplier_lot', "the supplier's lot number"), ('best_before', 'best before'), ('unit_cost', 'the cost'), ('received_on', 'the day of receipt')], max_length=20)),
                    ('before', models.CharField(blank=True, max_length=120)),
                    ('after', models.CharField(blank=True, max_length=120)),
                    ('why', models.CharField(max_length=400)),
                    ('at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='corrections', to='inventory.lot')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('why', ''), _negated=True), name='lotcorrection_why', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='LotFile',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=120)),
                    ('content_type', models.CharField(max_length=80)),
                    ('size_bytes', models.PositiveIntegerField()),
                    ('sha256', models.CharField(help_text='Of what it holds.', max_length=64)),
                    ('kept_as', models.CharField(help_text='Its name in the data folder; of old papers, their SHA-256.', max_length=64)),
                    ('without_prices', models.BooleanField(default=False, help_text='Whether whoever attached it said that it shows no prices; those who see no costs open no other.')),
                    ('at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='files', to='inventory.lot')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='lotfile_named', violation_error_code='missing'), models.CheckConstraint(condition=models.Q(('size_bytes__gt', 0)), name='lotfile_not_empty', violation_error_code='empty'), models.CheckConstraint(condition=models.Q(('kept_as', ''), _negated=True), name='lotfile_kept', violation_error_code='missing'), models.UniqueConstraint(condition=models.Q(('kept_as', models.F('sha256')), _negated=True), fields=('kept_as',), name='lotfile_kept_once', violation_error_code='kept_before')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='LotRuling',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('standing', models.CharField(choices=[('quarantine', 'in quarantine'), ('released', 'released'), ('rejected', 'rejected')], max_length=10)),
                    ('why', models.CharField(max_length=400)),
                    ('at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='rulings', to='inventory.lot')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('why', ''), _negated=True), name='lotruling_why', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='LotValue',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=80)),
                    ('value', models.DecimalField(decimal_places=5, max_digits=14)),
                    ('unit', models.CharField(blank=True, max_length=40)),
                    ('at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='values', to='inventory.lot')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='lotvalue_named', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            )],
        ),
        curehouse.common.guards.InstallGuards(
            ledgers=['Movement', 'Count', 'LotRuling', 'LotCorrection', 'LotValue', 'LotFile', 'OfferBreak', 'OrderStep', 'OrderLineStep'],
            others=['Material', 'Supplier', 'Lot', 'Offer', 'Order', 'OrderLine'],
        ),
    ]
