"""Pairs of references that a person set apart: remembered in the catalogue, so that nobody is asked again.

One setting a pair, so that each decision can be undone by itself: its key is `apart` with the two keys in order.
"""

import json
from collections.abc import Mapping

from evidence.catalogue.queries import by_key, settings
from evidence.catalogue.recording import ChangingSession
from evidence.catalogue.tables import Setting

PREFIX = "apart "
Pair = frozenset[str]


def setting_of(pair: Pair) -> str:
    """The key of the setting for a pair."""
    return PREFIX + json.dumps(sorted(pair), ensure_ascii=False)


def pairs_apart(kept: Mapping[str, str]) -> dict[Pair, str]:
    """Every pair that the settings of a catalogue set apart, with who, when and why."""
    found: dict[Pair, str] = {}
    for key, value in kept.items():
        if key.startswith(PREFIX):
            found[frozenset(json.loads(key.removeprefix(PREFIX)))] = value
    return found


def keep_apart(session: ChangingSession, pair: Pair, said: str) -> bool:
    """Remember that two references are two works; False where that is known already."""
    if pair in pairs_apart(settings(session)):
        return False
    session.add(Setting(key=setting_of(pair), value=said))
    session.flush()
    return True


def take_back(session: ChangingSession, pair: Pair) -> bool:
    """Forget that two references were set apart; False where they were not."""
    if pair not in pairs_apart(settings(session)):
        return False
    session.delete(by_key(session, Setting, setting_of(pair), "setting"))
    session.flush()
    return True


def carry_over(session: ChangingSession, gone: str, kept: str) -> None:
    """After `gone` was merged into `kept`: what was set apart from the one is set apart from the other."""
    for pair, said in pairs_apart(settings(session)).items():
        if gone not in pair:
            continue
        session.delete(by_key(session, Setting, setting_of(pair), "setting"))
        session.flush()
        if kept not in pair:
            keep_apart(session, (pair - {gone}) | {kept}, said)
