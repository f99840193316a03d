import curehouse.common.fresh_tables
import curehouse.common.guards
import django.db.models.deletion
import django.db.models.functions.text
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [('making', '0001_first_rooms'), ('making', '0002_guards'), ('making', '0003_batch_lye_confirmed'), ('making', '0004_fail_without_limit'), ('making', '0005_batch_uses_and_holds'), ('making', '0006_brought_in'), ('making', '0007_formula_versions'), ('making', '0008_lots_that_went_in'), ('making', '0009_liquids_of_ones_own'), ('making', '0010_both_alkalis'), ('making', '0011_ends_of_the_effective_superfat'), ('making', '0012_planned_runs')]

    initial = True

    dependencies = [
        ('inventory', '0008_counts_taken_back'),
        ('workshops', '0013_devices_that_sense'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        curehouse.common.fresh_tables.TablesAtOnce(
            models=[migrations.CreateModel(
                name='Batch',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('formula', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='batches', to='making.formula')),
                    ('version', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='batches', to='making.formulaversion')),
                    ('number', models.PositiveIntegerField()),
                    ('known_as', models.CharField(blank=True, help_text='What the maker called it before it was brought in.', max_length=40)),
                    ('is_brought_in', models.BooleanField(default=False)),
                    ('state', models.CharField(choices=[('planned', 'planned'), ('poured', 'poured, not cut yet'), ('curing', 'curing'), ('released', 'released'), ('rejected', 'rejected'), ('closed', 'closed')], max_length=10)),
                    ('poured_at', models.DateTimeField()),
                    ('pour_known', models.BooleanField(default=True)),
                    ('cut_at', models.DateTimeField(null=True)),
                    ('bars_cut', models.PositiveIntegerField(default=0)),
                    ('bars_left', models.PositiveIntegerField(default=0)),
                    ('fats_g', models.DecimalField(decimal_places=3, max_digits=10, null=True)),
                    ('lye_g', models.DecimalField(decimal_places=3, max_digits=10, null=True)),
                    ('koh_g', models.DecimalField(decimal_places=3, help_text='How much of the lye is potassium hydroxide; null: nobody said.', max_digits=10, null=True)),
                    ('lye_confirmed', models.BooleanField(default=False, help_text='The lye is out of the usual, and a person said it is right.')),
                    ('needs_check', models.BooleanField(default=False, help_text='May be caustic: its bars go to nobody before a safety check was passed.')),
                    ('check_by_formula', models.BooleanField(default=False, help_text='It needs the check by its formula, whatever its lots say.')),
                    ('superfat_low', models.DecimalField(decimal_places=4, max_digits=6, null=True)),
                    ('superfat_middle', models.DecimalField(decimal_places=4, max_digits=6, null=True)),
                    ('superfat_high', models.DecimalField(decimal_places=4, max_digits=6, null=True)),
                    ('superfat_effective', models.DecimalField(decimal_places=4, help_text="With the milk's own fat.", max_digits=6, null=True)),
                    ('superfat_effective_low', models.DecimalField(decimal_places=4, max_digits=6, null=True)),
                    ('superfat_effective_high', models.DecimalField(decimal_places=4, max_digits=6, null=True)),
                    ('superfat_by_lots', models.BooleanField(default=False, help_text='By the lots that were booked, not as it was reckoned.')),
                    ('reckoned', models.JSONField(help_text='What went in as far as lye is concerned, as reckoned at the pour.', null=True)),
                    ('water_share_computed', models.DecimalField(decimal_places=4, max_digits=5, null=True)),
                    ('water_share_stated', models.DecimalField(decimal_places=4, max_digits=5, null=True)),
                    ('note', models.TextField(blank=True, max_length=4000)),
                    ('written_at', models.DateTimeField()),
                ],
                options={
                    'indexes': [models.Index(condition=models.Q(('state__in', ['poured', 'curing'])), fields=['workshop', 'number'], name='batch_open'), models.Index(fields=['workshop', '-poured_at', '-id'], name='batch_newest')],
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'number'), name='batch_number_once', violation_error_code='number_taken'), models.CheckConstraint(condition=models.Q(('cut_at__isnull', True), ('cut_at__gte', models.F('poured_at')), _connector='OR'), name='batch_cut_after_pour', violation_error_code='cut_before_pour'), models.CheckConstraint(condition=models.Q(('bars_left__lte', models.F('bars_cut'))), name='batch_bars_left', violation_error_code='too_many_bars'), models.CheckConstraint(condition=models.Q(models.Q(('fats_g__isnull', True), ('fats_g__gt', 0), _connector='OR'), models.Q(('lye_g__isnull', True), ('lye_g__gt', 0), _connector='OR')), name='batch_masses_positive', violation_error_code='not_positive'), models.CheckConstraint(condition=models.Q(('koh_g__isnull', True), models.Q(('koh_g__gte', 0), ('koh_g__lte', models.F('lye_g')), ('lye_g__isnull', False)), _connector='OR'), name='batch_koh_of_the_lye', violation_error_code='koh'), models.CheckConstraint(condition=models.Q(('is_brought_in', True), models.Q(('fats_g__isnull', False), ('lye_g__isnull', False), ('pour_known', True), ('water_share_computed__isnull', False)), _connector='OR'), name='batch_entered_here_is_complete', violation_error_code='missing'), models.CheckConstraint(condition=models.Q(('water_share_computed__isnull', False), ('water_share_stated__isnull', False), _connector='OR'), name='batch_water_share_known', violation_error_code='missing'), models.CheckConstraint(condition=models.Q(('pour_known', True), ('poured_at', models.F('cut_at')), _connector='OR'), name='batch_unknown_pour_is_the_cut', violation_error_code='missing'), models.UniqueConstraint(models.F('workshop'), django.db.models.functions.text.Lower('known_as'), condition=models.Q(('known_as', ''), _negated=True), name='batch_known_as_once', violation_error_code='name_taken'), models.CheckConstraint(condition=models.Q(models.Q(('water_share_computed__isnull', True), models.Q(('water_share_computed__gte', 0), ('water_share_computed__lt', 1)), _connector='OR'), models.Q(('water_share_stated__isnull', True), models.Q(('water_share_stated__gt', 0), ('water_share_stated__lt', 1)), _connector='OR')), name='batch_water_share', violation_error_code='water_share'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'curing'), _negated=True), models.Q(('cut_at__isnull', False), ('bars_left__gt', 0)), _connector='OR'), name='batch_curing_has_bars', violation_error_code='no_bars')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='BatchUse',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('irregular', models.CharField(blank=True, choices=[('expired', 'expired'), ('quarantine', 'in quarantine'), ('rejected', 'rejected')], max_length=10)),
                    ('reason', models.CharField(blank=True, max_length=400)),
                    ('written_at', models.DateTimeField()),
                    ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='uses', to='making.batch')),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('movement', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='batch_use', to='inventory.movement')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('irregular', ''), models.Q(('reason', ''), _negated=True), _connector='OR'), name='batchuse_irregular_why', violation_error_code='reason')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='BatchHold',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('cause', models.CharField(max_length=400)),
                    ('reason', models.CharField(blank=True, max_length=400)),
                    ('at', models.DateTimeField()),
                    ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='holds', to='making.batch')),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('use', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='hold', to='making.batchuse')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('cause', ''), _negated=True), name='batchhold_cause', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Formula',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=120)),
                    ('min_days', models.PositiveSmallIntegerField(help_text="Minimum cure, where it differs from the workshop's.", null=True)),
                    ('retired_at', models.DateTimeField(null=True)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'name'), name='formula_name_once', violation_error_code='name_taken'), models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='formula_named', violation_error_code='missing'), models.CheckConstraint(condition=models.Q(('min_days__isnull', True), ('min_days__gte', 1), _connector='OR'), name='formula_min_days', violation_error_code='days')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='FormulaVersion',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('number', models.PositiveSmallIntegerField()),
                    ('revision', models.PositiveSmallIntegerField(default=1)),
                    ('fats_g', models.DecimalField(decimal_places=3, help_text='The size it is written for.', max_digits=10)),
                    ('superfat', models.DecimalField(decimal_places=4, max_digits=5)),
                    ('naoh_share', models.DecimalField(decimal_places=4, help_text='Of the equivalents; the rest is KOH.', max_digits=5)),
                    ('naoh_purity', models.DecimalField(decimal_places=4, max_digits=5, null=True)),
                    ('koh_purity', models.DecimalField(decimal_places=4, max_digits=5, null=True)),
                    ('liquid_g', models.DecimalField(decimal_places=3, help_text='The total liquid.', max_digits=10, null=True)),
                    ('liquid_share', models.DecimalField(decimal_places=4, help_text='The same, of the fats.', max_digits=5, null=True)),
                    ('front_c', models.DecimalField(decimal_places=1, help_text='The liquid in front, in °C.', max_digits=4)),
                    ('note', models.TextField(blank=True, max_length=4000)),
                    ('confirmed', models.JSONField(default=list, help_text='What a person said they read, with its figures.')),
                    ('written_at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('fine_scale', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.scale')),
                    ('formula', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='versions', to='making.formula')),
                    ('koh_from', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.material')),
                    ('naoh_from', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.material')),
                    ('scale', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.scale')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('formula', 'number', 'revision'), name='formulaversion_once', violation_error_code='written_meanwhile'), models.CheckConstraint(condition=models.Q(('fats_g__gt', 0), ('superfat__gte', 0), ('superfat__lt', 1)), name='formulaversion_superfat', violation_error_code='superfat'), models.CheckConstraint(condition=models.Q(('naoh_share__gte', 0), ('naoh_share__lte', 1)), name='formulaversion_naoh_share', violation_error_code='fraction'), models.CheckConstraint(condition=models.Q(models.Q(('naoh_purity__isnull', True), models.Q(('naoh_purity__gt', 0), ('naoh_purity__lte', '1.005')), _connector='OR'), models.Q(('koh_purity__isnull', True), models.Q(('koh_purity__gt', 0), ('koh_purity__lte', '1.005')), _connector='OR')), name='formulaversion_purity', violation_error_code='purity'), models.CheckConstraint(condition=models.Q(models.Q(('liquid_g__gt', 0), ('liquid_share__isnull', True)), models.Q(('liquid_g__isnull', True), ('liquid_share__gt', 0)), _connector='OR'), name='formulaversion_liquid', violation_error_code='liquid')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='FormulaLine',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('place', models.PositiveSmallIntegerField(help_text='Its place in the list.')),
                    ('role', models.CharField(choices=[('fat', 'fat'), ('liquid', 'liquid'), ('acid', 'acid'), ('additive', 'additive'), ('fragrance', 'fragrance'), ('colour', 'colour')], max_length=10)),
                    ('key', models.CharField(blank=True, max_length=40)),
                    ('name', models.CharField(max_length=120)),
                    ('per', models.CharField(choices=[('grams', 'grams'), ('fats', 'of the fats'), ('liquid', 'of the liquid'), ('rest', 'the rest of the liquid')], max_length=6)),
                    ('amount', models.DecimalField(decimal_places=6, help_text='Grams, or a share 0-1.', max_digits=13, null=True)),
                    ('goes_in', models.CharField(blank=True, choices=[('front', 'in front, with the lye'), ('trace', 'at trace')], max_length=5)),
                    ('form', models.CharField(blank=True, help_text='Of an acid.', max_length=20)),
                    ('strength', models.DecimalField(decimal_places=4, help_text='Of an acid that is dissolved.', max_digits=5, null=True)),
                    ('saponification', models.DecimalField(decimal_places=2, help_text='By its certificate.', max_digits=6, null=True)),
                    ('water_fraction', models.DecimalField(decimal_places=4, help_text='Measured.', max_digits=5, null=True)),
                    ('fat_fraction', models.DecimalField(decimal_places=4, help_text='Measured.', max_digits=5, null=True)),
                    ('most_share', models.DecimalField(decimal_places=4, help_text="A fragrance's maximum.", max_digits=5, null=True)),
                    ('is_thickened', models.BooleanField(null=True)),
                    ('material', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.material')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('version', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='making.formulaversion')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('version', 'place'), name='formulaline_place_once'), models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='formulaline_named', violation_error_code='missing'), models.CheckConstraint(condition=models.Q(models.Q(('amount__isnull', True), ('per', 'rest'), ('role', 'liquid')), models.Q(models.Q(('per', 'rest'), _negated=True), ('amount__gt', 0)), _connector='OR'), name='formulaline_amount', violation_error_code='not_positive'), models.CheckConstraint(condition=models.Q(models.Q(('role', 'liquid'), models.Q(('goes_in', ''), _negated=True)), models.Q(models.Q(('role', 'liquid'), _negated=True), ('goes_in', '')), _connector='OR'), name='formulaline_goes_in', violation_error_code='place')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='MaterialFacts',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('key', models.CharField(blank=True, help_text='Which fat or liquid of the catalogue it is.', max_length=40)),
                    ('saponification_low', models.DecimalField(decimal_places=2, help_text='mg KOH per g.', max_digits=6, null=True)),
                    ('saponification_high', models.DecimalField(decimal_places=2, help_text='mg KOH per g.', max_digits=6, null=True)),
                    ('water_fraction', models.DecimalField(decimal_places=4, max_digits=5, null=True)),
                    ('fat_fraction', models.DecimalField(decimal_places=4, max_digits=5, null=True)),
                    ('sugar_fraction', models.DecimalField(decimal_places=4, max_digits=5, null=True)),
                    ('liquid_kind', models.CharField(blank=True, choices=[('water', 'water'), ('milk', 'milk'), ('plant_milk', 'plant_milk'), ('powder', 'powder'), ('other', 'other')], help_text='What a liquid is, where its row of the catalogue does not say it or it has none.', max_length=10)),
                    ('most_share', models.DecimalField(decimal_places=4, help_text="A fragrance's maximum in the finished bar, by its supplier.", max_digits=5, null=True)),
                    ('is_thickened', models.BooleanField(null=True)),
                    ('allergen', models.CharField(blank=True, help_text='Several with a comma between them.', max_length=300)),
                    ('source', models.CharField(blank=True, help_text='Where these figures are from.', max_length=200)),
                    ('material', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='facts', to='inventory.material')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('saponification_high__isnull', True), ('saponification_low__isnull', True)), models.Q(('saponification_high__gte', models.F('saponification_low')), ('saponification_low__gt', 0)), _connector='OR'), name='materialfacts_saponification', violation_error_code='range'), models.CheckConstraint(condition=models.Q(models.Q(('water_fraction__isnull', True), models.Q(('water_fraction__gte', 0), ('water_fraction__lte', 1)), _connector='OR'), models.Q(('fat_fraction__isnull', True), models.Q(('fat_fraction__gte', 0), ('fat_fraction__lte', 1)), _connector='OR'), models.Q(('sugar_fraction__isnull', True), models.Q(('sugar_fraction__gte', 0), ('sugar_fraction__lte', 1)), _connector='OR'), models.Q(('most_share__isnull', True), models.Q(('most_share__gte', 0), ('most_share__lte', 1)), _connector='OR')), name='materialfacts_shares', violation_error_code='fraction')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Run',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('state', models.CharField(choices=[('planned', 'planned'), ('called_off', 'called off'), ('poured', 'poured')], default='planned', max_length=10)),
                    ('fats_g', models.DecimalField(decimal_places=3, help_text='The oils, in grams.', max_digits=10)),
                    ('pour_on', models.DateField()),
                    ('announced_on', models.DateField()),
                    ('note', models.TextField(blank=True, max_length=4000)),
                    ('written_at', models.DateTimeField()),
                    ('batch', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='run', to='making.batch')),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('formula', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='making.formula')),
                    ('version', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='making.formulaversion')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'indexes': [models.Index(condition=models.Q(('state', 'planned')), fields=['workshop', 'pour_on', 'id'], name='run_planned')],
                    'constraints': [models.CheckConstraint(condition=models.Q(('fats_g__gt', 0)), name='run_fats_positive', violation_error_code='not_positive'), models.CheckConstraint(condition=models.Q(('state__in', ['planned', 'called_off', 'poured'])), name='run_state', violation_error_code='state'), models.CheckConstraint(condition=models.Q(models.Q(('batch__isnull', False), ('state', 'poured')), models.Q(models.Q(('state', 'poured'), _negated=True), ('batch__isnull', True)), _connector='OR'), name='run_poured_has_its_batch', violation_error_code='batch')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Reservation',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('amount_g', models.DecimalField(decimal_places=3, max_digits=13)),
                    ('material', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.material')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reservations', to='making.run')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('run', 'material'), name='reservation_once', violation_error_code='reserved'), models.CheckConstraint(condition=models.Q(('amount_g__gt', 0)), name='reservation_positive', violation_error_code='not_positive')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='RunChange',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('what', models.CharField(choices=[('planned', 'planned'), ('moved', 'moved'), ('reserved', 'reserved anew'), ('called_off', 'called off'), ('poured', 'poured')], max_length=10)),
                    ('pour_on', models.DateField(help_text='Its day from then on.')),
                    ('was_on', models.DateField(help_text='Its day until then, where it was moved.', null=True)),
                    ('why', models.CharField(blank=True, max_length=400)),
                    ('at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='changes', to='making.run')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('was_on__isnull', False), ('what', 'moved'), models.Q(('was_on', models.F('pour_on')), _negated=True)), models.Q(models.Q(('what', 'moved'), _negated=True), ('was_on__isnull', True)), _connector='OR'), name='runchange_moved_from', violation_error_code='day')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='SafetyCheck',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('at', models.DateTimeField()),
                    ('method', models.CharField(max_length=120)),
                    ('value', models.CharField(max_length=60)),
                    ('limit', models.CharField(blank=True, max_length=200)),
                    ('passed', models.BooleanField()),
                    ('note', models.CharField(blank=True, max_length=400)),
                    ('written_at', models.DateTimeField()),
                    ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='safety_checks', to='making.batch')),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('method', ''), _negated=True), models.Q(('value', ''), _negated=True), models.Q(models.Q(('limit', ''), _negated=True), ('passed', False), _connector='OR')), name='safetycheck_complete', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='TakeOut',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('at', models.DateTimeField()),
                    ('bars', models.PositiveIntegerField()),
                    ('purpose', models.CharField(choices=[('sale', 'to sell'), ('gift', 'to give away'), ('kept', 'kept as reference'), ('destroyed', 'destroyed, or melted down to rework')], max_length=10)),
                    ('state_then', models.CharField(max_length=20)),
                    ('forced_reason', models.CharField(blank=True, max_length=400)),
                    ('written_at', models.DateTimeField()),
                    ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='take_outs', to='making.batch')),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('bars__gt', 0)), name='takeout_bars_positive', violation_error_code='not_positive')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='BatchHoldLift',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('why', models.CharField(max_length=400)),
                    ('at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('hold', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='lift', to='making.batchhold')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('why', ''), _negated=True), name='batchholdlift_why', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='BatchLiquid',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('kind', models.CharField(max_length=40)),
                    ('mass_g', models.DecimalField(decimal_places=3, max_digits=10)),
                    ('water_fraction', models.DecimalField(decimal_places=4, max_digits=5)),
                    ('place', models.CharField(choices=[('front', 'in front, with the lye'), ('trace', 'at trace')], default='front', max_length=5)),
                    ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='liquids', to='making.batch')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('mass_g__gt', 0)), name='batchliquid_mass_positive', violation_error_code='not_positive'), models.CheckConstraint(condition=models.Q(('water_fraction__gte', 0), ('water_fraction__lte', 1)), name='batchliquid_water_fraction', violation_error_code='fraction')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            )],
        ),
        curehouse.common.guards.InstallGuards(
            ledgers=['SafetyCheck', 'TakeOut', 'BatchUse', 'BatchHold', 'BatchHoldLift', 'FormulaVersion', 'FormulaLine', 'RunChange'],
            others=['Formula', 'Batch', 'BatchLiquid', 'MaterialFacts', 'Run', 'Reservation'],
        ),
    ]
