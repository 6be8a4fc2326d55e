"""What is worked out of each reference and kept beside it (`catalogue/worked_out.py`); a change takes it away."""

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

COLUMNS = ("key", "csl")  # what it is worked out of


def upgrade() -> None:
    on_sqlite = op.get_bind().dialect.name == "sqlite"
    op.execute(
        "CREATE TABLE worked_out (reference_id integer NOT NULL, what text NOT NULL, rules text NOT NULL, "
        f"content {'blob' if on_sqlite else 'bytea'} NOT NULL, PRIMARY KEY (what, reference_id))"
        f"{' WITHOUT ROWID' if on_sqlite else ''}"
    )
    forget = "DELETE FROM worked_out WHERE reference_id = old.id"
    # An index of its own: the primary key serves reading all of one kind.
    op.execute("CREATE INDEX ix_worked_out_reference_id ON worked_out (reference_id)")
    if on_sqlite:
        for name, when in (("edited", f"UPDATE OF {', '.join(COLUMNS)}"), ("removed", "DELETE")):
            op.execute(f"CREATE TRIGGER worked_out_{name} AFTER {when} ON reference BEGIN {forget}; END")
        return
    op.execute(
        "CREATE FUNCTION forget_worked_out() RETURNS trigger LANGUAGE plpgsql AS $$ "
        f"BEGIN {forget}; RETURN NULL; END $$"
    )
    op.execute(
        f"CREATE TRIGGER worked_out_forgotten AFTER DELETE OR UPDATE OF {', '.join(COLUMNS)} ON reference "
        "FOR EACH ROW EXECUTE FUNCTION forget_worked_out()"
    )


def downgrade() -> None:
    raise NotImplementedError("a catalogue goes back by restoring the copy made before it was migrated")
