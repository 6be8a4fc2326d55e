"""Both engines, fresh for every test: SQLite always, PostgreSQL wherever PGHOST names a server."""

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text
from sqlmodel import Session, SQLModel

from evidence.catalogue import Catalogue, Location, create_catalogue, open_catalogue, tables
from evidence.catalogue.engine import make_engine
from evidence.catalogue.location import read_location

ENGINES = ["sqlite", *(["postgresql"] if os.environ.get("PGHOST") else [])]
START = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)


class Clock:
    """A clock that moves on by a minute whenever it is read."""

    def __init__(self) -> None:
        self.at = START

    def __call__(self) -> datetime:
        self.at += timedelta(minutes=1)
        return self.at


class Server:
    """Databases on the PostgreSQL server of this run: made from a template that holds an empty catalogue."""

    def __init__(self) -> None:
        import psycopg

        self.connection = psycopg.connect("", dbname="postgres", autocommit=True)
        self.made: list[str] = []
        self.template = self.make(None)
        create_catalogue(self.location(self.template)).close()

    def make(self, template: str | None) -> str:
        name = f"steelyard_test_{os.getpid()}_{len(self.made)}"
        self.connection.execute(
            f"CREATE DATABASE {name} ENCODING 'UTF8' TEMPLATE {template or 'template0'}".encode()
        )
        self.made.append(name)
        return name

    def drop(self, name: str) -> None:
        self.connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)".encode())

    def location(self, name: str) -> Location:
        return read_location(f"postgresql:///{name}")

    def close(self) -> None:
        for name in self.made:
            self.drop(name)
        self.connection.close()


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    server = Server()
    yield server
    server.close()


@pytest.fixture(scope="session")
def empty_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "empty.sqlite"
    create_catalogue(Location(path=path)).close()
    return path


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture(params=ENGINES)
def engine(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def free_place(engine: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Location]:
    """A place where a catalogue can be made."""
    if engine == "sqlite":
        yield Location(path=tmp_path / "new folder" / "catalogue.sqlite")
        return
    server: Server = request.getfixturevalue("server")
    name = server.make(None)
    yield server.location(name)
    server.drop(name)


@pytest.fixture(scope="module")
def databases(request: pytest.FixtureRequest) -> Iterator[tuple[Location, Location]]:
    """Two catalogues on the server for one module of tests: to be emptied, as making one takes long."""
    server: Server = request.getfixturevalue("server")
    names = [server.make(server.template) for _ in range(2)]
    yield server.location(names[0]), server.location(names[1])
    for name in names:
        server.drop(name)


def place_of(engine: str, path: Path, number: int, request: pytest.FixtureRequest) -> Location:
    if engine == "sqlite":
        shutil.copy(request.getfixturevalue("empty_file"), path)
        return Location(path=path)
    location: Location = request.getfixturevalue("databases")[number]
    emptying = make_engine(location, "write")
    with emptying.begin() as connection:
        names = ", ".join(
            f'"{name}"'
            for name in [*SQLModel.metadata.tables, "worked_out", "content_digest", "content_digest_until"]
        )
        connection.execute(text(f"TRUNCATE {names} RESTART IDENTITY CASCADE"))
    emptying.dispose()
    return location


@pytest.fixture
def place(engine: str, tmp_path: Path, request: pytest.FixtureRequest) -> Location:
    """A place that holds an empty catalogue."""
    return place_of(engine, tmp_path / "catalogue.sqlite", 0, request)


@pytest.fixture
def other_place(engine: str, tmp_path: Path, request: pytest.FixtureRequest) -> Location:
    """Another one."""
    return place_of(engine, tmp_path / "other.sqlite", 1, request)


@pytest.fixture
def own_place(free_place: Location) -> Location:
    """A place that holds an empty catalogue, and whose tables may be changed."""
    create_catalogue(free_place).close()
    return free_place


@pytest.fixture
def catalogue(place: Location, clock: Clock) -> Iterator[Catalogue]:
    with open_catalogue(place, now=clock, busy_seconds=5) as catalogue:
        yield catalogue


def make_study(key: str = "nord-2020", **values: Any) -> tables.Study:
    return tables.Study(
        **{
            "key": key,
            "title": "[Invented] Hip thrust and squat in lifters",
            "design": "crossover",
            "pairing": "within",
            "added_at": START,
            "invented": True,
            **values,
        }
    )


def make_reference(key: str = "Nord2020", **values: Any) -> tables.Reference:
    return tables.Reference(**{"key": key, "title": "[Invented] A title", "added_at": START, **values})


def make_claim(key: str = "thrust-over-squat", **values: Any) -> tables.Claim:
    base = {"statement": "More", "construct_id": "activation", "added_at": START, "added_by": "Ada"}
    return tables.Claim(**{"key": key, **base, **values})


def fill_study(session: Session, key: str = "nord-2020", **values: Any) -> tables.Study:
    """A whole invented study: reference, people, two conditions, an outcome, a pasted table, results."""
    study = make_study(key, **values)
    reference = make_reference(
        f"ref:{key}", doi=f"10.5555/{key}", csl={"title": "A title", "issued": {"date-parts": [[2020]]}}
    )
    session.add_all([study, reference])
    session.flush()
    people = tables.People(study_id=study.id, key="lifters", recruited=14, analysed=13, sex="female")
    outcome = tables.Outcome(study_id=study.id, key="glute-emg", construct_id="activation", unit="%MVIC")
    raw = tables.RawTable(study_id=study.id, name="Table 1", text="a\t1\n", digest="d" * 8, added_at=START)
    session.add_all(
        [
            people,
            outcome,
            raw,
            tables.StudyReference(study_id=study.id, reference_id=reference.id),
        ]
    )
    session.flush()
    thrust, squat = (
        tables.Condition(study_id=study.id, key=name, exercise=name, people_id=people.id, dose={"sets": 1})
        for name in ("hip-thrust", "back-squat")
    )
    session.add_all([thrust, squat])
    session.flush()
    results = [
        tables.Result(
            study_id=study.id,
            key=f"r{number}",
            outcome_id=outcome.id,
            condition_id=condition.id,
            people_id=people.id,
            raw_table_id=raw.id,
            region="gluteus-maximus",
            timepoint="acute",
            statistic="mean",
            value=value,
            spread=0.1 + 0.2,
            spread_kind="SD",
            printed=f"{value} ± 0.3",
            locator="Table 1",
            read_from="full text",
            read_by="Ada",
            read_at=START,
        )
        for number, (condition, value) in enumerate([(thrust, 69.5), (squat, 29.4), (squat, 30.0)])
    ]
    session.add_all(results)
    session.flush()
    session.add(
        tables.Correlation(study_id=study.id, result_a_id=results[0].id, result_b_id=results[1].id, r=0.5)
    )
    session.flush()
    return study


@pytest.fixture(scope="session")
def fillers() -> tuple[Callable[..., tables.Study], Callable[..., tables.Claim]]:
    return fill_study, make_claim


@pytest.fixture
def fill() -> Callable[..., tables.Study]:
    return fill_study


@pytest.fixture
def study() -> Callable[..., tables.Study]:
    return make_study


@pytest.fixture
def reference() -> Callable[..., tables.Reference]:
    return make_reference


@pytest.fixture
def claim() -> Callable[..., tables.Claim]:
    return make_claim
