"""Sources that a draft cites by DOI, under the keys that the catalogue has for them."""

from dataclasses import replace

from evidence.reading.drafts import Citation, Draft, Sentence
from evidence.workflows.drafts.knowledge import Knowledge
from references.identifiers import normalise_doi


def with_keys(draft: Draft, knowledge: Knowledge) -> Draft:
    """A draft whose sentences cite by keys wherever the DOI that stands there is known; others keep the DOI."""
    return replace(draft, sentences=tuple(_name_sources(s, knowledge) for s in draft.sentences))


def _name_sources(sentence: Sentence, knowledge: Knowledge) -> Sentence:
    if all(k.key in knowledge.references for c in sentence.citations for k in c.keys):
        return sentence
    return replace(sentence, citations=tuple(_name_source(c, knowledge) for c in sentence.citations))


def _name_source(citation: Citation, knowledge: Knowledge) -> Citation:
    keys = tuple(replace(k, key=key_of(k.key, knowledge)) for k in citation.keys)
    return replace(citation, keys=keys)


def key_of(typed: str, knowledge: Knowledge) -> str:
    """The key of a source that was typed as a key or as a DOI in any form; what is not known stays as typed."""
    if typed in knowledge.references:
        return typed
    doi = normalise_doi(typed)
    return knowledge.by_doi.get(doi, typed) if doi else typed
