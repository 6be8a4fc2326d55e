"""Each page of the web application on a large invented catalogue: median time at the server, warm, in milliseconds; and
of that the time of the processor alone, which other work on the machine does not lengthen much.

Run: python tests/benchmarks/pages.py [FOLDER]. The catalogue (2,000 studies, 10,000 results, 2,000 claims, all
weighed once) is made in FOLDER, or found there. The aim is 100 ms for every page.
"""

import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from starlette.testclient import TestClient
from synthetic import make_catalogue

from evidence.web.application import make_application
from evidence.web.security import make_door
from evidence.web.site import Site
from evidence.workflows.opening import open_named, vocabulary_of
from evidence.workflows.pages.claim_lists import list_claims
from evidence.workflows.pages.study_pages import list_study_page
from evidence.workflows.upkeep.standings import keep_first

AIM = 100.0
ROUNDS = 7


def open_large(folder: Path):
    """The large catalogue, made where it is not there yet; every claim weighed once, so that all have an answer."""
    place = folder / "large.sqlite"
    if place.exists():
        catalogue = open_named(str(place), {})
    else:
        catalogue = make_catalogue(place, studies=2_000, results_per_study=5, claims=2_000)
    new = [line.key for line in list_claims(catalogue) if line.verdict == "not weighed"]
    keep_first(catalogue, "Synthetic (invented)", new, vocabulary_of(catalogue))
    return catalogue


def main(folder: Path) -> int:
    """Time every page; 1 where one is slower than the aim."""
    with open_large(folder) as catalogue:
        claim = list_claims(catalogue)[0].key
        study = list_study_page(catalogue).lines[0].key
        pages = [
            "/", "/claims", "/claims?region=hamstrings&confidence=low", "/claims?page=20", f"/claims/{claim}",
            "/claims/new", f"/claims/{claim}/forest.svg", "/regions", "/regions/hamstrings",
            "/regions/hamstrings/ranking", f"/claims/{claim}/studies.csv", f"/claims/{claim}/edit",
            f"/studies/{study}/bias",
            "/exercises",
            "/exercises/seated_leg_curl", "/studies", "/studies?words=squat&page=3", f"/studies/{study}",
            f"/studies/{study}/edit", f"/studies/{study}/table", "/studies/new", "/references",
            "/references?words=squat", "/references/add", "/references/type",
    "/references/duplicates", "/references/notices", "/references/to-mend", "/programmes",
            "/drafts", "/changes", "/review", "/reading-list",
            "/reading-list/whole", "/find?q=leg+curl", "/history", "/catalogue",
            "/words?words=squat",
        ]  # fmt: skip
        app = make_application(Site(catalogue, "Ada"), make_door(7433, "key"))
        slow = 0
        with TestClient(app, base_url="http://127.0.0.1:7433") as client:
            client.get("/?token=key")
            print(f"{'page':<58}{'first':>8}{'median ms':>10}{'of it CPU':>10}")
            for page in pages:
                times, worked = [], []
                for _ in range(ROUNDS + 1):
                    start, begun = time.perf_counter(), time.process_time()
                    answer = client.get(page)
                    times.append(1000 * (time.perf_counter() - start))
                    worked.append(1000 * (time.process_time() - begun))
                    assert answer.status_code == 200, (page, answer.status_code, answer.text[:300])
                usual, busy = median(times[1:]), median(worked[1:])
                slow += busy > AIM
                print(
                    f"{page:<58}{times[0]:>8.0f}{usual:>10.0f}{busy:>10.0f}{'  over the aim' if busy > AIM else ''}",
                    flush=True,
                )
    return 1 if slow else 0


if __name__ == "__main__":
    if len(sys.argv) > 1:
        sys.exit(main(Path(sys.argv[1])))
    with tempfile.TemporaryDirectory() as made:
        sys.exit(main(Path(made)))
