"""Claims weighed again after one study is added, on a synthetic catalogue: `python tests/benchmarks/reweighing.py`.

2,000 invented studies with 10,000 results and 10,000 claims: all of them weighed for the first time and kept, then what
`steelyard changes` does when nothing happened, after one study more, and after a notice. `--claims 1000` for less.
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from synthetic import WHO, add_study, make_catalogue

from evidence.catalogue.queries import reference_by_key
from evidence.workflows.upkeep.changes import Changes, find_changes
from evidence.workflows.upkeep.uses import register_use
from evidence.workflows.weigh.weighing import weigh


def timed(what: str, run: Callable[[], Changes | None]) -> None:
    """Run and tell the processor seconds."""
    start = time.process_time()
    found = run()
    spent = time.process_time() - start
    told = (
        f"; {found.weighed_anew} of {found.known} weighed again, {len(found.claims)} moved" if found else ""
    )
    print(f"{what}: {spent:.2f} s{told}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=2_000)
    parser.add_argument("--claims", type=int, default=10_000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        start = time.process_time()
        catalogue = make_catalogue(Path(folder) / "synthetic.sqlite", asked.studies, 5, asked.claims)
        spent = time.process_time() - start
        print(
            f"made: {asked.studies} studies, {asked.studies * 5} results, {asked.claims} claims: {spent:.1f} s"
        )
        timed("one claim", lambda: weigh(catalogue, "claim-00001") and None)
        timed("all weighed for the first time and kept", lambda: find_changes(catalogue, WHO, keep=True))
        weighing = weigh(catalogue, "claim-00001")
        register_use(catalogue, "brief", "brief.html", WHO, weighings=[weighing], place="brief.html")
        timed("nothing happened", lambda: find_changes(catalogue, WHO))
        add_study(catalogue, asked.studies)
        timed(
            "one study added (two exercises over weeks or five in a session)",
            lambda: find_changes(catalogue, WHO),
        )
        timed("the same, kept", lambda: find_changes(catalogue, WHO, keep=True))
        with catalogue.changing(WHO, "a notice") as session:
            reference_by_key(session, "fictional1").notice = "retracted"
        timed("one reference retracted", lambda: find_changes(catalogue, WHO))
        catalogue.close()


if __name__ == "__main__":
    main()
