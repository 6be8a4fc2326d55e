"""Taking references in, on both engines; invented references."""

from itertools import pairwise
from pathlib import Path

import pytest

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import all_references
from evidence.errors import BadInput
from evidence.workflows.gather.gathering import Progress, gather, gather_folder
from evidence.workflows.gather.merging import set_apart
from evidence.workflows.upkeep.keeping import undo_change

ENTRY = "@article{%s, author={Plate, P}, title={%s}, year=2020, doi={%s}}\n"


def write(path: Path, *entries: tuple[str, str, str]) -> Path:
    path.write_text("".join(ENTRY % entry for entry in entries))
    return path


def stored(catalogue: Catalogue) -> list[str]:
    with catalogue.reading() as session:
        return [row.key for row in all_references(session)]


def test_how_far_an_import_is_only_grows_and_ends_at_all(catalogue: Catalogue, tmp_path: Path) -> None:
    entries = [
        (f"k{n}", f"Word{n} calf{n * 7} raise{n * 13} held{n * 17}", f"10.5555/n.{n}") for n in range(2500)
    ]
    told: list[Progress] = []
    path = write(tmp_path / "many.bib", *entries)
    report = gather(catalogue, path, "Ada", told.append)
    assert len(report.added) == report.lines == 2500
    assert [progress.records for progress in told] == [0, 1000, 2000, 2500, 2500]
    assert told[-1].position == told[-1].size == path.stat().st_size
    assert all(one.position <= other.position for one, other in pairwise(told))
    undo_change(catalogue, None, "Ada")
    assert stored(catalogue) == []


def test_how_far_a_folder_is_counts_over_all_its_files(catalogue: Catalogue, tmp_path: Path) -> None:
    folder = tmp_path / "library"
    folder.mkdir()
    sizes = [
        write(folder / f"{n}.bib", (f"k{n}", f"Word{n} calf{n * 7}", f"10.5555/n.{n}")).stat().st_size
        for n in range(3)
    ]
    (folder / "1a.bib").write_bytes(b"\x00" * 50)  # cannot be read, and counts as gone through
    told: list[Progress] = []
    gather_folder(catalogue, folder, "Ada", told.append)
    assert all(p.position <= q.position and p.records <= q.records for p, q in pairwise(told))
    assert {progress.size for progress in told} == {sum(sizes) + 50}
    assert told[-1] == Progress(sum(sizes) + 50, sum(sizes) + 50, 3)


def test_entries_of_one_work_in_one_file_and_across_files_are_kept_once(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    folder = tmp_path / "library"
    folder.mkdir()
    one, two = ("a", "Calf raises held long", "10.5555/i.1"), ("b", "Calf raises held long", "10.5555/I.1")
    write(folder / "1.bib", one, two)
    write(folder / "2.bib", ("c", "Calf raises held long.", "https://doi.org/10.5555/i.1"))
    first, second = gather_folder(catalogue, folder, "Ada")
    assert first.added == ("a",)
    assert [(m.incoming, m.known) for m in (*first.known, *second.known)] == [("b", "a"), ("c", "a")]
    assert stored(catalogue) == ["a"]
    again = gather_folder(catalogue, folder, "Ada")
    assert [len(report.added) for report in again] == [0, 0]


def test_two_works_under_one_key_are_both_kept(catalogue: Catalogue, tmp_path: Path) -> None:
    gather(catalogue, write(tmp_path / "1.bib", ("a", "Calf raises held long", "10.5555/i.1")), "Ada")
    report = gather(catalogue, write(tmp_path / "2.bib", ("a", "Deep squats in water", "10.5555/i.2")), "Ada")
    assert report.added == ("a-2",)
    assert stored(catalogue) == ["a", "a-2"]


def test_what_was_set_apart_is_never_joined_however_alike_it_comes_in(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    one = ("a", "Calf raises held long", "10.5555/i.1")
    gather(catalogue, write(tmp_path / "1.bib", one, ("x", "Deep squats in water", "10.5555/i.2")), "Ada")
    set_apart(catalogue, "a", "x", "Ada")
    report = gather(
        catalogue, write(tmp_path / "2.bib", ("x", "Calf raises held long", "10.5555/i.1")), "Ada"
    )
    assert report.known == ()
    assert report.likely == ()
    assert report.added == ("x-2",)


def test_a_folder_without_files_is_refused(catalogue: Catalogue, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(BadInput, match="no file"):
        gather_folder(catalogue, tmp_path / "empty", "Ada")
