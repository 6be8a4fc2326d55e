"""What was read is kept until something changes, and no longer."""

from concurrent.futures import ThreadPoolExecutor

from evidence.catalogue.backup import backup, restore
from evidence.catalogue.queries import claim_by_key
from evidence.web.site import Answers
from evidence.workflows.claims.changing import set_falsifier
from evidence.workflows.upkeep.touching import stale_claims


def test_an_answer_is_made_once_for_a_state():
    answers, made = Answers(), []
    for state in (1, 1, 2, 2, 1):
        assert answers.recall(state, "x", lambda: made.append(None) or len(made)) == len(made)
    assert len(made) == 3


def test_of_too_many_answers_those_longest_unused_go():
    answers, made = Answers(most=2), []
    for asked in ("a", "b", "a", "c", "a", "b"):
        answers.recall(1, asked, lambda asked=asked: made.append(asked))
    assert made == ["a", "b", "c", "b"]


def test_an_answer_of_an_older_state_that_comes_late_is_not_kept():
    answers = Answers()

    def slow():
        answers.recall(2, "y", lambda: "meanwhile")
        return "old"

    assert answers.recall(1, "x", slow) == "old"
    assert answers.recall(2, "x", lambda: "new") == "new"


def test_a_problem_is_no_answer():
    answers, tries = Answers(), []

    def fails():
        tries.append(None)
        raise ValueError

    for _ in range(2):
        try:
            answers.recall(1, "x", fails)
        except ValueError:
            continue
    assert len(tries) == 2


def test_many_threads_get_the_answer_of_their_state():
    answers = Answers(most=5)
    with ThreadPoolExecutor(8) as pool:
        got = list(pool.map(lambda n: answers.recall(n % 3, n % 7, lambda: (n % 3, n % 7)), range(2000)))
    assert got == [(n % 3, n % 7) for n in range(2000)]


def test_a_change_by_another_program_is_seen_by_the_next_page(visitor, site):
    place = "/claims/seated-curl-activation"
    assert "A trial of sixty" not in visitor.get(place).text
    set_falsifier(site.catalogue, "seated-curl-activation", "A trial of sixty that finds none", "Kim")
    assert "A trial of sixty" in visitor.get(place).text


def test_a_backup_brought_back_and_changed_as_often_is_another_state(visitor, site, tmp_path):
    one, other = "seated-curl-activation", "calf-soleus-same"

    def stale():
        with site.catalogue.reading() as session:
            keys = {claim_by_key(session, key).id: key for key in (one, other)}
            return {keys[number] for number in stale_claims(session) if number in keys}

    kept = backup(site.catalogue, tmp_path / "kept.sqlite")
    before = stale()
    set_falsifier(site.catalogue, one, "A trial of sixty that finds none", "Kim")
    assert "A trial of sixty" in visitor.get(f"/claims/{one}").text
    assert stale() == before | {one}
    restore(kept, site.catalogue.location)
    set_falsifier(site.catalogue, other, "A trial of ninety that finds none", "Kim")
    assert "A trial of sixty" not in visitor.get(f"/claims/{one}").text
    assert stale() == before | {other}
