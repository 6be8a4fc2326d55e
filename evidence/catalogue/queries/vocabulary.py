"""What the user added to the vocabulary, and the catalogue's settings."""

from sqlmodel import Session, select

from evidence.catalogue.queries.finding import in_order
from evidence.catalogue.tables import OwnAlias, OwnExercise, Setting


def own_exercises(session: Session) -> list[OwnExercise]:
    """The user's own exercises."""
    return list(session.exec(select(OwnExercise).order_by(in_order(session, OwnExercise.key))))


def own_aliases(session: Session, kind: str | None = None) -> list[OwnAlias]:
    """The user's own names, of "exercise" or "region" or both."""
    statement = select(OwnAlias) if kind is None else select(OwnAlias).where(OwnAlias.kind == kind)
    order = [in_order(session, column) for column in (OwnAlias.kind, OwnAlias.alias, OwnAlias.target)]
    return list(session.exec(statement.order_by(*order)))


def settings(session: Session) -> dict[str, str]:
    """All settings by key."""
    return {
        row.key: row.value for row in session.exec(select(Setting).order_by(in_order(session, Setting.key)))
    }


def setting(session: Session, key: str) -> str | None:
    """One setting; None where it was never set."""
    return session.exec(select(Setting.value).where(Setting.key == key)).first()
