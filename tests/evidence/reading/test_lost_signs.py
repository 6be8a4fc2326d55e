"""A ± that a copy left out between mean and spread; the tables are invented."""

import pytest

from evidence.reading.pasted import read_table

LEGEND = "Table 3. Normalised EMG (%MVIC). Values are mean ± SD. [Invented]\n"
PAIRS = (
    "Muscle\tHip thrust\tBack squat\tp\n"
    "Upper gluteus maximus\t69.5 32.6\t29.4 16.3*\t0.001\n"
    "Vastus lateralis\t99.5 92.3a\t110.4 48.3\t0.53\n"
)


def test_two_figures_in_one_cell_are_mean_and_spread_where_the_legend_says_so_and_it_is_told() -> None:
    reading = read_table(LEGEND + PAIRS)
    found = [(c.value, c.spread) for c in reading.cells if c.value is not None and c.spread is not None]
    assert found == [(69.5, 32.6), (29.4, 16.3), (99.5, 92.3), (110.4, 48.3)]
    assert any("± was lost" in repair.text for repair in reading.repairs)


@pytest.mark.parametrize(
    "text",
    [
        PAIRS,  # no legend says what the second figure is
        LEGEND + PAIRS.replace("69.5 32.6", "69.5 ± 32.6"),  # the sign arrives elsewhere
        LEGEND
        + "Muscle\tHip thrust\tBack squat\nGluteus maximus\t69.5\t29.4\nVastus lateralis\t99.5\t110.4 48.3\n",
    ],
)
def test_no_sign_is_put_where_it_is_not_plainly_lost(text: str) -> None:
    assert not any("± was lost" in repair.text for repair in read_table(text).repairs)


def test_pairs_that_nothing_explains_are_refused_with_what_to_write() -> None:
    assert "nothing says what the second is" in (read_table(PAIRS).refused or "")
