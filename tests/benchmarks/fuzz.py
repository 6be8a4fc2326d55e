"""Every reader fed with changed files: `python tests/benchmarks/fuzz.py [--seconds 600] [--only NAME ...]`.

Coverage-guided (atheris, from pip), one process for each reader, begun from small whole files. A reader may refuse
what it is given in words; anything else that it raises, or ten seconds spent on one input, is a fault, and the input is
kept. Exit status 1 then.
"""

import argparse
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

TESTS = Path(__file__).parents[1]
LONGEST = 20_000  # bytes of one input
PATIENCE = 10  # seconds for one input


@dataclass(frozen=True)
class Reader:
    """How the bytes of a file are read, and whole files to begin from."""

    read: Callable[[bytes], object]
    seeds: tuple[bytes, ...]


def readers() -> dict[str, Reader]:
    """Every reader of files by name. Imported here, so that atheris sees the modules come."""
    from evidence.reading.claim_sentence import propose_claim
    from evidence.reading.drafts.reading import read_docx, read_draft_text
    from evidence.reading.files import decode_input
    from evidence.reading.programme import read_programme_text
    from evidence.reading.programme_workbook import read_workbook
    from evidence.reading.sheets import read_saved_table
    from evidence.reading.study_file import read_study_text
    from evidence.vocabulary import load_vocabulary
    from evidence.workflows.claims.claim_files import statements_from_file
    from evidence.workflows.judge.answer_files import read_answer_file
    from references.notice_sources import read_retraction_table
    from references.reading import read_bytes

    words = load_vocabulary()
    demo = Path(str(files("evidence.workflows") / "demo_data"))
    writing = TESTS / "evidence" / "workflows" / "drafts" / "data"

    def text_of(data: bytes) -> str:
        return decode_input(data, "fuzzed").text

    def as_file(read: Callable[[Path], object]) -> Callable[[bytes], object]:
        folder = Path(tempfile.mkdtemp(prefix="fuzz"))

        def through_file(data: bytes) -> object:
            (folder / "fuzzed.yaml").write_bytes(data)
            return read(folder / "fuzzed.yaml")

        return through_file

    def references(*seeds: bytes) -> Reader:
        return Reader(lambda data: read_bytes(data, name="fuzzed"), seeds)

    bib = (demo / "references.bib").read_bytes()
    return {
        "bibtex": references(bib[:3000]),
        "ris": references(
            b"TY  - JOUR\nAU  - Maker, No\nTI  - [Invented] Lifts\nPY  - 2020/05//\nDO  - 10.5555/a\nER  - \n"
        ),
        "medline": references(
            b"PMID- 1\nTI  - [Invented] Lifts\n      and more\nFAU - Maker, No\nDP  - 2020 May\nAID - 10.5555/a [doi]\n"
        ),
        "pubmed-xml": references(
            b"<PubmedArticleSet><PubmedArticle><MedlineCitation><PMID>1</PMID><Article><ArticleTitle>Lifts <i>x</i>"
            b"</ArticleTitle></Article></MedlineCitation></PubmedArticle></PubmedArticleSet>"
        ),
        "csl-json": references(
            b'[{"id":"a","type":"article-journal","title":"Lifts","author":[{"family":"Maker"}],'
            b'"issued":{"date-parts":[[2020]]}}]'
        ),
        "identifiers": references(b"10.5555/abc\nPMID: 12345\nhttps://doi.org/10.5555/x\n"),
        "notices": Reader(
            lambda data: list(read_retraction_table(data.decode("utf-8", "replace").splitlines(True))),
            ((demo / "notices.csv").read_bytes(),),
        ),
        "study-file": Reader(
            lambda data: read_study_text(text_of(data), words),
            tuple(path.read_bytes() for path in sorted((demo / "studies").glob("*.yaml"))[:4]),
        ),
        "table": Reader(
            lambda data: read_saved_table(data, "fuzzed.csv"),
            ((demo / "pasted_table.txt").read_bytes(), b"Muscle;A;B\nGlutes;12,3 (4,5);9,8 (3,2)\n"),
        ),
        "claims": Reader(as_file(statements_from_file), ((demo / "claims.yaml").read_bytes(),)),
        "claim-in-words": Reader(
            lambda data: propose_claim(data.decode("utf-8", "replace"), words),
            (b"Hip thrusts grow the glutes 10 % more than squats in trained women over 8 weeks",),
        ),
        "answers": Reader(as_file(read_answer_file), (b"tool: rob2\nanswers: {D1.1: Y}\n",)),
        "programme-yaml": Reader(
            lambda data: read_programme_text(text_of(data), "yaml", words), ((demo / "programme.yaml").read_bytes(),)
        ),
        "programme-lines": Reader(
            lambda data: read_programme_text(text_of(data), "markdown", words),
            ((writing / "programme.md").read_bytes(),),
        ),
        "programme-table": Reader(
            lambda data: read_programme_text(text_of(data), "csv", words),
            (b"exercise,sets,reps,load\nBack squat,3,8-10,70 %\n",),
        ),
        "draft": Reader(
            lambda data: read_draft_text(text_of(data), "markdown"), ((writing / "article.md").read_bytes()[:4000],)
        ),
        "captions": Reader(
            lambda data: read_draft_text(text_of(data), "vtt"), ((writing / "script.vtt").read_bytes()[:2000],)
        ),
        "docx": Reader(lambda data: read_docx(data, "fuzzed.docx"), (word_file(),)),
        "docx-inside": inside(lambda data: read_docx(data, "fuzzed.docx"), word_file(), WORD_TEXT),
        "xlsx-inside": inside(lambda data: read_saved_table(data, "fuzzed.xlsx"), workbook(), SHEET),
        "xlsx-styles": inside(lambda data: read_saved_table(data, "fuzzed.xlsx"), workbook(), STYLES),
        "programme-xlsx": inside(as_file(read_workbook), workbook(), SHEET),
    }  # fmt: skip


WORD_TEXT, SHEET, STYLES = "word/document.xml", "xl/worksheets/sheet1.xml", "xl/styles.xml"


@cache
def word_file() -> bytes:
    """A DOCX file with a heading, a list, a quotation and a table."""
    from docx import Document

    document, out = Document(), BytesIO()
    document.add_heading("Hamstrings", 1)
    document.add_paragraph("Squats build the quadriceps [@anvil2019, p. 3].")
    document.add_paragraph("Nordic curls, 3 sets of 5", style="List Bullet")
    document.add_paragraph("Lifts grow muscle by 10 %.", style="Quote")
    document.add_table(2, 2).cell(0, 0).text = "Curl"
    document.save(out)
    return out.getvalue()


@cache
def workbook() -> bytes:
    """An XLSX file with words, numbers, a date, a formula and a merged head."""
    from datetime import date

    from openpyxl import Workbook

    book, out = Workbook(), BytesIO()
    sheet = book.active
    assert sheet is not None
    for row in (
        ["exercise", "sets", "reps", "load"],
        ["Back squat", 3, "8-10", "70 %"],
        ["Leg curl", date(2020, 5, 3), 12.5, "=1+1"],
    ):
        sheet.append(row)
    sheet.merge_cells("C1:D1")
    book.save(out)
    return out.getvalue()


def part_of(packed: bytes, name: str) -> bytes:
    with ZipFile(BytesIO(packed)) as parts:
        return parts.read(name)


def with_part(packed: bytes, name: str, content: bytes) -> bytes:
    """The packed file with one of its parts replaced."""
    out = BytesIO()
    with ZipFile(BytesIO(packed)) as old, ZipFile(out, "w") as new:
        for part in old.namelist():
            new.writestr(part, content if part == name else old.read(part))
    return out.getvalue()


def inside(read: Callable[[bytes], object], packed: bytes, part: str) -> Reader:
    """A reader of a packed file of which one part is changed: changed bytes of the whole are refused as no ZIP."""
    return Reader(lambda data: read(with_part(packed, part, data)), (part_of(packed, part),))


def fuzz_one(name: str, seconds: int, kept: Path) -> None:
    """Never returns: the fuzzer ends the process."""
    import atheris

    with atheris.instrument_imports(include=["evidence", "references"]):
        reader = readers()[name]
    from evidence.errors import SteelyardError
    from references.errors import ReferencesError

    def one_input(data: bytes) -> None:
        try:
            reader.read(data)
        except (SteelyardError, ReferencesError) as refused:
            str(refused)  # the words must come out as well

    corpus = Path(tempfile.mkdtemp(prefix=f"corpus-{name}-"))
    for number, seed in enumerate(reader.seeds):
        (corpus / str(number)).write_bytes(seed)
    options = [
        f"-max_total_time={seconds}",
        f"-timeout={PATIENCE}",
        f"-max_len={LONGEST}",
        f"-artifact_prefix={kept}/{name}-",
        "-rss_limit_mb=4096",
    ]
    atheris.Setup([sys.argv[0], *options, str(corpus)], one_input)
    atheris.Fuzz()


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seconds", type=int, default=600)
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--kept", type=Path, default=Path(tempfile.gettempdir()) / "fuzz-kept")
    parser.add_argument("--inside", help=argparse.SUPPRESS)
    given = parser.parse_args()
    given.kept.mkdir(parents=True, exist_ok=True)
    if given.inside:
        fuzz_one(given.inside, given.seconds, given.kept)
    failed = False
    print("| reader | seconds | inputs | outcome |\n| --- | --- | --- | --- |", flush=True)
    for name in given.only or readers():
        command = [
            sys.executable,
            __file__,
            "--inside",
            name,
            "--seconds",
            str(given.seconds),
            "--kept",
            str(given.kept),
        ]
        done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
        counts = [line for line in done.stderr.splitlines() if line.startswith("Done ")]
        tried = counts[-1].split()[1] if counts else "?"
        failed |= done.returncode != 0
        print(
            f"| {name} | {given.seconds} | {tried} | {'no fault' if done.returncode == 0 else 'FAULT'} |",
            flush=True,
        )
        if done.returncode:
            print(*done.stderr.splitlines()[-40:], sep="\n", flush=True)
    sys.exit(failed)


if __name__ == "__main__":
    main()
