"""Looking up by DOI, against a server on this machine that speaks the protocol; no outside request is made."""

import json
import random
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import unquote

import httpx
import pytest

from references.lookup import (
    ACCEPT,
    LookedUp,
    LookupProblem,
    LookupSettings,
    Resolver,
    open_client,
    plan_lookups,
)

WORK = {
    "DOI": "10.5555/INV.1",
    "type": "article-journal",
    "title": "[Invented] Calf raises",
    "author": [{"family": "Ek", "given": "Ulf"}],
    "issued": {"date-parts": [[2019, 3]]},
}


class Service(ThreadingHTTPServer):
    """Answers from a script: by path a list of (status, headers, body), the last one for ever."""

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Handler)
        self.script: dict[str, list[tuple[int, dict[str, str], bytes]]] = {}
        self.asked: list[tuple[str, dict[str, str]]] = []

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.server_address[1]}/"


class Handler(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        service = self.server
        assert isinstance(service, Service)
        path = unquote(self.path[1:])
        service.asked.append((path, {name.lower(): value for name, value in self.headers.items()}))
        answers = service.script.get(path, [(404, {}, b"")])
        status, headers, body = answers.pop(0) if len(answers) > 1 else answers[0]
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *arguments: object) -> None:
        """Nothing on the screen."""


@pytest.fixture
def service() -> Iterator[Service]:
    server = Service()
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server
    server.shutdown()
    server.server_close()
    thread.join()


class Waiting:
    """Sleeps that only move a clock."""

    def __init__(self) -> None:
        self.now = 0.0
        self.waits: list[float] = []

    def sleep(self, seconds: float) -> None:
        self.waits.append(seconds)
        self.now += seconds


def ask(
    service: Service, *identifiers: str, cache: Path | None = None, **values: float
) -> tuple[list[LookedUp], Waiting]:
    settings = LookupSettings("ada@example.org", cache, service.address, **values)  # type: ignore[arg-type]
    waiting = Waiting()
    with open_client(settings) as client:
        resolver = Resolver(settings, client, waiting.sleep, lambda: waiting.now, random.Random(1))
        return list(resolver.look_up(identifiers)), waiting


def ok(item: object) -> list[tuple[int, dict[str, str], bytes]]:
    return [(200, {"Content-Type": ACCEPT}, json.dumps(item).encode())]


def test_a_doi_in_any_form_gives_its_record_and_says_who_asks(service: Service) -> None:
    service.script["10.5555/inv.1"] = ok(WORK)
    (found,), _ = ask(service, "https://doi.org/10.5555/INV.1")
    assert found.record is not None
    assert (found.record.title, found.record.doi, found.record.year) == (WORK["title"], "10.5555/inv.1", 2019)
    assert found.record.key == "ek2019"
    ((_, headers),) = service.asked
    assert headers["accept"] == ACCEPT
    assert "mailto:ada@example.org" in headers["user-agent"]


def test_a_redirect_is_followed(service: Service) -> None:
    service.script["10.5555/inv.1"] = [(302, {"Location": f"{service.address}agency/one"}, b"")]
    service.script["agency/one"] = ok(WORK)
    (found,), _ = ask(service, "10.5555/inv.1")
    assert found.record is not None


def test_answers_are_kept_and_not_asked_for_again(service: Service, tmp_path: Path) -> None:
    service.script["10.5555/inv.1"] = ok(WORK)
    ask(service, "10.5555/inv.1", cache=tmp_path)
    (again,), _ = ask(service, "10.5555/inv.1", cache=tmp_path)
    assert again.from_cache
    assert again.record is not None
    assert len(service.asked) == 1
    assert [path.suffix for path in tmp_path.iterdir()] == [".json"]


def test_a_busy_service_is_asked_again_after_a_growing_wait(service: Service) -> None:
    service.script["10.5555/inv.1"] = [(503, {}, b""), (429, {"Retry-After": "7"}, b""), *ok(WORK)]
    (found,), waiting = ask(service, "10.5555/inv.1")
    assert found.record is not None
    assert len(service.asked) == 3
    assert waiting.waits[0] >= 0.5
    assert 7 in waiting.waits


def test_it_gives_up_after_some_tries_and_where_the_wait_is_too_long(service: Service) -> None:
    service.script["10.5555/a"] = [(500, {}, b"")]
    service.script["10.5555/b"] = [(429, {"Retry-After": "4000"}, b"")]
    (first, second), _ = ask(service, "10.5555/a", "10.5555/b", tries=3)
    assert first.reason == "the service answered 500, 3 times"
    assert "4000 seconds" in second.reason
    assert [path for path, _ in service.asked] == ["10.5555/a"] * 3 + ["10.5555/b"]


def test_questions_keep_their_distance(service: Service) -> None:
    for number in range(3):
        service.script[f"10.5555/{number}"] = ok({**WORK, "DOI": f"10.5555/{number}"})
    found, waiting = ask(service, *(f"10.5555/{n}" for n in range(3)), pause=2.0)
    assert all(one.record for one in found)
    assert waiting.waits == [2.0, 2.0]


@pytest.mark.parametrize(
    ("answer", "reason"),
    [
        ([(404, {}, b"")], "no such DOI is registered"),
        ([(406, {}, b"")], "gives no CSL-JSON"),
        ([(403, {}, b"")], "answered 403"),
        ([(200, {}, b"<html>")], "no CSL-JSON"),
        ([(200, {}, b"[" * 100_000)], "no CSL-JSON"),
        ([(200, {}, b"[]")], "no record"),
        ([(200, {}, b"{}")], "no"),
        (ok({**WORK, "DOI": "10.5555/other"}), "about 10.5555/other"),
        ([(200, {}, b" " * 3_000_000)], "too large"),
        ([(302, {"Location": "/10.5555/inv.1"}, b"")], "circle"),
    ],
)
def test_what_is_no_record_of_the_work_is_told_and_stops_nothing(
    service: Service, answer: list[tuple[int, dict[str, str], bytes]], reason: str
) -> None:
    service.script["10.5555/inv.1"] = answer
    service.script["10.5555/inv.2"] = ok({**WORK, "DOI": "10.5555/inv.2"})
    (bad, good), _ = ask(service, "10.5555/inv.1", "10.5555/inv.2")
    assert bad.record is None
    assert reason in bad.reason
    assert good.record is not None


def test_a_service_that_is_not_there_is_told(service: Service) -> None:
    settings = LookupSettings("ada@example.org", None, "http://127.0.0.1:9/", tries=2)
    waiting = Waiting()
    with open_client(settings) as client:
        (found,) = Resolver(settings, client, waiting.sleep, lambda: waiting.now).look_up(["10.5555/x"])
    assert "cannot be reached" in found.reason


def test_a_slow_service_is_not_waited_for_for_ever() -> None:
    def never(request: httpx.Request) -> httpx.Response:
        raise httpx.ReadTimeout("late", request=request)

    settings = LookupSettings("ada@example.org", tries=2, seconds=3)
    waiting = Waiting()
    with httpx.Client(transport=httpx.MockTransport(never)) as client:
        (found,) = Resolver(settings, client, waiting.sleep, lambda: waiting.now).look_up(["10.5555/x"])
    assert found.reason == "no answer within 3 seconds, 2 times"


def test_pmids_are_refused_with_what_to_do_and_no_question_is_sent(service: Service) -> None:
    found, _ = ask(service, "PMID: 12345", "PMC6801665", "words")
    assert [one.record for one in found] == [None] * 3
    assert ".nbib" in found[0].reason
    assert service.asked == []


def test_the_plan_names_each_work_once_and_quotes_strange_signs() -> None:
    plan = plan_lookups(["10.5555/A b", "doi:10.5555/a", "10.1002/1521(2000)10:20<1::aid-x>3.0.co;2-k"])
    assert [question.doi for question in plan] == ["10.5555/a", "10.1002/1521(2000)10:20<1::aid-x>3.0.co;2-k"]
    assert " " not in plan[1].address


def test_without_a_contact_address_nothing_is_asked() -> None:
    with pytest.raises(LookupProblem, match="contact"):
        open_client(LookupSettings(""))
