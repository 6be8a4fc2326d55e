"""Programs killed at random moments: `python tests/benchmarks/kills.py [--rounds 1000] [--seed 1]`.

One process after the other gathers references, loads studies, states claims, or states and undoes them, in one
catalogue, and tells through a pipe what is stored as soon as the workflow has returned. Each is killed (SIGKILL) at a
random moment. After every kill, all that was acknowledged must be there and `check` must find nothing; what was not
acknowledged may be there whole or not at all. Exit status 1 where that fails. Everything stored is invented.
"""

import argparse
import multiprocessing
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from importlib.resources import files
from itertools import combinations, islice, product
from multiprocessing.connection import Connection
from pathlib import Path

from evidence.catalogue import Catalogue, Location, create_catalogue, open_catalogue
from evidence.catalogue.queries import claim_by_key, reference_by_key, study_by_key
from evidence.errors import NotFound
from evidence.workflows.claims.claiming import Statement, state_claim
from evidence.workflows.effects.checking import check_catalogue
from evidence.workflows.extract.extracting import load_study
from evidence.workflows.gather.gathering import gather
from evidence.workflows.upkeep.keeping import undo_change

sys.path.insert(0, str(Path(__file__).parent))
from synthetic import EXERCISES, REGIONS

DEMO = Path(str(files("evidence.workflows") / "demo_data"))
FORK = multiprocessing.get_context("fork")
EACH = 55  # claims that a process states at most, so that no two ask the same
WHO = "Killed (invented)"
LONGEST = 0.8  # seconds that a process is left to work at most
FRESH = 16  # kills after which a new catalogue is begun: a size of a person's first weeks
Work = Callable[[Catalogue, Path, int, Connection], None]


def add_references(catalogue: Catalogue, folder: Path, start: int, told: Connection) -> None:
    """Files of five references each, without end."""
    for number in range(start, sys.maxsize):
        keys = [f"invented{number}x{i}" for i in range(5)]
        path = folder / f"{number}.bib"
        path.write_text(
            "\n".join(
                f"@article{{{key}, title = {{[Invented] Lifting study {number} {i}}}, author = {{Maker, No{number}}}, "
                f"year = {{20{i}0}}, journal = {{Invented Journal}}, doi = {{10.5555/{key}}}}}"
                for i, key in enumerate(keys)
            )
        )
        gather(catalogue, path, WHO)
        told.send(("reference", keys))


def add_studies(catalogue: Catalogue, folder: Path, start: int, told: Connection) -> None:
    """Studies from files, one after the other."""
    text = (DEMO / "studies" / "anvil-2019.yaml").read_text()
    for number in range(start, sys.maxsize):
        key = f"invented-{number}"
        path = folder / f"{number}.yaml"
        path.write_text(text.replace("key: anvil-2019", f"key: {key}"))
        load_study(catalogue, path, WHO)
        told.send(("study", [key]))


def statements(start: int) -> Iterator[Statement]:
    """Claims that ask different questions."""
    asked = product(combinations(EXERCISES, 2), REGIONS)
    for number, ((one, other), region) in enumerate(islice(asked, start, start + EACH), start):
        yield Statement(
            exercise=one,
            comparator=other,
            region=region,
            outcome="growth",
            direction="more",
            key=f"invented-{number}",
        )


def add_claims(catalogue: Catalogue, folder: Path, start: int, told: Connection) -> None:
    for statement in statements(start):
        state_claim(catalogue, statement, WHO)
        told.send(("claim", [statement.key]))


def undo_claims(catalogue: Catalogue, folder: Path, start: int, told: Connection) -> None:
    for statement in statements(start):
        state_claim(catalogue, statement, WHO)
        told.send(("unsure", [statement.key]))  # from here on it may be there or not
        undo_change(catalogue, None, WHO)
        told.send(("undone", [statement.key]))


WORKS: dict[str, Work] = {
    "references gathered": add_references,
    "studies loaded": add_studies,
    "claims stated": add_claims,
    "claims stated and undone": undo_claims,
}
LOOKS = {"reference": reference_by_key, "study": study_by_key, "claim": claim_by_key}


def work_in(place: Location, folder: Path, start: int, work: Work, told: Connection) -> None:
    with open_catalogue(place) as catalogue:
        work(catalogue, folder, start, told)
        time.sleep(LONGEST * 10)  # everything done before the kill: it waits for it


def acknowledged(told: Connection) -> Iterator[tuple[str, list[str]]]:
    """What the killed process had told; a message cut off by the kill was not told."""
    try:
        while told.poll():
            yield told.recv()
    except (EOFError, OSError):
        return


def is_there(catalogue: Catalogue, kind: str, key: str) -> bool:
    with catalogue.reading() as session:
        try:
            return LOOKS[kind](session, key) is not None
        except NotFound:
            return False


def faults_after(place: Location, expected: dict[tuple[str, str], bool]) -> list[str]:
    """What is missing, what came back, and what `check` finds."""
    with open_catalogue(place) as catalogue:
        faults = [
            f"{kind} {key} is {'lost' if there else 'back'}"
            for (kind, key), there in expected.items()
            if is_there(catalogue, kind, key) != there
        ]
        return faults + [
            finding.message for finding in check_catalogue(catalogue) if finding.severity != "note"
        ]


def kill_rounds(rounds: int, seed: int, base: Path) -> tuple[Counter[str], Counter[str], list[str]]:
    """Kills and acknowledged things by kind of work, and every fault."""
    chance = random.Random(seed)
    kills: Counter[str] = Counter()
    told_of: Counter[str] = Counter()
    faults: list[str] = []
    expected: dict[tuple[str, str], bool] = {}
    place = Location(path=base / "none.sqlite")
    for number in range(rounds):
        if number % FRESH == 0:
            folder = base / str(number)
            folder.mkdir()
            place, expected = Location(path=folder / "c.sqlite"), {}
            create_catalogue(place).close()
            with open_catalogue(place) as catalogue:
                gather(catalogue, DEMO / "references.bib", WHO)
            if number:
                shutil.rmtree(base / str(number - FRESH))
        name = list(WORKS)[number % len(WORKS)]
        ours, theirs = FORK.Pipe(duplex=False)
        start = (number % FRESH) * EACH
        process = FORK.Process(target=work_in, args=(place, folder, start, WORKS[name], theirs))
        process.start()
        theirs.close()
        time.sleep(chance.uniform(0.02, LONGEST))
        process.kill()
        process.join()
        if process.exitcode != -signal.SIGKILL:
            faults.append(f"round {number} ({name}): ended by itself with {process.exitcode}")
        kills[name] += 1
        for kind, keys in acknowledged(ours):
            for key in keys:
                told_of[name] += kind != "unsure"
                if kind == "unsure":
                    expected.pop(("claim", key), None)
                else:
                    expected["claim" if kind == "undone" else kind, key] = kind != "undone"
        ours.close()
        faults += [f"round {number} ({name}): {fault}" for fault in faults_after(place, expected)]
    return kills, told_of, faults


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with tempfile.TemporaryDirectory() as base:
        kills, told_of, faults = kill_rounds(given.rounds, given.seed, Path(base))
    print("| killed while | kills | acknowledged before | lost, half stored or unsound |")
    print("| --- | --- | --- | --- |")
    for name in WORKS:
        print(f"| {name} | {kills[name]} | {told_of[name]} | {sum(f'({name})' in f for f in faults)} |")
    for fault in faults[:50]:
        print(fault)
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
