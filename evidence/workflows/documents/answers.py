"""An answer to a comment, from one claim."""

from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.publishing.answers import answer_document, write_answer
from evidence.publishing.formats import Wanted
from evidence.workflows.documents.briefing import make_brief
from evidence.workflows.documents.outputs import Output, hand_out
from evidence.workflows.weigh.weighing import weigh_and_keep

LIMIT = 600  # characters; project


def answer_comment(
    catalogue: Catalogue,
    key: str,
    output: Path | None,
    who: str,
    wanted: Wanted,
    limit: int = LIMIT,
    link: str = "",
) -> Output:
    """Answer with one claim in at most `limit` characters. `link`: put at the end; else the first source's."""
    weighing = weigh_and_keep(catalogue, key, who)
    brief = make_brief(catalogue, weighing)
    address = link or next((r.url for r in brief.references if r.url), "")
    answer = write_answer(brief, limit, address)
    notes = [f"Left out for length: {name}." for name in answer.left_out]
    text = f"{answer.text}\n"
    document = answer_document(brief, answer)
    return hand_out(catalogue, document, output, wanted, "answer", [weighing], who, notes, text=text)
