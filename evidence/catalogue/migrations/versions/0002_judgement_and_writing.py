"""What claims of every kind need, links and ratings by people, drafts and programmes, and uses without a claim."""

import sqlalchemy as sa
from alembic import op

from evidence.catalogue.migrations.parts import TIME, link, make, optional, required, rule, unique, words

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("claim", sa.Column("terms", sa.JSON(), nullable=False, server_default=sa.text("'{}'")))
    op.add_column("claim", sa.Column("falsifier", sa.String()))
    _rebuild_use()
    make(
        "claim_link",
        *required(sa.Integer(), "claim_id", "reference_id"),
        *required(sa.String(), "stance", "kind", "locator", "said"),
        *optional(sa.Integer(), "n"),
        *optional(sa.String(), "design"),
        *required(sa.String(), "person"),
        *required(TIME, "at"),
        words("claim_link", "stance", "supports", "against", "mixed", "background"),
        words("claim_link", "kind", "review", "study", "guideline", "expert", "other"),
        rule("claim_link", "n_not_negative", "n >= 0"),
        link("claim_link", "claim_id", "claim", "CASCADE"),
        link("claim_link", "reference_id", "reference", "RESTRICT"),
        unique("claim_link", "claim_id", "reference_id", "locator"),
        indexed=["claim_id", "reference_id"],
    )
    make(
        "rating",
        *optional(sa.Integer(), "claim_id", "study_id"),
        *required(sa.String(), "tool", "domain", "value"),
        *required(sa.JSON(), "answers"),
        *required(sa.String(), "reason", "person"),
        *required(TIME, "at"),
        rule("rating", "of_one_thing", "(claim_id IS NULL) <> (study_id IS NULL)"),
        link("rating", "claim_id", "claim", "CASCADE"),
        link("rating", "study_id", "study", "CASCADE"),
        indexed=["claim_id", "study_id"],
    )
    make(
        "draft",
        *required(sa.String(), "key", "title", "format", "text"),
        *required(sa.JSON(), "audience", "accepted"),
        *optional(TIME, "checked_at"),
        *optional(sa.String(), "catalogue_hash"),
        *required(TIME, "added_at"),
        *required(sa.String(), "added_by"),
        rule("draft", "key_not_empty", "key <> ''"),
        unique("draft", "key"),
    )
    make(
        "programme",
        *required(sa.String(), "key", "title", "format", "text"),
        *required(TIME, "added_at"),
        *required(sa.String(), "added_by"),
        rule("programme", "key_not_empty", "key <> ''"),
        unique("programme", "key"),
    )


def _rebuild_use() -> None:
    """A use may tell of a reference or a whole ranking and of no claim. SQLite cannot loosen a column in place."""
    op.rename_table("use", "former_use")
    for column in ("name", "claim_id", "appraisal_id"):
        op.drop_index(op.f(f"ix_use_{column}"), "former_use")
    if (
        op.get_bind().dialect.name == "postgresql"
    ):  # names of keys and sequences are shared by all tables there
        op.execute("ALTER TABLE former_use RENAME CONSTRAINT pk_use TO pk_former_use")
        op.execute("ALTER SEQUENCE use_id_seq RENAME TO former_use_id_seq")
    make(
        "use",
        *required(sa.String(), "kind", "name"),
        *optional(sa.Integer(), "claim_id", "appraisal_id", "reference_id"),
        *required(sa.String(), "told", "catalogue_hash"),
        *required(TIME, "at"),
        *required(sa.String(), "place", "format"),
        *required(sa.JSON(), "body"),
        link("use", "appraisal_id", "appraisal", "SET NULL"),
        link("use", "claim_id", "claim", "CASCADE"),
        link("use", "reference_id", "reference", "CASCADE"),
        indexed=["name", "claim_id", "appraisal_id", "reference_id"],
    )
    op.execute(
        "INSERT INTO use (id, kind, name, claim_id, appraisal_id, told, catalogue_hash, at, place, format, body) "
        "SELECT id, kind, name, claim_id, appraisal_id, told, catalogue_hash, at, '', '', '{}' FROM former_use"
    )
    op.drop_table("former_use")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("SELECT setval('use_id_seq', greatest((SELECT max(id) FROM use), 1))")
    else:
        op.execute("DELETE FROM sqlite_sequence WHERE name = 'use'")
        op.execute(
            "INSERT INTO sqlite_sequence (name, seq) SELECT 'use', max(row_id) FROM change WHERE table_name = 'use' "
            "HAVING max(row_id) IS NOT NULL"
        )
