"""Who was studied, as a page and the terminal tell it: how many were recruited and analysed, and what they were."""

from evidence.catalogue.tables import People
from evidence.vocabulary import Vocabulary

NOT_STATED = "not stated"
BY_SEX = {"female": "women", "male": "men", "both": "men and women"}


def tell_group(group: People, vocabulary: Vocabulary, *, named: bool = False) -> str:
    """A group in words: "recruited 24, analysed 20; recreationally active men and women, mean age 24 years, healthy".

    `named`: by its key where the paper gives it no name, as one of several groups has to be.
    """
    name = group.label or (group.key if named else "")
    count = tell_count(group.recruited, group.analysed)
    age = f"mean age {group.age_mean:g} years" if group.age_mean else ""
    health = "" if group.health == NOT_STATED else group.health
    what = ", ".join(part for part in (who(group, vocabulary), age, health) if part)
    told = "; ".join(part for part in (count, what) if part)
    return ": ".join(part for part in (name, told) if part) or "people, not described"


def tell_count(recruited: int | None, analysed: int | None) -> str:
    """How many took part; both numbers where they are two, for those who were lost are part of the finding."""
    if recruited and analysed and recruited != analysed:
        return f"recruited {recruited}, analysed {analysed}"
    number = analysed or recruited
    return f"{number} {'person' if number == 1 else 'people'}" if number else ""


def who(group: People, vocabulary: Vocabulary) -> str:
    """Training and sex in one phrase: "recreationally active men and women"; empty where neither is stated."""
    known = vocabulary.training_statuses.get(group.training_status)
    status = "" if group.training_status == NOT_STATED else known.name if known else group.training_status
    sex = BY_SEX.get(group.sex, "people" if status else "")
    return " ".join(part for part in (status, sex) if part)
