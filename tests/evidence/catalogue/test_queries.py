"""Questions to a catalogue."""

from datetime import timedelta

import pytest
from sqlalchemy import event
from sqlmodel import select

from evidence.catalogue import queries, tables
from evidence.errors import BadInput, NotFound


@pytest.fixture
def filled(catalogue, fill, reference):
    """Five studies and six references."""
    with catalogue.changing("Ada", "x") as session:
        for name in ("delta-2021", "alpha-2019", "Zeta-2018", "épsilon-2020", "beta-2020"):
            fill(session, name)
        session.add(
            reference(
                "Öst2011",
                title="MUSCLE Ärger_100%",
                year=2011,
                notice="retracted",
                pmid="123",
                doi="10.5555/x",
            )
        )
    return catalogue


def test_a_study_is_found_by_key_and_near_keys_are_named(filled):
    with filled.reading() as session:
        assert queries.study_by_key(session, "beta-2020").key == "beta-2020"
        with pytest.raises(NotFound, match=r"no study 'betta-2020'.*beta-2020"):
            queries.study_by_key(session, "betta-2020")
        with pytest.raises(NotFound) as caught:
            queries.study_by_key(session, "qqq")
        assert caught.value.hint is None
        for hostile in ("", "a\x00b", "' OR 1=1 --", "%"):
            with pytest.raises(NotFound):
                queries.study_by_key(session, hostile)


def test_lists_come_in_the_order_of_code_points_on_either_engine(filled):
    with filled.reading() as session:
        keys = [study.key for study in queries.list_studies(session)]
        assert keys == sorted(keys)
        assert keys[0] == "Zeta-2018"
        assert [s.key for s in queries.list_studies(session, {"beta-2020", "none"})] == ["beta-2020"]
        keys = [reference.key for reference in queries.all_references(session)]
        assert keys == sorted(keys)


def test_a_study_comes_with_all_that_belongs_to_it(filled):
    with filled.reading() as session:
        rows = queries.study_rows(session, queries.study_by_key(session, "beta-2020"))
    assert [person.key for person in rows.people] == ["lifters"]
    assert [condition.key for condition in rows.conditions] == ["hip-thrust", "back-squat"]
    assert [outcome.key for outcome in rows.outcomes] == ["glute-emg"]
    assert [result.key for result in rows.results] == ["r0", "r1", "r2"]
    assert [correlation.r for correlation in rows.correlations] == [0.5]
    assert [table.name for table in rows.raw_tables] == ["Table 1"]
    assert [reference.key for reference in rows.references] == ["ref:beta-2020"]
    assert [link.role for link in rows.links] == ["report"]


def test_studies_are_found_by_what_they_measured_and_where(filled, study):
    with filled.changing("Ada", "x") as session:
        session.add(study("growth"))
        session.flush()
        growth = queries.study_by_key(session, "growth")
        session.add(tables.Outcome(study_id=growth.id, key="o", construct_id="hypertrophy"))
    with filled.reading() as session:

        def measuring(*given):
            return [rows.study.key for rows in queries.studies_measuring(session, *given)]

        assert len(measuring(["activation"])) == 5
        assert measuring(["hypertrophy"]) == ["growth"]
        assert len(measuring(["hypertrophy", "activation"])) == 6
        assert measuring(["hypertrophy"], ["gluteus-maximus"]) == []
        assert len(measuring({"activation"}, {"gluteus-maximus", "vastus-lateralis"})) == 5
        assert measuring(["activation"], []) == []
        assert measuring([]) == []


def test_the_number_of_queries_does_not_grow_with_the_studies(filled):
    counted = []
    event.listen(filled.readers, "before_cursor_execute", lambda *given: counted.append(given[2]))
    with filled.reading() as session:
        queries.studies_measuring(session, ["activation"])
        all_of_them = len(counted)
        queries.study_rows(session, queries.study_by_key(session, "beta-2020"))
    assert all_of_them <= 10
    assert len(counted) - all_of_them <= 10


def test_a_study_in_one_line_counts_what_all_its_rows_hold(filled):
    with filled.reading() as session:
        studies = queries.list_studies(session)
        wholes = queries.study_rows_of(session, studies)
        lines = queries.summarise_studies(session)
        some = queries.summarise_studies(session, [studies[1].id])
    assert [line.key for line in lines] == [study.key for study in studies]
    for line, rows in zip(lines, wholes, strict=True):
        assert line.people == sum(p.analysed or p.recruited or 0 for p in rows.people) > 0
        assert line.results == len(rows.results) > 0
        assert line.constructs == tuple(dict.fromkeys(o.construct_id for o in rows.outcomes))
        assert line.references == tuple(
            (link.role, reference.csl) for link, reference in zip(rows.links, rows.references, strict=True)
        )
    assert some == [lines[1]]


def test_references_are_found_by_identifier(filled):
    with filled.reading() as session:
        assert queries.reference_by_identifier(session, "doi", "10.5555/x").key == "Öst2011"
        assert queries.reference_by_identifier(session, "pmid", "123").key == "Öst2011"
        assert queries.reference_by_identifier(session, "doi", "10.5555/none") is None
        with pytest.raises(BadInput, match="isbn"):
            queries.reference_by_identifier(session, "isbn", "1")


@pytest.mark.parametrize(
    ("wanted", "count"),
    [
        ({}, 6),
        ({"text": "muscle"}, 1),
        ({"text": "ärger MUSCLE"}, 1),
        ({"text": "öst"}, 1),
        ({"text": "100%"}, 1),
        ({"text": "1_0"}, 0),
        ({"text": "invented title"}, 5),
        ({"text": "\x00"}, 6),
        ({"year_from": 2011}, 1),
        ({"year_to": 2010}, 0),
        ({"noticed": True}, 1),
        ({"noticed": False}, 5),
        ({"cited_by_study": True}, 5),
        ({"cited_by_study": False, "text": "muscle"}, 1),
        ({"reading_state": "full text"}, 0),
        ({"type": "article-journal"}, 6),
    ],
)
def test_references_are_filtered(filled, wanted, count):
    with filled.reading() as session:
        given = queries.ReferenceFilter(**wanted)
        assert len(queries.list_references(session, given)) == count
        assert queries.count_references(session, given) == count


def test_references_are_found_by_key_by_doi_and_by_the_keys_of_records_joined_into_them(filled, reference):
    joined = {"custom": {"other_keys": ['Grün "2011"', "b"]}}
    with filled.changing("Ada", "x") as session:
        session.add(reference("kept", csl=joined, title="b in a title"))
    with filled.reading() as session:

        def called(key, doi=None):
            return [row.key for row in queries.references_called(session, key, doi)]

        assert called("Öst2011") == called(None, "10.5555/x") == called("none", "10.5555/x") == ["Öst2011"]
        assert called("kept", "10.5555/x") == ["kept", "Öst2011"]
        assert called('Grün "2011"') == called("b") == ["kept"]
        assert called("2011") == called("other_keys") == called("none") == called("a\x00b") == []


def test_references_come_in_pages(filled):
    with filled.reading() as session:
        whole = [r.key for r in queries.list_references(session)]
        pages = [[r.key for r in queries.list_references(session, limit=4, offset=o)] for o in (0, 4, 8)]
    assert pages == [whole[:4], whole[4:], []]


def test_a_reference_knows_its_studies(filled):
    with filled.reading() as session:
        reference = queries.reference_by_key(session, "ref:beta-2020")
        assert [study.key for study in queries.studies_of_reference(session, reference)] == ["beta-2020"]


@pytest.fixture
def weighed(catalogue, claim, study):
    """Two claims; the first was weighed three times, told once, and has an exclusion and two overrides."""
    with catalogue.changing("Ada", "x") as session:
        first = claim("a", exercise="hip-thrust", comparator="back-squat", region="gluteus-maximus")
        session.add_all([first, claim("b", exercise="nordic", construct_id="growth"), study("s")])
        session.flush()
        at = first.added_at
        for number in (2, 3, 1):
            session.add(
                tables.Appraisal(
                    claim_id=first.id,
                    at=at + timedelta(days=number),
                    inputs_hash=str(number),
                    verdict="more",
                    confidence="low",
                    confidence_low="low",
                    confidence_high="low",
                )
            )
            session.flush()
        session.add(tables.Exclusion(claim_id=first.id, study_id=1, reason="r", person="Ada", at=at))
        for chosen in ("low", "moderate"):
            session.add(
                tables.Override(
                    claim_id=first.id,
                    domain="imprecision",
                    proposed="high",
                    chosen=chosen,
                    reason="r",
                    person="Ada",
                    at=at,
                    inputs_hash="h",
                    rule_set="default",
                    rule_version="1",
                )
            )
            session.flush()
        session.add(tables.Use(kind="brief", name="one", claim_id=first.id, catalogue_hash="h", at=at))
    return catalogue


def test_the_latest_appraisal_is_the_latest_in_time(weighed):
    with weighed.reading() as session:
        first, second = queries.list_claims(session)
        assert queries.latest_appraisal(session, first).inputs_hash == "3"
        assert queries.latest_appraisal(session, second) is None
        assert [a.inputs_hash for a in queries.appraisals_of(session, first)] == ["1", "2", "3"]
        assert {n: a.inputs_hash for n, a in queries.latest_appraisals(session).items()} == {first.id: "3"}


def test_a_claim_knows_what_people_decided_and_where_it_was_told(weighed):
    with weighed.reading() as session:
        first = queries.claim_by_key(session, "a")
        assert [e.reason for e in queries.exclusions_of(session, first)] == ["r"]
        assert [o.chosen for o in queries.overrides_of(session, first)] == ["low", "moderate"]
        assert [u.name for u in queries.uses_of(session, first)] == ["one"]
        assert [u.claim_id for u in queries.uses_named(session, "brief", "one")] == [first.id]
        with pytest.raises(NotFound, match="claim"):
            queries.claim_by_key(session, "zzz")


def test_claims_are_found_by_exercise_on_either_side(weighed):
    with weighed.reading() as session:

        def keys(**wanted):
            return [found.key for found in queries.list_claims(session, **wanted)]

        assert keys() == ["a", "b"]
        assert keys(exercises=["back-squat"]) == ["a"]
        assert keys(exercises=["nordic", "hip-thrust"]) == ["a", "b"]
        assert keys(regions=["gluteus-maximus"]) == ["a"]
        assert keys(constructs=["growth"]) == ["b"]
        assert keys(exercises=[]) == []


def test_own_words_and_settings_are_listed(catalogue):
    with catalogue.changing("Ada", "x") as session:
        session.add_all(
            [
                tables.OwnExercise(key="sissy", name="Sissy squat", added_by="Ada"),
                tables.OwnAlias(kind="exercise", alias="HT", target="hip-thrust", added_by="Ada"),
                tables.OwnAlias(kind="region", alias="glutes", target="gluteals", added_by="Ada"),
                tables.Setting(key="author", value="Ada"),
            ]
        )
    with catalogue.reading() as session:
        assert [row.key for row in queries.own_exercises(session)] == ["sissy"]
        assert [row.alias for row in queries.own_aliases(session)] == ["HT", "glutes"]
        assert [row.alias for row in queries.own_aliases(session, "region")] == ["glutes"]
        assert queries.settings(session) == {"author": "Ada"}
        assert (queries.setting(session, "author"), queries.setting(session, "x")) == ("Ada", None)


def test_unread_entries_come_by_file_and_line(catalogue, study):
    with catalogue.changing("Ada", "x") as session:
        for line in (9, None, 2):
            session.add(
                tables.UnreadEntry(
                    source="a.bib",
                    line=line,
                    reason="r",
                    text="t",
                    digest=str(line),
                    added_at=study().added_at,
                )
            )
    with catalogue.reading() as session:
        assert [entry.line for entry in queries.list_unread(session)] == [None, 2, 9]
        assert session.exec(select(tables.UnreadEntry)).first() is not None


def test_a_study_is_found_by_the_digest_of_its_file(catalogue, study):
    with catalogue.changing("Ada", "x") as session:
        session.add(study("a", digest="abc"))
    with catalogue.reading() as session:
        assert queries.study_by_digest(session, "abc").key == "a"
        assert queries.study_by_digest(session, "none") is None
