"""Where an export is written: file names for any key, and folders that hold something already."""

import pytest
from sqlmodel import select

from evidence.catalogue import tables
from evidence.catalogue.exchange import export_catalogue
from evidence.catalogue.exchange.layout import file_name
from evidence.errors import BadInput


def contents(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def export(catalogue, folder):
    with catalogue.reading() as session:
        export_catalogue(session, folder)


@pytest.fixture
def filled(catalogue, fill):
    with catalogue.changing("Ada", "load") as session:
        fill(session)
    return catalogue


@pytest.mark.parametrize(
    "keys",
    [("Lehman", "lehman"), ("a/b", "a\\b"), ("con", "CON."), ("a" * 300, "a" * 299), ("..", "."), ("é", "e")],
)
def test_file_names_are_told_apart_on_every_system(keys):
    names = [file_name(key).lower() for key in keys]
    assert len(set(names)) == 2
    for name in names:
        assert len(name) < 120
        assert name.isascii()
        assert not set(name) & set('/\\:*?"<>|')
        assert not name.startswith((".", "con.", "CON."))


def test_an_export_never_replaces_other_things(filled, tmp_path):
    folder = tmp_path / "out"
    export(filled, folder)
    with pytest.raises(BadInput, match="not empty"):
        export(filled, folder)
    before = contents(folder)
    with filled.changing("Ada", "x") as session:
        session.delete(session.exec(select(tables.Study)).first())
    with filled.reading() as session:
        export_catalogue(session, folder, replace=True)
        assert contents(folder) != before
        (folder / "my notes.txt").write_text("mine")
        with pytest.raises(BadInput, match="my notes"):
            export_catalogue(session, folder, replace=True)
        (tmp_path / "letters").mkdir()
        (tmp_path / "letters" / "a.txt").write_text("mine")
        with pytest.raises(BadInput, match="no earlier export"):
            export_catalogue(session, tmp_path / "letters", replace=True)
        with pytest.raises(BadInput, match="file"):
            export_catalogue(session, tmp_path / "letters" / "a.txt")
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []
