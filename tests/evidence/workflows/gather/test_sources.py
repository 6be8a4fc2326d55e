"""Lists of sources under documents: what stands in one entry is of one reference; invented references."""

from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.catalogue.queries import all_references
from evidence.workflows.gather.gathering import gather
from evidence.workflows.gather.noticing import apply_notices
from evidence.workflows.gather.sources import format_sources

# The keys sort the other way round than the authors, as keys of one's own making do.
BIB = """
@article{c-first, author={Ash, A}, title={[Invented] Step-up}, year=2020, doi={10.5555/ash}}
@article{b-second, author={Birch, B}, title={[Invented] Lunge}, year=2021, doi={10.5555/birch}}
@article{a-third, author={Cedar, C}, title={[Invented] Squat}, year=2022}
"""
NOTICES = """OriginalPaperDOI,OriginalPaperPubMedID,RetractionNature,RetractionDate,RetractionDOI,Reason
10.5555/birch,0,Retraction,3/1/2026 0:00,10.5555/r,+Invented reason;
"""


def test_address_and_notice_stand_with_the_reference_they_belong_to(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    (tmp_path / "r.bib").write_text(BIB)
    (tmp_path / "n.csv").write_text(NOTICES)
    gather(catalogue, tmp_path / "r.bib", "Ada")
    apply_notices(catalogue, tmp_path / "n.csv", "Ada")
    with catalogue.reading() as session:
        rows = list(all_references(session))
        entries = format_sources([*rows, rows[0]])
    assert [(e.key, e.text.split(" ", 1)[0], e.url, bool(e.notice)) for e in entries] == [
        ("c-first", "Ash", "https://doi.org/10.5555/ash", False),
        ("b-second", "Birch", "https://doi.org/10.5555/birch", True),
        ("a-third", "Cedar", "", False),
    ]
