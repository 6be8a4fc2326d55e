"""Changes as a page tells them: what was done, in words, with the way to what it was done to."""

import re
from dataclasses import dataclass
from urllib.parse import quote

# How the history names a change -> what a page says of it, and where it leads ({0}: the first name in it).
TOLD: tuple[tuple[str, str, str], ...] = (
    (r"study form (\S+)", "study {0} stored", "/studies/{0}"),
    (r"study load (\S+)", "study file {0} stored", "/studies"),
    (r"study judge (\S+)", "risk of bias of {0} judged", "/studies/{0}/bias"),
    (r"study settle (\S+)", "risk of bias of {0} settled", "/studies/{0}/bias"),
    (r"results paste (\S+) \((.*)\)", "results of {0} stored from {1}", "/studies/{0}"),
    (r"results individuals (\S+) \((.*)\)", "people's own figures of {0} stored from {1}", "/studies/{0}"),
    (r"results verify (\S+) --withdraw", "mark of a second reader taken off results of {0}", "/studies/{0}"),
    (r"results verify (\S+)", "results of {0} held against the paper", "/studies/{0}"),
    (r"study remove (\S+?): (.*)", "study {0} removed: {1}", ""),
    (r"claim state (\S+)", "claim {0} stated", "/claims/{0}"),
    (r"claim edit (\S+)", "claim {0} changed", "/claims/{0}"),
    (r"claim falsifier (\S+)", "what would overturn {0} written down", "/claims/{0}"),
    (r"claim leave-out (\S+) (\S+)", "study {1} left out of claim {0}", "/claims/{0}"),
    (r"claim link (\S+) (\S+)", "source {1} linked to claim {0}", "/claims/{0}"),
    (r"claim unlink (\S+) (\S+)", "source {1} taken from claim {0}", "/claims/{0}"),
    (r"claim rate (\S+) --rule-set (.+)", "rules for claim {0} chosen: {1}", "/claims/{0}"),
    (r"claim rate (\S+) (\S+) --take-back", "rating of {1} of claim {0} taken back", "/claims/{0}"),
    (r"claim rate (\S+) (\S+)", "{1} of claim {0} rated", "/claims/{0}"),
    (r"claim settle (\S+) (\S+)", "{1} of claim {0} settled", "/claims/{0}"),
    (r"claim reviewed (\S+)", "claim {0} looked at again", "/claims/{0}"),
    (r"claim remove (\S+?): (.*)", "claim {0} removed: {1}", ""),
    (r"weigh (\S+)", "claim {0} weighed", "/claims/{0}"),
    (r"refs add (.+)", "references brought in from {0}", "/references"),
    (r"refs typed", "reference typed by hand", "/references"),
    (r"refs look-up --contact", "address for looking up set", ""),
    (r"refs look-up", "references looked up", "/references"),
    (r"refs read (.+) --(\S+)", "{0} marked as read: {1}", "/references"),
    (r"refs merge (\S+) (\S+)", "reference {1} merged into {0}", "/references/{0}"),
    (r"refs apart (\S+) (\S+) --take-back", "references {0} and {1} no longer kept apart", "/references/{0}"),
    (r"refs apart (\S+) (\S+)", "references {0} and {1} kept apart", "/references/{0}"),
    (r"refs mend --settled (\S+)", "entry {0} to be mended settled", "/references/to-mend"),
    (r"refs notices apply (.+)", "notices read from {0}", "/references/notices"),
    (r"draft check (\S+)", "draft {0} checked", "/drafts/{0}"),
    (r"programme add (\S+)", "programme {0} stored", "/programmes/{0}"),
    (r"programme edit (\S+)", "programme {0} changed", "/programmes/{0}"),
    (r"words add-alias (.+)", "name added: {0}", "/words"),
    (r"words add-exercise (\S+)", "exercise {0} added", "/exercises/{0}"),
    (r"import (.+)", "catalogue brought in from {0}", "/catalogue"),
    (r"undo (\d+)", "change {0} undone", "/history"),
    (r"changes seen", "what moved was seen", "/changes"),
    (r"changes kept", "what moved was kept", "/changes"),
    (r"demo", "demonstration stored", ""),
    (r"(brief|article|programme|ranking|handout|source list|answer|draft) (.+)", "{0} went out: {1}", "/published"),
)  # fmt: skip
_PATTERNS = tuple((re.compile(pattern), text, place) for pattern, text, place in TOLD)


@dataclass(frozen=True, slots=True)
class ActionTold:
    """A change in words; `place` is the page of what it was done to, empty where there is none."""

    text: str
    place: str


def tell_action(action: str) -> ActionTold:
    """What a change did, as a page says it; a change of a kind that is not known here is told as it is named."""
    for pattern, text, place in _PATTERNS:
        found = pattern.fullmatch(action)
        if found:
            names = found.groups()
            return ActionTold(text.format(*names), place.format(*(quote(name, safe="") for name in names)))
    return ActionTold(action, "")
