"""Full text of references: an index that triggers keep in step, on either engine.

Letters are brought to the basic Latin alphabet on both sides, here and in the question (`queries/searching.py`).
"""

from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

# What no decomposition takes apart, as library catalogues write it (references/folding.py has the same).
LETTERS = {
    "ø": "o",
    "ð": "d",
    "þ": "th",
    "æ": "ae",
    "œ": "oe",
    "ł": "l",
    "đ": "d",
    "ħ": "h",
    "ı": "i",
    "ŋ": "n",
}
LETTERS |= {"ß": "ss", "’": "", "'": ""}
CAPITALS = {letter.upper(): plain for letter, plain in LETTERS.items() if letter not in "ßı’'"} | {"ẞ": "ss"}

PARTS = ("names", "title", "container", "rest", "abstract")
COLUMNS = ("key", "title", "container", "doi", "pmid", "csl")  # what the text is drawn from
LONGEST = 200_000  # characters of one part: PostgreSQL refuses longer words lists


def upgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        _index_on_sqlite()
    else:
        _index_on_postgresql()


# --- SQLite: FTS5 without content of its own; what is taken out is told with its old text -----------------------


def _index_on_sqlite() -> None:
    columns = ", ".join(PARTS)
    op.execute(
        f"CREATE VIRTUAL TABLE reference_text USING fts5({columns}, content='', prefix='3', "
        'tokenize="unicode61 remove_diacritics 2")'
    )
    insert = f"INSERT INTO reference_text(rowid, {columns})"
    delete = f"INSERT INTO reference_text(reference_text, rowid, {columns})"
    op.execute(f"{insert} {_read_on_sqlite('id', 'reference', 'FROM reference')}")
    add = f"{insert} {_read_on_sqlite('new.id', 'new')}"
    take_out = f"{delete} SELECT 'delete', * FROM ({_read_on_sqlite('old.id', 'old')})"
    triggers = {
        "added": ("AFTER INSERT", add),
        "edited": (f"AFTER UPDATE OF {', '.join(COLUMNS)}", f"{take_out}; {add}"),
        "removed": ("AFTER DELETE", take_out),
    }
    for name, (when, what) in triggers.items():
        op.execute(f"CREATE TRIGGER reference_text_{name} {when} ON reference BEGIN {what}; END")


def _read_on_sqlite(number: str, row: str, source: str = "") -> str:
    """A SELECT of a row's number and folded parts. Letters go in steps: SQLite's parser does not nest deeply."""
    statement = f"SELECT {number} AS number, {_parts_on_sqlite(row)} {source}"
    letters = list((LETTERS | CAPITALS).items())
    for start in range(0, len(letters), 7):
        columns = ", ".join(f"{_replace(part, letters[start : start + 7])} AS {part}" for part in PARTS)
        statement = f"SELECT number, {columns} FROM ({statement})"
    return statement


def _parts_on_sqlite(row: str) -> str:
    document = f"CASE WHEN json_valid({row}.csl) THEN {row}.csl ELSE '{{}}' END"

    def names(variable: str) -> str:
        pieces = ("given", "dropping-particle", "non-dropping-particle", "family", "suffix", "literal")
        whole = " || ' ' || ".join(
            f"""coalesce(json_extract(value, '$."{piece}"'), '')""" for piece in pieces
        )
        return (
            f"coalesce((SELECT group_concat({whole}, ' ') FROM json_each({document}, '$.{variable}') "
            "WHERE type = 'object'), '')"
        )

    def field(name: str) -> str:
        return f"coalesce(json_extract({document}, '$.\"{name}\"'), '')"

    def column(name: str) -> str:
        return f"coalesce({row}.{name}, '')"

    rest = [
        *map(column, ("key", "doi", "pmid")),
        *map(field, ("keyword", "title-short", "original-title", "note")),
    ]
    parts = (
        f"{names('author')} || ' ' || {names('editor')}",
        column("title"),
        f"{column('container')} || ' ' || {field('container-title-short')}",
        " || ' ' || ".join(rest),
        field("abstract"),
    )
    named = zip(PARTS, parts, strict=True)
    return ", ".join(f"substr({part}, 1, {LONGEST}) AS {name}" for name, part in named)


def _replace(text: str, letters: list[tuple[str, str]]) -> str:
    for letter, plain in letters:
        quoted = letter.replace("'", "''")
        text = f"replace({text}, '{quoted}', '{plain}')"
    return text


# --- PostgreSQL: a table of word lists, weighted by part --------------------------------------------------------


def _index_on_postgresql() -> None:
    op.execute("CREATE TABLE reference_text (reference_id integer PRIMARY KEY, words tsvector NOT NULL)")
    op.execute("CREATE INDEX ix_reference_text_words ON reference_text USING gin (words)")
    single = {letter: plain for letter, plain in (LETTERS | CAPITALS).items() if len(plain) == 1}
    double = {letter: plain for letter, plain in (LETTERS | CAPITALS).items() if len(plain) != 1}
    folded = "normalize(left(given, 200000), NFKD)"
    for letter, plain in double.items():
        quoted = letter.replace("'", "''")
        folded = f"replace({folded}, '{quoted}', '{plain}')"
    folded = f"translate({folded}, '{''.join(single)}', '{''.join(single.values())}')"
    folded = f"regexp_replace({folded}, '[\u0300-\u036f]', '', 'g')"
    marks = '!"#$%&()*+,-./:;<=>?@[\\]^_`{|}~–—‐‑…“”„«»‘·•'
    op.execute(
        'CREATE FUNCTION reference_part(given text, weight "char") RETURNS tsvector LANGUAGE sql IMMUTABLE AS $$ '
        f"SELECT setweight(to_tsvector('simple', translate(lower({folded}), '{marks}', '{' ' * len(marks)}')), "
        "weight) $$"
    )
    op.execute(
        """
        CREATE FUNCTION reference_names(document jsonb, variable text) RETURNS text LANGUAGE sql IMMUTABLE AS $$
          SELECT string_agg(concat_ws(' ', one->>'given', one->>'dropping-particle', one->>'non-dropping-particle',
                                      one->>'family', one->>'suffix', one->>'literal'), ' ')
          FROM jsonb_array_elements(CASE jsonb_typeof(document->variable) WHEN 'array' THEN document->variable
                                    ELSE '[]'::jsonb END) AS one $$
        """
    )
    op.execute(
        """
        CREATE FUNCTION reference_words(r reference) RETURNS tsvector LANGUAGE sql IMMUTABLE AS $$
          SELECT reference_part(concat_ws(' ', reference_names(r.csl::jsonb, 'author'),
                                          reference_names(r.csl::jsonb, 'editor')), 'A')
            || reference_part(coalesce(r.title, ''), 'B')
            || reference_part(concat_ws(' ', r.container, r.csl->>'container-title-short'), 'C')
            || reference_part(concat_ws(' ', r.key, r.doi, r.pmid, r.csl->>'keyword', r.csl->>'title-short',
                                        r.csl->>'original-title', r.csl->>'note', r.csl->>'abstract'), 'D') $$
        """
    )
    op.execute(
        """
        CREATE FUNCTION keep_reference_text() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
          IF TG_OP = 'DELETE' THEN
            DELETE FROM reference_text WHERE reference_id = old.id;
            RETURN old;
          END IF;
          INSERT INTO reference_text VALUES (new.id, reference_words(new))
            ON CONFLICT (reference_id) DO UPDATE SET words = excluded.words;
          RETURN new;
        END $$
        """
    )
    op.execute("INSERT INTO reference_text SELECT r.id, reference_words(r) FROM reference r")
    op.execute(
        "CREATE TRIGGER reference_text_kept AFTER INSERT OR DELETE OR UPDATE OF "
        f"{', '.join(COLUMNS)} ON reference FOR EACH ROW EXECUTE FUNCTION keep_reference_text()"
    )


def downgrade() -> None:
    raise NotImplementedError("a catalogue goes back by restoring the copy made before it was migrated")
