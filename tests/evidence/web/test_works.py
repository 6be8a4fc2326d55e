"""Long work shows how far it is, holds up no page, and ends in the usual report, problem, or nothing at all."""

import threading
import time

import pytest

from evidence.catalogue.engine import make_engine
from evidence.errors import BadInput
from evidence.web.works import MOST_KEPT, Busy, Work, Works
from evidence.workflows.gather import intake
from evidence.workflows.gather.gathering import Progress
from evidence.workflows.gather.reference_lists import READING_STATES
from evidence.workflows.gather.searching import find_references
from evidence.workflows.upkeep.reviewing import find_due
from references.reading import Reading

UNIT = ("record", "records")
RECORDS = "\n".join(
    f"@article{{inv{n}, author={{Fable{n}, A}}, title={{[Invented] Lever number {n * 7919}}}, year={{{1900 + n}}}}}"
    for n in range(100)
)
CSV = (
    "Record ID,Title,Subject,Institution,Journal,Publisher,Country,Author,URLS,ArticleType,RetractionDate,"
    "RetractionDOI,RetractionPubMedID,OriginalPaperDate,OriginalPaperDOI,OriginalPaperPubMedID,RetractionNature,"
    "Reason,Paywalled,Notes\n"
    + "".join(
        f"{n},[Invented] T,,,J,,,A,,Article,1/2/2024 0:00,10.5555/n{n},0,1/1/2020 0:00,10.5555/w{n},0,Retraction,,No,\n"
        for n in range(1200)
    )
)


@pytest.fixture
def gate(monkeypatch):
    """A reader that stops after 40 records until the gate is opened."""
    opened, read = threading.Event(), Reading.items

    def items(self):
        for number, item in enumerate(read(self)):
            if number == 40:
                assert opened.wait(30)
            yield item

    monkeypatch.setattr(Reading, "items", items)
    monkeypatch.setattr(intake, "STEP", 20)
    monkeypatch.setattr("references.reading.STEP", 1000)
    yield opened
    opened.set()


@pytest.fixture
def hasty(visitor, site):
    """A visitor of a page that waits for nothing; errors that nobody foresaw fail the test."""
    visitor._transport.raise_server_exceptions = True
    site.works.patience = 0.05
    yield visitor
    site.works.close()


def send(visitor, text=RECORDS, place="/references/add", name="large.bib"):
    return visitor.post(place, files={"file": (name, text.encode(), "text/plain")})


def wait_for(work, records):
    for _ in range(500):
        if work.progress and work.progress.records >= records:
            return
        time.sleep(0.01)
    raise AssertionError(work.progress)


def stored(site, words="lever"):
    return find_references(site.catalogue, words).total


def test_a_small_file_is_answered_at_once_and_with_no_address_of_its_own(visitor):
    visitor.follow_redirects = False
    answer = send(visitor)
    assert answer.status_code == 200 and "100 references read" in answer.text and "Undo" in answer.text


def test_a_slow_file_is_watched_without_scripts_until_its_report(hasty, site, gate):
    answer = send(hasty)
    assert answer.url.path == "/work/1" and answer.status_code == 200
    wait_for(site.works.find("1"), 40)
    page = hasty.get("/work/1").text
    assert '<noscript><meta http-equiv="refresh"' in page and "large.bib is being brought in" in page
    assert '<progress aria-labelledby="how-far" max="100" value="' in page
    assert "40 of about 9" in page or "40 of about 1" in page  # of 100, guessed from the bytes gone through
    assert "large.bib" in hasty.get("/claims").text  # every page says what other changes wait for
    assert stored(site) == 0
    gate.set()
    assert site.works.find("1").finished.wait(30)
    report = hasty.get("/work/1")
    assert str(report.url).endswith("/references/add?work=1")
    assert "100 references read" in report.text and "100 added" in report.text and stored(site) == 100
    assert "large.bib is being" not in report.text
    assert hasty.get("/references/add?work=1").text == report.text  # a reload tells the same


def test_with_scripts_only_the_part_that_changes_is_sent_and_then_the_way_to_the_report(hasty, site, gate):
    send(hasty)
    live = {"HX-Request": "true"}
    part = hasty.get("/work/1", headers=live)
    assert part.text.startswith("<p id") and "<progress" in part.text and "<html" not in part.text
    gate.set()
    assert site.works.find("1").finished.wait(30)
    assert hasty.get("/work/1", headers=live).headers["HX-Redirect"] == "/references/add?work=1"


def test_the_undo_of_a_report_is_that_of_its_own_change(hasty, site, gate):
    send(hasty)
    gate.set()
    assert site.works.find("1").finished.wait(30)
    change = site.newest_change()
    site.works.patience = 60
    send(hasty, "@article{later, title={[Invented] Later}, year={2001}}")
    assert f'action="/undo/{change}"' in hasty.get("/references/add?work=1").text
    hasty.post(f"/undo/{change}", data={"back": "/references"})
    assert stored(site) == 0


def test_a_file_that_fails_late_is_told_as_ever_and_nothing_of_it_is_stored(hasty, site, gate, monkeypatch):
    def fail(*given):
        raise BadInput("the file went bad", where="large.bib", hint="Export it again.")

    monkeypatch.setattr(intake, "keep_unread", fail)
    answer = hasty.post("/references/add", data={"text": RECORDS})
    assert answer.url.path == "/work/1"
    gate.set()
    assert site.works.find("1").finished.wait(30)
    answer = hasty.get("/work/1")
    assert answer.status_code == 422 and "the file went bad" in answer.text and "Traceback" not in answer.text
    assert "Lever number 7919" in answer.text.split("<textarea")[1]  # what was pasted is not lost
    assert stored(site) == 0


def test_an_unreadable_file_that_took_long_is_told_in_words(hasty, site, monkeypatch):
    site.works.patience = 0
    answer = send(hasty, "\x00\x01\x02" * 500)
    site.works.find("1").finished.wait(30)
    answer = hasty.get("/work/1")
    assert answer.status_code == 422 and 'role="alert"' in answer.text


@pytest.mark.parametrize("place", ["/references/add", "/references/notices"])
def test_a_second_file_is_told_to_wait(hasty, site, gate, place):
    send(hasty)
    answer = send(hasty, "@article{b, title={[Invented] B}, year={2001}}", place)
    assert answer.status_code == 422 and "large.bib is being brought in just now" in answer.text
    assert 'href="/work/1"' in answer.text and site.works.find("2") is None


def test_another_change_that_cannot_wait_is_told_what_goes_on(hasty, site, gate):
    send(hasty)
    wait_for(site.works.find("1"), 20)
    site.catalogue.writers = make_engine(site.catalogue.location, "write", 0.05)
    answer = hasty.post("/references/plate2017/read", data={"state": next(iter(READING_STATES))})
    assert answer.status_code == 503 and "large.bib is being brought in just now" in answer.text
    assert "another program" not in answer.text


def test_notices_are_watched_too(hasty, site):
    site.works.patience = 0
    answer = send(hasty, CSV, "/references/notices", "notices.csv")
    work = site.works.find("1")
    assert work.finished.wait(30) and work.problem is None
    assert work.progress == Progress(len(CSV), len(CSV), 1200)
    answer = hasty.get("/work/1")
    assert str(answer.url).endswith("/references/notices?work=1") and "1200 notices read" in answer.text


def test_notices_that_fail_end_on_the_usual_problem_page(hasty, site):
    site.works.patience = 0
    send(hasty, "no notices at all", "/references/notices", "x.csv")
    site.works.find("1").finished.wait(30)
    answer = hasty.get("/work/1")
    assert answer.status_code == 422 and "That was not done" in answer.text


def test_closing_in_the_middle_stores_nothing(hasty, site, gate):
    send(hasty)
    wait_for(site.works.find("1"), 40)
    closing = threading.Thread(target=site.works.close)
    closing.start()
    gate.set()
    closing.join(10)
    assert site.works.find("1").finished.is_set() and stored(site) == 0
    with site.catalogue.changing("Ada", "test"):
        pass  # nobody holds the place of the writer


@pytest.mark.parametrize("number", ["1", "0", "99", "x", "-1", "9" * 5000, "%C2%B2", "1%00"])
def test_an_unknown_number_is_told_and_leads_to_the_history(hasty, number):
    answer = hasty.get(f"/work/{number}")
    assert answer.status_code == 404 and 'href="/history"' in answer.text
    assert hasty.get(f"/references/add?work={number}").status_code == 200


def test_a_report_is_not_told_at_the_address_of_another_page(visitor):
    send(visitor)
    assert "100 references" not in visitor.get("/references/notices?work=1").text


def test_nobody_watches_without_the_token_or_from_another_host(stranger, hasty, gate):
    send(hasty)
    assert hasty.get("/work/1", headers={"Host": "evil.example"}).status_code == 421
    assert hasty.post("/work/1").status_code == 405
    foreign = {"Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"}
    assert hasty.post("/work/1", headers=foreign).status_code == 403
    assert "no-store" in hasty.get("/work/1").headers["cache-control"]
    stranger.cookies.clear()
    assert stranger.get("/work/1").status_code == 403


@pytest.mark.parametrize(
    ("progress", "told", "percent"),
    [
        (None, "It is being made ready.", None),
        (Progress(0, 1000, 0), "It is being made ready.", None),
        (Progress(240, 1000, 1200), "1,200 of about 5,000 records, 24 %", 24),
        (Progress(999, 1000, 1), "1 of about 1 record, 99 %", 99),
        (Progress(1000, 1000, 1), "1 record so far; the file is read to its end.", None),
        (Progress(1000, 1000, 5012), "5,012 records so far; the file is read to its end.", None),
    ],
)
def test_how_far_is_told_in_figures(progress, told, percent):
    work = Work(1, "x is read", UNIT, "/", progress=progress)
    assert (work.how_far, work.percent) == (told, percent)


def test_several_files_are_brought_in_together_and_taken_back_together(visitor, site):
    entry = "@article{%s, author={Fable%s, A}, title={[Invented] Lever of kind %s}, year={2001}}"
    sent = [("a.bib", entry % ("a", 1, "one")), ("b.bib", entry % ("b", 2, "two")), ("a.bib", "\x00")]
    answer = visitor.post(
        "/references/add", files=[("file", (name, text, "text/plain")) for name, text in sent]
    )
    assert answer.status_code == 200
    assert "a.bib: 1 reference read" in answer.text and "b.bib: 1 reference read" in answer.text
    assert "3 a.bib: 0 references read" in answer.text and "What needs a look" in answer.text
    assert stored(site) == 2 and answer.text.count('action="/undo/') == 1
    visitor.post(f"/undo/{site.newest_change()}", data={"back": "/references"})
    assert stored(site) == 0


def test_several_files_are_watched_as_one(hasty, site, gate):
    halves = RECORDS.splitlines()[:30], RECORDS.splitlines()[30:]
    files = [("file", (f"{n}.bib", "\n".join(half), "text/plain")) for n, half in enumerate(halves)]
    answer = hasty.post("/references/add", files=files)
    assert "2 files are being brought in" in answer.text
    wait_for(site.works.find("1"), 70)  # 30, and 40 of the second
    page = hasty.get("/work/1").text
    assert "70 of about" in page and 50 < site.works.find("1").percent < 95
    gate.set()
    assert site.works.find("1").finished.wait(30)
    assert hasty.get("/work/1").text.count("references read") == 2 and stored(site) == 100


def test_only_the_last_works_are_kept_and_one_runs_at_a_time():
    works, wait = Works(patience=5), threading.Event()
    for _ in range(MOST_KEPT + 2):
        assert works.begin("x", lambda tell: "y", unit=UNIT, place="/").result == "y"
    assert works.find("1") is works.find("2") is None and works.find(str(MOST_KEPT + 2)).result == "y"
    works.patience = 0
    works.begin("x is read", lambda tell: wait.wait(10), unit=UNIT, place="/")
    with pytest.raises(Busy, match="x is read just now"):
        works.begin("z", lambda tell: None, unit=UNIT, place="/")
    wait.set()


def test_what_pages_work_out_pushes_out_no_report_of_what_was_stored():
    works = Works(patience=5)
    report = works.begin("x", lambda tell: "stored", unit=UNIT, place="/")
    for asked in range(1, MOST_KEPT + 3):
        assert works.work_out(asked, "x", lambda: "shown", "/").result == "shown"
    assert works.find(str(report.number)) is report
    assert works.find("2") is works.find("3") is None and works.find("4") is not None


def test_two_pages_that_ask_the_same_share_it_and_each_is_led_back_to():
    works, wait, begun = Works(patience=0), threading.Event(), []

    def make():
        begun.append(1)
        assert wait.wait(10)
        return "due"

    first, second = (works.work_out("due", "x", make, place) for place in ("/", "/review"))
    assert (first.place, second.place) == ("/", "/review")
    assert works.work_out("due", "x", make, "/review") is second
    wait.set()
    assert first.finished.wait(10) and second.finished.wait(10)
    assert (first.result, second.result, begun) == ("due", "due", [1])


def test_what_a_page_shows_is_waited_for_a_little_then_watched_and_shown_when_it_is_there(
    visitor, site, monkeypatch
):
    opened, begun = threading.Event(), []
    found = find_due(site.catalogue, coming=20)

    def slowly(catalogue, coming):
        begun.append(coming)
        assert opened.wait(30)
        return found

    monkeypatch.setattr("evidence.web.pages.upkeep.find_due", slowly)
    site.works.patience = 0.01
    first = visitor.get("/review", follow_redirects=False)
    part = visitor.get("/review", headers={"HX-Request": "true"}, follow_redirects=False)
    # A part of a page is not filled with a page that goes no further.
    assert part.headers["hx-redirect"] == first.headers["location"]
    again = visitor.get("/review", follow_redirects=False)
    assert first.status_code == 303
    assert first.headers["location"] == again.headers["location"]  # it is worked out once
    watched = visitor.get(first.headers["location"])
    assert "What is due is being looked for" in watched.text
    assert "other changes wait" not in watched.text
    assert site.works.running() is None  # nothing is stored, so nothing else has to wait
    opened.set()
    end = time.monotonic() + 30
    while visitor.get(first.headers["location"], follow_redirects=False).status_code != 303:
        assert time.monotonic() < end
        time.sleep(0.02)
    shown = visitor.get(first.headers["location"])
    assert shown.url.path == "/review"
    assert shown.status_code == 200
    assert begun == [20]


def test_what_cannot_be_worked_out_is_told_and_may_be_tried_again(visitor, site, monkeypatch):
    calls = []

    def fail(catalogue, coming):
        calls.append(1)
        raise BadInput("nothing is due on this day")

    monkeypatch.setattr("evidence.web.pages.upkeep.find_due", fail)
    for tries in (1, 2):
        answer = visitor.get("/review")
        assert answer.status_code == 422
        assert "nothing is due on this day" in answer.text
        assert len(calls) == tries


def test_a_look_through_the_catalogue_is_never_an_old_one(visitor, monkeypatch):
    calls = []
    monkeypatch.setattr("evidence.web.pages.keeping.check_catalogue", lambda *_, **__: calls.append(1) or ())
    assert visitor.get("/catalogue/check").status_code == visitor.get("/catalogue/check").status_code == 200
    assert len(calls) == 2
