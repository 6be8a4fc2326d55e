"""The first version: references, studies, results, claims, history."""

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

TIME = sa.DateTime(timezone=True)
LARGEST = "1.7976931348623157e308"


def upgrade() -> None:
    _make(
        "change_set",
        *_required(TIME, "at"),
        *_required(sa.String(), "who", "action"),
        *_optional(sa.Integer(), "undoes_id"),
        _link("change_set", "undoes_id", "change_set"),
        indexed=["undoes_id"],
    )
    _make(
        "claim",
        *_required(sa.String(), "key", "kind", "statement"),
        *_optional(sa.String(), "exercise"),
        *_required(sa.JSON(), "exercise_details"),
        *_optional(sa.String(), "comparator"),
        *_required(sa.JSON(), "comparator_details"),
        *_optional(sa.String(), "region"),
        *_required(sa.String(), "construct_id", "direction"),
        *_optional(sa.String(), "training_status", "sex", "health"),
        *_optional(sa.Float(), "margin"),
        *_optional(sa.String(), "metric", "surrogate", "note"),
        *_optional(sa.Date(), "review_due"),
        *_required(TIME, "added_at"),
        *_required(sa.String(), "added_by"),
        _words("claim", "direction", "more", "less", "same", "differs"),
        _rule("claim", "key_not_empty", "key <> ''"),
        _finite("claim", "margin"),
        _rule("claim", "margin_positive", "margin > 0"),
        _unique("claim", "key"),
        indexed=["exercise", "comparator", "region", "construct_id"],
    )
    _make(
        "own_alias",
        *_required(sa.String(), "kind", "alias", "target", "added_by"),
        _words("own_alias", "kind", "exercise", "region"),
        _unique("own_alias", "kind", "alias", "target"),
    )
    _make(
        "own_exercise",
        *_required(sa.String(), "key", "name"),
        *_required(sa.JSON(), "body"),
        *_required(sa.String(), "added_by"),
        _rule("own_exercise", "key_not_empty", "key <> ''"),
        _unique("own_exercise", "key"),
    )
    _make(
        "reference",
        *_required(sa.String(), "key", "type", "title", "first_author"),
        *_optional(sa.Integer(), "year"),
        *_required(sa.String(), "container"),
        *_optional(sa.String(), "doi", "pmid"),
        *_required(sa.JSON(), "csl"),
        *_optional(sa.String(), "raw", "source"),
        *_required(sa.String(), "reading_state"),
        *_optional(sa.String(), "notice"),
        *_optional(TIME, "notice_checked_on"),
        *_required(TIME, "added_at"),
        _rule("reference", "key_not_empty", "key <> ''"),
        _words("reference", "reading_state", "unread", "abstract", "full text"),
        _unique("reference", "key"),
        indexed=["year", "doi", "pmid"],
    )
    _make(
        "setting",
        *_required(sa.String(), "key", "value"),
        _rule("setting", "key_not_empty", "key <> ''"),
        _unique("setting", "key"),
    )
    _make(
        "study",
        *_required(sa.String(), "key", "title"),
        *_optional(sa.Integer(), "year"),
        *_required(sa.String(), "design", "pairing", "randomised"),
        *_optional(sa.Float(), "weeks"),
        *_required(sa.Boolean(), "invented"),
        *_optional(sa.String(), "sample", "funding", "note"),
        *_required(sa.JSON(), "bias"),
        *_optional(sa.String(), "source", "digest"),
        *_required(TIME, "added_at"),
        _rule("study", "key_not_empty", "key <> ''"),
        _words("study", "pairing", "within", "between", "none"),
        _words("study", "randomised", "yes", "no", "not stated"),
        _finite("study", "weeks"),
        _rule("study", "weeks_not_negative", "weeks >= 0"),
        _unique("study", "key"),
        indexed=["digest"],
    )
    _make(
        "unread_entry",
        *_required(sa.String(), "source"),
        *_optional(sa.Integer(), "line"),
        *_required(sa.String(), "reason", "text", "digest"),
        *_required(TIME, "added_at"),
        _unique("unread_entry", "source", "digest"),
    )
    _make(
        "appraisal",
        *_required(sa.Integer(), "claim_id"),
        *_required(TIME, "at"),
        *_required(sa.String(), "inputs_hash"),
        *_required(sa.JSON(), "versions"),
        *_required(sa.String(), "verdict", "confidence", "confidence_low", "confidence_high"),
        *_optional(sa.Float(), "estimate", "low", "high"),
        *_optional(sa.String(), "metric"),
        *_required(sa.Integer(), "k"),
        *_required(sa.JSON(), "body"),
        _finite("appraisal", "estimate"),
        _finite("appraisal", "high"),
        _finite("appraisal", "low"),
        _link("appraisal", "claim_id", "claim", "CASCADE"),
        indexed=["claim_id", "inputs_hash"],
    )
    _make(
        "change",
        *_required(sa.Integer(), "change_set_id"),
        *_required(sa.String(), "table_name"),
        *_required(sa.Integer(), "row_id"),
        *_required(sa.String(), "row_key", "operation"),
        *_optional(sa.JSON(), "before", "after"),
        _words("change", "operation", "add", "edit", "remove"),
        _link("change", "change_set_id", "change_set", "CASCADE"),
        indexed=["change_set_id"],
    )
    _make(
        "exclusion",
        *_required(sa.Integer(), "claim_id", "study_id"),
        *_required(sa.String(), "result_key", "reason", "person"),
        *_required(TIME, "at"),
        _link("exclusion", "claim_id", "claim", "CASCADE"),
        _link("exclusion", "study_id", "study", "CASCADE"),
        _unique("exclusion", "claim_id", "study_id", "result_key"),
        indexed=["claim_id", "study_id"],
    )
    _make(
        "outcome",
        *_required(sa.Integer(), "study_id"),
        *_required(
            sa.String(),
            "key",
            "construct_id",
            "instrument",
            "unit",
            "normalisation",
            "amplitude",
            "phase",
            "better",
        ),
        *_optional(sa.String(), "note"),
        _words("outcome", "better", "higher", "lower", "neither"),
        _rule("outcome", "key_not_empty", "key <> ''"),
        _link("outcome", "study_id", "study", "CASCADE"),
        _unique("outcome", "study_id", "key"),
        indexed=["study_id", "construct_id"],
    )
    _make(
        "override",
        *_required(sa.Integer(), "claim_id"),
        *_required(sa.String(), "domain", "proposed", "chosen", "reason", "person"),
        *_required(TIME, "at"),
        *_required(sa.String(), "inputs_hash", "rule_set", "rule_version"),
        _link("override", "claim_id", "claim", "CASCADE"),
        indexed=["claim_id"],
    )
    _make(
        "people",
        *_required(sa.Integer(), "study_id"),
        *_required(sa.String(), "key", "label"),
        *_optional(sa.Integer(), "recruited", "analysed"),
        *_required(sa.String(), "sex"),
        *_optional(sa.Float(), "age_mean", "age_sd"),
        *_required(sa.String(), "training_status", "health"),
        *_optional(sa.String(), "note"),
        _finite("people", "age_mean"),
        _finite("people", "age_sd"),
        _rule("people", "analysed_not_negative", "analysed >= 0"),
        _rule("people", "key_not_empty", "key <> ''"),
        _rule("people", "recruited_not_negative", "recruited >= 0"),
        _words("people", "sex", "female", "male", "both", "not stated"),
        _link("people", "study_id", "study", "CASCADE"),
        _unique("people", "study_id", "key"),
        indexed=["study_id"],
    )
    _make(
        "raw_table",
        *_required(sa.Integer(), "study_id"),
        *_required(sa.String(), "name", "text", "digest"),
        *_required(sa.JSON(), "mapping"),
        *_required(TIME, "added_at"),
        _link("raw_table", "study_id", "study", "CASCADE"),
        _unique("raw_table", "study_id", "digest"),
        indexed=["study_id"],
    )
    _make(
        "study_reference",
        *_required(sa.Integer(), "study_id", "reference_id"),
        *_required(sa.String(), "role"),
        _words(
            "study_reference", "role", "report", "preprint", "abstract", "secondary analysis", "review of it"
        ),
        _link("study_reference", "reference_id", "reference", "RESTRICT"),
        _link("study_reference", "study_id", "study", "CASCADE"),
        _unique("study_reference", "study_id", "reference_id"),
        indexed=["study_id", "reference_id"],
    )
    _make(
        "condition",
        *_required(sa.Integer(), "study_id"),
        *_required(sa.String(), "key"),
        *_optional(sa.String(), "exercise"),
        *_required(sa.String(), "printed"),
        *_required(sa.JSON(), "details", "dose"),
        *_optional(sa.Integer(), "people_id", "n"),
        _rule("condition", "key_not_empty", "key <> ''"),
        _link("condition", "people_id", "people", "SET NULL"),
        _link("condition", "study_id", "study", "CASCADE"),
        _unique("condition", "study_id", "key"),
        indexed=["study_id", "exercise", "people_id"],
    )
    _make(
        "use",
        *_required(sa.String(), "kind", "name"),
        *_required(sa.Integer(), "claim_id"),
        *_optional(sa.Integer(), "appraisal_id"),
        *_required(sa.String(), "told", "catalogue_hash"),
        *_required(TIME, "at"),
        _link("use", "appraisal_id", "appraisal", "SET NULL"),
        _link("use", "claim_id", "claim", "CASCADE"),
        indexed=["name", "claim_id", "appraisal_id"],
    )
    _make(
        "result",
        *_required(sa.Integer(), "study_id"),
        *_required(sa.String(), "key"),
        *_required(sa.Integer(), "outcome_id", "condition_id"),
        *_optional(sa.Integer(), "comparator_id", "people_id"),
        *_optional(sa.String(), "region"),
        *_required(sa.String(), "timepoint"),
        *_optional(sa.String(), "timepoint_label"),
        *_required(sa.String(), "statistic"),
        *_optional(sa.Float(), "value", "spread"),
        *_required(sa.String(), "spread_kind"),
        *_optional(sa.Float(), "low", "high", "level"),
        *_optional(sa.Integer(), "n", "events"),
        *_optional(sa.Float(), "person_time"),
        *_optional(sa.String(), "test", "p", "marks"),
        *_required(sa.String(), "printed"),
        *_optional(sa.String(), "printed_unit"),
        *_required(sa.String(), "locator", "read_from", "read_by"),
        *_required(TIME, "read_at"),
        *_optional(sa.String(), "verified_by"),
        *_optional(sa.Integer(), "raw_table_id"),
        *_optional(sa.String(), "raw_cell", "note"),
        _finite("result", "high"),
        _rule("result", "key_not_empty", "key <> ''"),
        _finite("result", "level"),
        _rule("result", "level_is_a_share", "level > 0 AND level < 1"),
        _finite("result", "low"),
        _rule("result", "n_not_negative", "n >= 0"),
        _finite("result", "person_time"),
        _words("result", "read_from", "abstract", "full text", "figure", "open data"),
        _finite("result", "spread"),
        _words("result", "spread_kind", "SD", "SE", "CI", "IQR", "range", "none", "not stated"),
        _rule("result", "spread_not_negative", "spread >= 0"),
        _words(
            "result",
            "statistic",
            "mean",
            "median",
            "change",
            "percent_change",
            "difference",
            "percent_points",
            "ratio",
            "smd",
            "count",
            "correlation",
            "test",
        ),
        _words("result", "timepoint", "acute", "pre", "mid", "post", "follow-up", "over"),
        _finite("result", "value"),
        _link("result", "comparator_id", "condition", "CASCADE"),
        _link("result", "condition_id", "condition", "CASCADE"),
        _link("result", "outcome_id", "outcome", "CASCADE"),
        _link("result", "people_id", "people", "SET NULL"),
        _link("result", "raw_table_id", "raw_table", "SET NULL"),
        _link("result", "study_id", "study", "CASCADE"),
        _unique("result", "study_id", "key"),
        indexed=[
            "study_id",
            "outcome_id",
            "condition_id",
            "comparator_id",
            "people_id",
            "region",
            "raw_table_id",
        ],
    )
    _make(
        "correlation",
        *_required(sa.Integer(), "study_id", "result_a_id", "result_b_id"),
        *_required(sa.Float(), "r"),
        *_required(sa.String(), "origin", "locator"),
        _words(
            "correlation",
            "origin",
            "printed",
            "computed from individual data",
            "computed from printed figures",
        ),
        _finite("correlation", "r"),
        _rule("correlation", "r_in_range", "r >= -1 AND r <= 1"),
        _link("correlation", "result_a_id", "result", "CASCADE"),
        _link("correlation", "result_b_id", "result", "CASCADE"),
        _link("correlation", "study_id", "study", "CASCADE"),
        _unique("correlation", "result_a_id", "result_b_id"),
        indexed=["study_id", "result_a_id", "result_b_id"],
    )


def downgrade() -> None:
    raise NotImplementedError("a catalogue goes back by restoring the copy made before it was migrated")


def _make(table: str, *parts: sa.schema.SchemaItem, indexed: Sequence[str] = ()) -> None:
    number = sa.Column("id", sa.Integer(), nullable=False)
    key = sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}"))
    op.create_table(table, number, *parts, key, sqlite_autoincrement=True)
    for column in indexed:
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column])


def _required(kind: sa.types.TypeEngine[Any], *names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, kind, nullable=False) for name in names]


def _optional(kind: sa.types.TypeEngine[Any], *names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, kind) for name in names]


def _rule(table: str, name: str, condition: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(condition, name=op.f(f"ck_{table}_{name}"))


def _words(table: str, column: str, *words: str) -> sa.CheckConstraint:
    listed = ", ".join(f"'{word}'" for word in words)
    return _rule(table, column, f"{column} IN ({listed})")


def _finite(table: str, column: str) -> sa.CheckConstraint:
    return _rule(table, f"{column}_finite", f"{column} BETWEEN -{LARGEST} AND {LARGEST}")


def _unique(table: str, *columns: str) -> sa.UniqueConstraint:
    return sa.UniqueConstraint(*columns, name=op.f(f"uq_{table}_{'_'.join(columns)}"))


def _link(table: str, column: str, target: str, ondelete: str | None = None) -> sa.ForeignKeyConstraint:
    name = op.f(f"fk_{table}_{column}_{target}")
    return sa.ForeignKeyConstraint([column], [f"{target}.id"], name=name, ondelete=ondelete)
