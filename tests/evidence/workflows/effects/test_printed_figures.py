"""How a printed figure is told to people."""

import pytest

from evidence.catalogue.tables import Result
from evidence.workflows.effects.printed import tell_printed


@pytest.mark.parametrize(
    ("pasted", "told"),
    [
        ("86.7 6 27.0", "86.7 ± 27.0"),
        ("29.4 6 16.3*", "29.4 ± 16.3*"),
        ("69.5 \N{REPLACEMENT CHARACTER} 32.6", "69.5 ± 32.6"),
        ("69.5 ± 32.6", "69.5 ± 32.6"),
        ("60.2 (20.1)", "60.2 (20.1)"),
        ("12 - 18", "12 - 18"),
    ],
)
def test_a_sign_that_the_paste_lost_stands_again_between_mean_and_spread(pasted: str, told: str) -> None:
    assert tell_printed(Result(printed=pasted, value=1.0, spread=1.0)) == told


def test_a_figure_without_a_spread_is_told_as_it_stands() -> None:
    assert tell_printed(Result(printed="3 6 4", value=3.0)) == "3 6 4"
