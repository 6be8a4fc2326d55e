"""The whole job once, on invented data: gather, extract, compute, claim, weigh, annotate, tell."""

from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.errors import BadInput

PERSON = "Harbour Street Strength Club (invented)"
CATALOGUE = "demonstration.sqlite"
MARKER = "INVENTED-DATA.txt"
MARKER_TEXT = (
    "Everything in this folder was made by `steelyard demo` from invented data: no such studies, people or figures\n"
    "exist. Nothing here may be quoted. The folder may be deleted at any time.\n"
)


@dataclass(frozen=True, slots=True)
class Demonstration:
    """What the demonstration left behind."""

    folder: Path
    catalogue: Path
    pages: tuple[Path, ...]


def demonstrate(folder: Path, tell: Callable[[str], None], program: str = "steelyard") -> Demonstration:
    """Run the job in `folder`, telling each step; a folder with anything else in it is refused, never emptied."""
    inputs = prepare_folder(folder)
    from evidence.workflows.claims.claim_files import statements_from_file
    from evidence.workflows.claims.claiming import state_claim
    from evidence.workflows.documents.briefing import write_brief
    from evidence.workflows.extract.extracting import load_study
    from evidence.workflows.extract.pasting import TableAnswers, store_table, understand_table
    from evidence.workflows.gather.gathering import gather
    from evidence.workflows.gather.noticing import apply_notices
    from evidence.workflows.opening import create_named, open_named
    from evidence.workflows.programmes.annotating import annotate_programme
    from evidence.workflows.weigh.weighing import weigh_and_keep

    tell("All data of this demonstration are invented. No such studies, people or figures exist.")
    location = folder / CATALOGUE
    create_named(str(location), {})
    catalogue = open_named(str(location), {})

    tell("\n1. Gather: references from a .bib file")
    report = gather(catalogue, inputs / "references.bib", PERSON)
    tell(f"   {len(report.added)} added; {len(report.known)} already here under another key.")
    notices = apply_notices(catalogue, inputs / "notices.csv", PERSON)
    tell(f"   {len(notices.changed)} notice applied: {'; '.join(notices.changed)}.")

    tell("\n2. Extract: study files, and one table pasted out of a paper")
    for path in sorted((inputs / "studies").glob("*.yaml")):
        load_study(catalogue, path, PERSON)
    tell(f"   {len(list((inputs / 'studies').glob('*.yaml')))} studies stored.")
    understood = understand_table(
        catalogue,
        "plate-2017",
        (inputs / "pasted_table.txt").read_bytes(),
        "pasted_table.txt",
        TableAnswers(locator="Table 2", read_from="full text", timepoint="acute"),
    )
    tell(indented(understood.preview))
    tell(f"   {store_table(catalogue, understood, PERSON)}")

    tell("\n3. Claim and weigh: every result that bears on each claim, for and against")
    for statement in statements_from_file(inputs / "claims.yaml"):
        stated = state_claim(catalogue, statement, PERSON)
        weighing = weigh_and_keep(catalogue, stated.key, PERSON)
        tell(
            f"   {stated.statement}\n     verdict: {weighing.verdict.text}; confidence: {weighing.confidence.span}"
        )

    tell("\n4. Tell: a brief and an annotated programme")
    pages = (folder / "brief.html", folder / "programme.html")
    write_brief(catalogue, "seated-curl-growth", pages[0], PERSON)
    annotate_programme(catalogue, inputs / "programme.yaml", pages[1], PERSON)
    for page in pages:
        tell(f"   {page}")
    tell("\n5. Keep true: a study comes out that measures what a claim had only leaned on")
    gather(catalogue, inputs / "later" / "references.bib", PERSON)
    load_study(catalogue, inputs / "later" / "kettle-2025.yaml", PERSON)
    tell(indented(tell_moved(catalogue)))
    tell(f"\nLook around in it: {program} --catalogue {location} serve")
    tell(f"What moved, with correction notes: {program} --catalogue {location} changes --notes")
    later = inputs / "later" / "notices.csv"
    tell(f"A retraction to apply: {program} --catalogue {location} refs notices apply {later}")
    return Demonstration(folder, location, pages)


def tell_moved(catalogue: Catalogue) -> str:
    """The claims that moved, and what was published of them."""
    from evidence.workflows.upkeep.changes import find_changes

    lines: list[str] = []
    for claim in find_changes(catalogue, PERSON).claims:
        lines += [claim.statement, f"  before: {claim.before.verdict_text}; confidence {claim.before.span}"]
        lines += [f"  now: {claim.now.verdict_text}; confidence {claim.now.span}"]
        lines += [f"  {use.kind} {use.name} no longer holds" for use in claim.uses if use.holds is False]
    return "\n".join(lines)


def prepare_folder(folder: Path) -> Path:
    """Make the folder, or clear what an earlier demonstration put there; copy the inputs into it."""
    import shutil

    if folder.exists() and not folder.is_dir():
        raise BadInput(
            "is a file, not a folder.", where=str(folder), hint="Name a new folder: steelyard demo FOLDER"
        )
    if folder.exists() and any(folder.iterdir()):
        if not (folder / MARKER).exists():
            raise BadInput(
                "holds other files, and the demonstration does not touch them.",
                where=str(folder),
                hint="Name a new folder: steelyard demo FOLDER",
            )
        shutil.rmtree(folder / "inputs", ignore_errors=True)
        for old in (*folder.glob(f"{CATALOGUE}*"), *folder.glob("*.html")):
            old.unlink()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / MARKER).write_text(MARKER_TEXT, "utf-8")
    inputs = folder / "inputs"
    with as_file(files("evidence.workflows") / "demo_data") as data:
        shutil.copytree(data, inputs, ignore=shutil.ignore_patterns("__pycache__"))
    return inputs


def indented(text: str) -> str:
    """Text set in from the margin."""
    return "\n".join(f"   {line}".rstrip() for line in text.splitlines())
