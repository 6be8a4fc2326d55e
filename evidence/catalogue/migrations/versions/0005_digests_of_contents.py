"""A digest of each document of a catalogue, and the change up to which they hold (`catalogue/digests.py`)."""

from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    on_sqlite = op.get_bind().dialect.name == "sqlite"
    op.execute(
        "CREATE TABLE content_digest (table_name text NOT NULL, row_id integer NOT NULL, "
        f"digest {'blob' if on_sqlite else 'bytea'} NOT NULL, PRIMARY KEY (table_name, row_id))"
        f"{' WITHOUT ROWID' if on_sqlite else ''}"
    )
    op.execute("CREATE TABLE content_digest_until (change_id integer NOT NULL, form text NOT NULL)")


def downgrade() -> None:
    raise NotImplementedError("a catalogue goes back by restoring the copy made before it was migrated")
