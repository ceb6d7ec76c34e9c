"""The shop, conversions, designs, revisions and characteristics."""

import sqlalchemy as sa
from alembic import op

from kitwright.books.migrations.first.columns import ID, TEXT


def create() -> None:
    """The tables and their indexes, as the first version has them."""
    op.create_table(
        "shop",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("lead", TEXT, nullable=False),
        sa.Column("currency", TEXT, nullable=False),
        sa.Column("guard", TEXT, nullable=False),
        sa.Column("undecided", TEXT, nullable=False),
        sa.CheckConstraint(
            "guard IN ('guard by U', 'guard by 1.645 u')", name=op.f("ck_shop_guard_known")
        ),
        sa.CheckConstraint("lead IN ('mm', 'in')", name=op.f("ck_shop_lead_known")),
        sa.CheckConstraint("undecided IN ('hold', 'reject')", name=op.f("ck_shop_undecided_known")),
        sa.CheckConstraint("id = 1", name=op.f("ck_shop_only_one")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop")),
    )
    op.create_table(
        "party",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("role", TEXT, nullable=False),
        sa.CheckConstraint(
            "role IN ('supplier', 'machinist', 'customer')", name=op.f("ck_party_role_known")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_party")),
        sa.UniqueConstraint("role", "name", name=op.f("uq_party_role_name")),
    )
    op.create_table(
        "engine",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine")),
        sa.UniqueConstraint("name", name=op.f("uq_engine_name")),
    )
    op.create_table(
        "gearbox",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gearbox")),
        sa.UniqueConstraint("name", name=op.f("uq_gearbox_name")),
    )
    op.create_table(
        "car",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_car")),
        sa.UniqueConstraint("name", name=op.f("uq_car_name")),
    )
    op.create_table(
        "conversion",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("engine_id", ID, nullable=False),
        sa.Column("gearbox_id", ID, nullable=False),
        sa.Column("depth_mm", sa.Double(), nullable=False),
        sa.Column("gap_low_mm", sa.Double(), nullable=False),
        sa.Column("gap_high_mm", sa.Double(), nullable=False),
        sa.Column("pilot_mm", sa.Double(), nullable=False),
        sa.Column("tir_mm", sa.Double(), nullable=False),
        sa.CheckConstraint(
            "depth_mm > 0 AND depth_mm < 1e15", name=op.f("ck_conversion_depth_mm_above_zero")
        ),
        sa.CheckConstraint(
            "depth_mm BETWEEN -100000 AND 100000", name=op.f("ck_conversion_depth_mm_in_reach")
        ),
        sa.CheckConstraint(
            "gap_high_mm BETWEEN -100000 AND 100000",
            name=op.f("ck_conversion_gap_high_mm_in_reach"),
        ),
        sa.CheckConstraint("gap_low_mm < gap_high_mm", name=op.f("ck_conversion_gap_ordered")),
        sa.CheckConstraint(
            "gap_low_mm BETWEEN -100000 AND 100000", name=op.f("ck_conversion_gap_low_mm_in_reach")
        ),
        sa.CheckConstraint(
            "pilot_mm > 0 AND pilot_mm < 1e15", name=op.f("ck_conversion_pilot_mm_above_zero")
        ),
        sa.CheckConstraint(
            "pilot_mm BETWEEN -100000 AND 100000", name=op.f("ck_conversion_pilot_mm_in_reach")
        ),
        sa.CheckConstraint(
            "tir_mm > 0 AND tir_mm < 1e15", name=op.f("ck_conversion_tir_mm_above_zero")
        ),
        sa.CheckConstraint(
            "tir_mm BETWEEN -100000 AND 100000", name=op.f("ck_conversion_tir_mm_in_reach")
        ),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_conversion_engine_id")),
        sa.ForeignKeyConstraint(
            ["gearbox_id"], ["gearbox.id"], name=op.f("fk_conversion_gearbox_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_conversion")),
        sa.UniqueConstraint("name", name=op.f("uq_conversion_name")),
    )
    op.create_table(
        "conversion_car",
        sa.Column("id", ID, nullable=False),
        sa.Column("conversion_id", ID, nullable=False),
        sa.Column("car_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["car_id"], ["car.id"], name=op.f("fk_conversion_car_car_id")),
        sa.ForeignKeyConstraint(
            ["conversion_id"], ["conversion.id"], name=op.f("fk_conversion_car_conversion_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_conversion_car")),
        sa.UniqueConstraint(
            "conversion_id", "car_id", name=op.f("uq_conversion_car_conversion_id_car_id")
        ),
    )
    op.create_table(
        "hole",
        sa.Column("id", ID, nullable=False),
        sa.Column("conversion_id", ID, nullable=False),
        sa.Column("face", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("x_mm", sa.Double(), nullable=False),
        sa.Column("y_mm", sa.Double(), nullable=False),
        sa.Column("diameter_mm", sa.Double(), nullable=True),
        sa.CheckConstraint("face IN ('block', 'gearbox')", name=op.f("ck_hole_face_known")),
        sa.CheckConstraint(
            "diameter_mm > 0 AND diameter_mm < 1e15", name=op.f("ck_hole_diameter_mm_above_zero")
        ),
        sa.CheckConstraint("x_mm BETWEEN -100000 AND 100000", name=op.f("ck_hole_x_mm_in_reach")),
        sa.CheckConstraint("y_mm BETWEEN -100000 AND 100000", name=op.f("ck_hole_y_mm_in_reach")),
        sa.ForeignKeyConstraint(
            ["conversion_id"], ["conversion.id"], name=op.f("fk_hole_conversion_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hole")),
        sa.UniqueConstraint(
            "conversion_id", "face", "name", name=op.f("uq_hole_conversion_id_face_name")
        ),
    )
    op.create_table(
        "block_population",
        sa.Column("id", ID, nullable=False),
        sa.Column("conversion_id", ID, nullable=False),
        sa.Column("block", TEXT, nullable=False),
        sa.Column("zone_mm", sa.Double(), nullable=False),
        sa.Column("shift_x_mm", sa.Double(), nullable=False),
        sa.Column("shift_y_mm", sa.Double(), nullable=False),
        sa.Column("source", TEXT, nullable=False),
        sa.CheckConstraint(
            "block IN ('new', 'line-honed')", name=op.f("ck_block_population_block_known")
        ),
        sa.CheckConstraint(
            "shift_x_mm BETWEEN -100000 AND 100000",
            name=op.f("ck_block_population_shift_x_mm_in_reach"),
        ),
        sa.CheckConstraint(
            "shift_y_mm BETWEEN -100000 AND 100000",
            name=op.f("ck_block_population_shift_y_mm_in_reach"),
        ),
        sa.CheckConstraint(
            "zone_mm > 0 AND zone_mm < 1e15", name=op.f("ck_block_population_zone_mm_above_zero")
        ),
        sa.ForeignKeyConstraint(
            ["conversion_id"], ["conversion.id"], name=op.f("fk_block_population_conversion_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_block_population")),
        sa.UniqueConstraint(
            "conversion_id", "block", name=op.f("uq_block_population_conversion_id_block")
        ),
    )
    op.create_table(
        "design",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("conversion_id", ID, nullable=False),
        sa.Column("material", TEXT, nullable=False),
        sa.Column("price_minor", ID, nullable=False),
        sa.Column("price_currency", TEXT, nullable=False),
        sa.Column("mass_kg", sa.Double(), nullable=False),
        sa.Column("opening", TEXT, nullable=False),
        sa.Column("certificate", TEXT, nullable=True),
        sa.Column("certificate_expires", sa.Date(), nullable=True),
        sa.CheckConstraint(
            (
                "(certificate IS NULL) = (certificate_expires IS NULL) AND (material <> "
                "'certified steel' OR certificate IS NOT NULL)"
            ),
            name=op.f("ck_design_steel_is_certified"),
        ),
        sa.CheckConstraint(
            "material IN ('cast aluminium', 'certified steel')",
            name=op.f("ck_design_material_known"),
        ),
        sa.CheckConstraint(
            "mass_kg > 0 AND mass_kg < 1e15", name=op.f("ck_design_mass_kg_above_zero")
        ),
        sa.CheckConstraint("price_minor >= 0", name=op.f("ck_design_price_counts")),
        sa.ForeignKeyConstraint(
            ["conversion_id"], ["conversion.id"], name=op.f("fk_design_conversion_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_design")),
        sa.UniqueConstraint("name", name=op.f("uq_design_name")),
    )
    op.create_index(op.f("ix_design_conversion_id"), "design", ["conversion_id"])
    op.create_table(
        "revision",
        sa.Column("id", ID, nullable=False),
        sa.Column("design_id", ID, nullable=False),
        sa.Column("label", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["design_id"], ["design.id"], name=op.f("fk_revision_design_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision")),
        sa.UniqueConstraint("design_id", "label", name=op.f("uq_revision_design_id_label")),
    )
    op.create_table(
        "revision_step",
        sa.Column("id", ID, nullable=False),
        sa.Column("revision_id", ID, nullable=False),
        sa.Column("number", ID, nullable=False),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("happened", TEXT, nullable=False),
        sa.Column("recorded", TEXT, nullable=False),
        sa.Column("who", TEXT, nullable=False),
        sa.Column("why", TEXT, nullable=True),
        sa.CheckConstraint(
            "state IN ('draft', 'in force', 'superseded')",
            name=op.f("ck_revision_step_state_known"),
        ),
        sa.CheckConstraint("number > 0", name=op.f("ck_revision_step_number_counts")),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_revision_step_revision_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision_step")),
        sa.UniqueConstraint(
            "revision_id", "number", name=op.f("uq_revision_step_revision_id_number")
        ),
    )
    op.create_table(
        "characteristic",
        sa.Column("id", ID, nullable=False),
        sa.Column("revision_id", ID, nullable=False),
        sa.Column("position", ID, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("unit", TEXT, nullable=False),
        sa.Column("frame", TEXT, nullable=False),
        sa.Column("low_mm", sa.Double(), nullable=True),
        sa.Column("high_mm", sa.Double(), nullable=True),
        sa.Column("zone_mm", sa.Double(), nullable=True),
        sa.Column("x_mm", sa.Double(), nullable=True),
        sa.Column("y_mm", sa.Double(), nullable=True),
        sa.CheckConstraint(
            (
                "(kind = 'length' AND zone_mm IS NULL AND x_mm IS NULL AND y_mm IS NULL AND "
                "(low_mm IS NOT NULL OR high_mm IS NOT NULL) AND (low_mm IS NULL OR high_mm IS "
                "NULL OR low_mm < high_mm)) OR (kind = 'position' AND zone_mm IS NOT NULL AND "
                "x_mm IS NOT NULL AND y_mm IS NOT NULL AND low_mm IS NULL AND high_mm IS NULL)"
            ),
            name=op.f("ck_characteristic_limits_fit_kind"),
        ),
        sa.CheckConstraint(
            "kind IN ('length', 'position')", name=op.f("ck_characteristic_kind_known")
        ),
        sa.CheckConstraint(
            "high_mm BETWEEN -100000 AND 100000", name=op.f("ck_characteristic_high_mm_in_reach")
        ),
        sa.CheckConstraint(
            "low_mm BETWEEN -100000 AND 100000", name=op.f("ck_characteristic_low_mm_in_reach")
        ),
        sa.CheckConstraint(
            "x_mm BETWEEN -100000 AND 100000", name=op.f("ck_characteristic_x_mm_in_reach")
        ),
        sa.CheckConstraint(
            "y_mm BETWEEN -100000 AND 100000", name=op.f("ck_characteristic_y_mm_in_reach")
        ),
        sa.CheckConstraint(
            "zone_mm > 0 AND zone_mm < 1e15", name=op.f("ck_characteristic_zone_mm_above_zero")
        ),
        sa.CheckConstraint(
            "zone_mm BETWEEN -100000 AND 100000", name=op.f("ck_characteristic_zone_mm_in_reach")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_characteristic_revision_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_characteristic")),
        sa.UniqueConstraint("revision_id", "name", name=op.f("uq_characteristic_revision_id_name")),
        sa.UniqueConstraint(
            "revision_id", "position", name=op.f("uq_characteristic_revision_id_position")
        ),
    )
