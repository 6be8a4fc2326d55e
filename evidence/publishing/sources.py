"""Parts that every document shares: references, cautions, and the line that says what it was made from."""

from collections.abc import Sequence
from dataclasses import dataclass

INVENTED = (
    "Invented data. The studies, people and figures here are made up to show what Steelyard does; "
    "none of it is evidence."
)
NAMED = 8  # invented studies that a notice names; the others are marked where they are told
NO_ADVICE = "Steelyard keeps evidence about training. It gives no medical advice."


def tell_invented(invented: bool, made_up: Sequence[str] = ()) -> str:
    """The notice of invented data; empty where there is none. `made_up`: what is, where other things are not."""
    if not invented:
        return ""
    if not made_up:
        return INVENTED
    more = f" and {len(made_up) - NAMED} more" if len(made_up) > NAMED else ""
    return (
        f"Partly invented data. Made up to show what Steelyard does, and no evidence: "
        f"{'; '.join(made_up[:NAMED])}{more}. They are marked wherever they are told of."
    )


def name_invented(made_up: Sequence[str]) -> str:
    """The same in a line for a terminal."""
    return f"PARTLY INVENTED data: {'; '.join(made_up)}" if made_up else "INVENTED demonstration data"


@dataclass(frozen=True, slots=True)
class Reference:
    """One entry of the list of sources: the text as a citation style set it, and a web address where
    there is one.

    `notice`: what has to be known of the source ("retracted 2024-05-02"), shown in front of the text.
    """

    key: str
    text: str
    url: str = ""
    notice: str = ""


@dataclass(frozen=True, slots=True)
class Made:
    """What a document was made from: the catalogue's state, the day of that state, and the program's version."""

    catalogue_hash: str
    date: str
    version: str = ""

    @property
    def line(self) -> str:
        program = f"Steelyard {self.version}".strip()
        if not self.catalogue_hash:  # only looked at: the state is hashed for what goes out
            return f"{program}; the catalogue as it stands, last changed on {self.date}."
        return f"Made by {program} from catalogue state {self.catalogue_hash} of {self.date}."
