"""A later migration meets a database with shops in it, and with the triggers that guard them."""

import pytest
from django.core.management.sql import emit_post_migrate_signal, emit_pre_migrate_signal
from django.db import connection, models
from django.db.migrations import Migration

from shopwarranty.inspections.models import Visit
from shopwarranty.shops import triggers
from shopwarranty.shops.scope import shop_scope
from tests import builders
from tests.conftest import World

pytestmark = pytest.mark.postgres


def test_a_table_that_triggers_speak_of_is_rebuilt_and_guarded_again(
    world: World, transactional_db: None
) -> None:
    with shop_scope(world.ours.shop):
        builders.a_visit(builders.a_job())
    before = triggers.there("default")
    assert sorted(name for name, _table in before) == sorted(each.name for each in triggers.wanted())
    field: models.CharField[str, str] = models.CharField(max_length=4, default="here")
    field.set_attributes_from_name("added")
    emit_pre_migrate_signal(
        verbosity=0, interactive=False, db="default", plan=[(Migration("0002_later", "inspections"), False)]
    )
    with connection.schema_editor() as editor:
        editor.add_field(Visit, field)
    with connection.schema_editor() as editor:
        editor.remove_field(Visit, field)
    emit_post_migrate_signal(
        verbosity=0, interactive=False, db="default", plan=[(Migration("0002_later", "inspections"), False)]
    )
    assert sorted(triggers.there("default")) == sorted(before)
    with shop_scope(world.ours.shop):
        assert Visit.objects.count() == 1


def test_nothing_to_migrate_leaves_the_triggers_where_they_are(db: None) -> None:
    before = triggers.there("default")
    emit_pre_migrate_signal(verbosity=0, interactive=False, db="default", plan=[])
    assert triggers.there("default") == before
