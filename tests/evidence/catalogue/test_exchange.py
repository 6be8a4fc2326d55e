"""A catalogue written to text files and read back is the same; a spoilt folder is told by file and line."""

import hashlib
import json
import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import select

from evidence.catalogue import Location, create_catalogue, open_catalogue, queries, tables
from evidence.catalogue.exchange import export_catalogue, import_catalogue, reading
from evidence.catalogue.history import list_changes, undo
from evidence.catalogue.recording import add_rows
from evidence.catalogue.state import catalogue_state
from evidence.errors import BadInput, CatalogueDamaged, CatalogueNewer, NotFound


def fill_everything(session, fill, claim, key="nord-2020", text="a text"):
    """At least one row of every table, `text` wherever a text may stand."""
    study = fill(session, key, title=text, note=text, bias={text or "x": [text, 1, 1.0, None, {"a": text}]})
    stated = claim(f"claim-{key}", statement=text, note=text)
    session.add_all(
        [
            stated,
            tables.Setting(key=f"s {key}", value=text),
            tables.OwnExercise(key=f"e {key}", name=text, body={"details": [text]}, added_by=text),
            tables.OwnAlias(kind="region", alias=text, target=key, added_by="Ada"),
            tables.UnreadEntry(
                source=text, line=3, reason=text, text=text, digest=key, added_at=study.added_at
            ),
            tables.Draft(
                key=f"d {key}",
                title=text,
                format="markdown",
                text=text,
                accepted={"a": [text]},
                checked_at=study.added_at,
                added_at=study.added_at,
                added_by="Ada",
            ),
            tables.Programme(
                key=f"p {key}", title=text, format="yaml", text=text, added_at=study.added_at, added_by="Ada"
            ),
        ]
    )
    session.flush()
    at = study.added_at + timedelta(microseconds=1)
    source = session.exec(select(tables.Reference).order_by(tables.Reference.id)).first()
    session.add(
        tables.ClaimLink(
            claim_id=stated.id, reference_id=source.id, stance="against", kind="review", locator="p. 4",
            said=text, n=120, person="Ada", at=at,
        )
    )  # fmt: skip
    for owner in ({"claim_id": stated.id}, {"study_id": study.id}):
        session.add(
            tables.Rating(
                tool="default", domain="imprecision", value=text, reason=text, person="Ada", at=at, **owner
            )
        )
    session.add(tables.Exclusion(claim_id=stated.id, study_id=study.id, reason=text, person=text, at=at))
    session.add(
        tables.Override(
            claim_id=stated.id, domain="imprecision", proposed="low", chosen="high", reason=text,
            person="Ada", at=at, inputs_hash="h", rule_set="default", rule_version="1",
        )
    )  # fmt: skip
    for estimate in (0.1 + 0.2, 1e-300, 12.0):
        appraisal = tables.Appraisal(
            claim_id=stated.id, at=at, inputs_hash="h", verdict="more", confidence="low",
            confidence_low="low", confidence_high="high", estimate=estimate, k=2, body={"z": 1},
        )  # fmt: skip
        session.add(appraisal)
        session.flush()
    session.add(
        tables.Use(
            kind="brief", name=text or "x", claim_id=stated.id, appraisal_id=appraisal.id, told=text,
            catalogue_hash="c", at=at,
        )
    )  # fmt: skip
    for told in (text, ""):
        session.add(
            tables.Use(kind="ranking", name="x", reference_id=source.id, told=told, catalogue_hash="c", at=at)
        )


def contents(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def export(catalogue, folder):
    with catalogue.reading() as session:
        export_catalogue(session, folder)
        return catalogue_state(session)


def fill_catalogue(catalogue, fill, claim):
    with catalogue.changing("Ada", "load") as session:
        fill_everything(session, fill, claim)
    with catalogue.changing("Ada", "load more") as session:
        fill_everything(session, fill, claim, "Über/Maß 2021", "zwei\nZeilen")
    with catalogue.changing("Bo", "remove people") as session:
        session.delete(session.exec(select(tables.People).order_by(tables.People.id.desc())).first())


@pytest.fixture
def filled(catalogue, fill, claim):
    fill_catalogue(catalogue, fill, claim)
    return catalogue


@pytest.fixture(scope="session")
def whole_folder(tmp_path_factory, fillers):
    """An exported catalogue; what may be wrong with the files has nothing to do with the engine."""
    folder = tmp_path_factory.mktemp("whole")
    with create_catalogue(Location(path=folder / "c.sqlite")) as catalogue:
        fill_catalogue(catalogue, *fillers)
        export(catalogue, folder / "out")
    return folder / "out"


@pytest.fixture
def out(whole_folder, tmp_path):
    """A copy of it, to be spoilt."""
    shutil.copytree(whole_folder, tmp_path / "out")
    return tmp_path / "out"


@pytest.fixture
def empty(empty_file, tmp_path):
    """An empty catalogue to import it into."""
    shutil.copy(empty_file, tmp_path / "empty.sqlite")
    with open_catalogue(Location(path=tmp_path / "empty.sqlite")) as catalogue:
        yield catalogue


@pytest.fixture
def other(other_place):
    with open_catalogue(other_place) as catalogue:
        yield catalogue


def test_every_table_goes_out_and_comes_back_byte_for_byte(filled, other, tmp_path):
    state = export(filled, tmp_path / "first")
    with filled.reading() as session:
        for model in (m for m in vars(tables).values() if isinstance(m, type) and hasattr(m, "__table__")):
            assert session.exec(select(model)).first() is not None, f"{model} is not tested"
    intake = import_catalogue(tmp_path / "first", other)
    assert intake.change_sets == 3
    assert intake.rows["result"] == 6
    assert export(other, tmp_path / "second") == state
    assert contents(tmp_path / "second") == contents(tmp_path / "first")


def test_the_history_comes_along_and_can_still_be_undone(filled, other, tmp_path):
    export(filled, tmp_path / "out")
    import_catalogue(tmp_path / "out", other)
    with filled.reading() as ours, other.reading() as theirs:
        assert list_changes(theirs) == list_changes(ours)
    with other.changing("Cy", "another study") as session:  # numbers go on after all that ever were
        session.add(tables.People(study_id=1, key="new"))
    with other.reading() as session:
        assert list_changes(session, 1)[0].number == 4
        assert list_changes(session, 1)[0].changes[0].row_id == 3
    undo(other, 4, "Cy")
    undo(other, 3, "Cy")
    with other.reading() as session:
        assert len(session.exec(select(tables.People)).all()) == 2


TEXT = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=12
) | st.sampled_from(
    [
        "yes",
        "1.0",
        "2020-01-01",
        "a: b",
        "- a",
        "\n",
        "a\n\nb\n",
        "\u2028",
        "\ufeff",
        "\r\n",
        "😀",
        "'; DROP TABLE",
        "#",
    ]
)
KEY = TEXT.filter(lambda key: key.strip() == key and key.isprintable() and key)


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=TEXT, key=KEY, number=st.floats(0, allow_infinity=False))
def test_hostile_texts_keys_and_numbers_come_back(
    text, key, number, fill, claim, empty_file, tmp_path_factory
):
    folder = tmp_path_factory.mktemp("exchange")
    shutil.copy(empty_file, folder / "a.sqlite")
    shutil.copy(empty_file, folder / "b.sqlite")
    with (
        open_catalogue(Location(path=folder / "a.sqlite")) as ours,
        open_catalogue(Location(path=folder / "b.sqlite")) as theirs,
    ):
        with ours.changing("Ada", text.strip() or "x") as session:
            fill_everything(session, fill, claim, key, text)
            queries.study_by_key(session, key).weeks = number
        state = export(ours, folder / "first")
        import_catalogue(folder / "first", theirs)
        assert export(theirs, folder / "second") == state
        assert contents(folder / "second") == contents(folder / "first")
        with theirs.reading() as session:
            found = queries.study_by_key(session, key)
            assert (found.title, found.weeks) == (text, number)


def test_a_history_longer_than_any_other_file_may_be_comes_back(filled, empty, tmp_path, monkeypatch):
    with filled.changing("Ada", "many settings") as session:
        rows = [{"key": f"s{n}", "value": "x"} for n in range(1_200)]  # more than are stored at a time
        add_rows(session, tables.Setting, rows)
    state = export(filled, tmp_path / "out")
    size = (tmp_path / "out" / "history" / "changes.jsonl").stat().st_size
    monkeypatch.setattr(reading, "_LARGEST_FILE", size - 1)
    import_catalogue(tmp_path / "out", empty)
    assert export(empty, tmp_path / "again") == state
    assert contents(tmp_path / "again") == contents(tmp_path / "out")


def test_an_empty_catalogue_goes_out_and_comes_back(catalogue, other, tmp_path):
    export(catalogue, tmp_path / "first")
    assert import_catalogue(tmp_path / "first", other).change_sets == 0
    export(other, tmp_path / "second")
    assert contents(tmp_path / "second") == contents(tmp_path / "first")


def test_nothing_is_imported_into_a_catalogue_that_holds_something(filled, tmp_path):
    export(filled, tmp_path / "out")
    with pytest.raises(BadInput, match="not empty"):
        import_catalogue(tmp_path / "out", filled)


def test_a_damaged_catalogue_is_not_written_out_as_if_it_were_whole(catalogue, fill, tmp_path):
    with catalogue.changing("Ada", "x") as session:
        fill(session, "a")
        fill(session, "b")
        one, *_, last = session.exec(select(tables.Result).order_by(tables.Result.id)).all()
        last.outcome_id = one.outcome_id
    with pytest.raises(CatalogueDamaged, match="outcome that is not of the same study"):
        export(catalogue, tmp_path / "out")
    assert list(tmp_path.glob("*out*")) == []


def edit(folder, name, old, new):
    """Change a file and forget the manifest and the history, as a person does who edits by hand."""
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    (folder / "manifest.yaml").unlink()
    shutil.rmtree(folder / "history")
    return text[: text.index(old)].count("\n") + 1


def test_a_folder_edited_by_hand_is_read_and_recorded(filled, other, tmp_path):
    export(filled, tmp_path / "out")
    edit(tmp_path / "out", "studies/nord-2020.yaml", "title: a text", "title: Another title")
    import_catalogue(tmp_path / "out", other, who="Cy")
    with other.reading() as session:
        assert queries.study_by_key(session, "nord-2020").title == "Another title"
        (entry,) = list_changes(session)
        assert (entry.who, entry.action) == ("Cy", "import out")
    undo(other, entry.number, "Cy")
    with other.reading() as session:
        assert queries.list_studies(session) == []


PART = """correlations:
  - result_a: r0
    result_b: r1
    r: 0.5
    origin: printed
    locator: ""
"""


@pytest.mark.parametrize(
    ("name", "old", "new", "words"),
    [
        ("studies/nord-2020.yaml", "pairing: within", "pairing: both", "none of within"),
        ("studies/nord-2020.yaml", "value: 69.5", "value: heavy", "heavy"),
        ("studies/nord-2020.yaml", "value: 69.5", "value: .inf", "no value"),
        ("studies/nord-2020.yaml", "value: 69.5", "valu: 69.5", "no 'valu'"),
        ("studies/nord-2020.yaml", "outcome: glute-emg", "outcome: quad-emg", "no outcome 'quad-emg'"),
        ("studies/nord-2020.yaml", "result_a: r0", "result_a: r9", "no result 'r9'"),
        ("studies/nord-2020.yaml", "- reference:", "- referenz:", "no 'referenz'"),
        ("studies/nord-2020.yaml", "key: r1", "key: r0", "two of result 'r0'"),
        ("studies/nord-2020.yaml", "recruited: 14", "recruited: 14.5", "whole number"),
        ("studies/nord-2020.yaml", 'added_at: "2026-03-01T08:00:00+00:00"', "added_at: today", "today"),
        ("studies/nord-2020.yaml", 'added_at: "2026-03-01T08:00:00+00:00"', 'added_at: "2026-03-01"', "zone"),
        ("studies/nord-2020.yaml", "design: crossover", "id: 7\ndesign: crossover", "no 'id'"),
        ("studies/nord-2020.yaml", "design: crossover", "design: [crossover]", "no text"),
        ("studies/nord-2020.yaml", PART, "correlations: 7\n", "no list"),
        ("studies/nord-2020.yaml", "people:\n  - key: lifters\n", "people:\n  - lifters\n", "cannot be read"),
        ("studies/nord-2020.yaml", "key: nord-2020", "kay: nord-2020", "no 'kay'"),
        (
            "claims/claim-nord-2020.yaml",
            "- study: nord-2020",
            "- study: south",
            "no study 'south'",
        ),
        ("claims/claim-nord-2020.yaml", "appraisal: 3", "appraisal: 4", "no appraisal 4"),
        ("references/none-known.yaml", "title: ", "titel: ", "no 'titel'"),
        ("settings.yaml", "settings:", "setting:", "no place for 'setting'"),
    ],
)
def test_a_mistake_is_told_with_its_file_and_line(out, empty, name, old, new, words):
    line = edit(out, name, old, new)
    with pytest.raises(BadInput, match=words) as caught:
        import_catalogue(out, empty)
    file, told = caught.value.where.rsplit(":", 1)
    assert file == name
    assert line <= int(told) <= line + 2
    with empty.reading() as session:
        assert queries.list_studies(session) == []
        assert queries.all_references(session) == []
        assert list_changes(session) == ()


def test_a_rule_of_the_database_is_told_with_the_file(filled, other, tmp_path):
    export(filled, tmp_path / "out")
    edit(tmp_path / "out", "studies/nord-2020.yaml", "spread: 0.3", "spread: -0.3")
    with pytest.raises(BadInput, match="spread_not_negative") as caught:
        import_catalogue(tmp_path / "out", other)
    assert caught.value.where.startswith("studies/nord-2020.yaml:")


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def _cut_at_a_line(path: Path) -> None:
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:-1]))


def _latin(path: Path) -> None:
    path.write_bytes(path.read_bytes() + "é".encode("latin-1"))


def _swap_digit(path: Path) -> None:
    path.write_text(path.read_text(encoding="utf-8").replace("1", "2", 1), encoding="utf-8")


SPOILERS = {
    "cut": _cut,
    "cut at a line": _cut_at_a_line,
    "emptied": lambda path: path.write_bytes(b""),
    "gone": Path.unlink,
    "latin-1": _latin,
    "binary": lambda path: path.write_bytes(bytes(range(256))),
    "a digit changed": _swap_digit,
    "added to": lambda path: path.write_bytes(path.read_bytes() + b"\n"),
}


@pytest.mark.parametrize("spoiler", SPOILERS)
def test_a_spoilt_file_is_named_whichever_it_is(whole_folder, empty, tmp_path, spoiler):
    for name in sorted(contents(whole_folder)):
        if (spoiler, name) in (("added to", "manifest.yaml"),):
            continue  # an empty line at its end changes nothing that the manifest says
        folder = tmp_path / f"spoilt {name.replace('/', ' ')}"
        shutil.copytree(whole_folder, folder)
        SPOILERS[spoiler](folder / name)
        # A changed digit of the manifest may be that of the version.
        with pytest.raises((BadInput, CatalogueNewer)) as caught:
            import_catalogue(folder, empty)
        assert name in f"{caught.value.where} {caught.value.message}", name
        with empty.reading() as session:
            assert queries.list_studies(session) == []


@pytest.mark.parametrize("name", ["history/rows.jsonl", "history/changes.jsonl"])
@pytest.mark.parametrize(
    "line", ["{", "[]", "7", '{"a": 1}', "{" * 10_000, '{"table": "x", "row": 0, "of": []}']
)
def test_a_line_that_is_no_history_is_told_with_its_line(out, empty, name, line):
    path = out / name
    old = path.read_bytes()
    lines = old.split(b"\n")
    new = b"\n".join([*lines[:3], line.encode(), *lines[4:]])
    path.write_bytes(new)
    manifest = out / "manifest.yaml"
    digests = [hashlib.sha256(data).hexdigest() for data in (old, new)]
    manifest.write_text(manifest.read_text().replace(*digests).replace(f'"{digests[0]}"', f'"{digests[1]}"'))
    with pytest.raises(BadInput) as caught:
        import_catalogue(out, empty)
    assert caught.value.where == f"{name}:4"


def test_a_folder_of_a_later_version_is_told(out, empty):
    manifest = out / "manifest.yaml"
    manifest.write_text(manifest.read_text().replace("format_version: 1", "format_version: 2"))
    with pytest.raises(CatalogueNewer):
        import_catalogue(out, empty)


def test_folders_that_are_no_export_are_told(empty, tmp_path):
    with pytest.raises(NotFound):
        import_catalogue(tmp_path / "none", empty)
    (tmp_path / "empty").mkdir()
    with pytest.raises(BadInput, match="empty"):
        import_catalogue(tmp_path / "empty", empty)
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "a.txt").write_text("mine")
    with pytest.raises(BadInput, match="no place"):
        import_catalogue(tmp_path / "letters", empty)
    (tmp_path / "file").write_text("x")
    with pytest.raises(NotFound):
        import_catalogue(tmp_path / "file", empty)


def test_the_history_of_an_export_is_plain_json(filled, tmp_path):
    export(filled, tmp_path / "out")
    for name in ("rows", "changes"):
        for line in (tmp_path / "out" / "history" / f"{name}.jsonl").read_text().splitlines():
            assert isinstance(json.loads(line), dict)
