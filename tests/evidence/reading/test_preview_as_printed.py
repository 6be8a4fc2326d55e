"""The preview shows a number as the paper prints it, whatever its sign, its decimals and its decimal sign."""

import pytest

from evidence.reading.preview import show_number


@pytest.mark.parametrize(
    ("value", "printed", "shown"),
    [
        (24.0, "24.0 ± 13.1", "24.0"),
        (13.1, "24.0 ± 13.1", "13.1"),
        (45.0, "45,0 (3,20)", "45,0"),
        (3.2, "45,0 (3,20)", "3,20"),
        (-5.0, "\N{MINUS SIGN}5.0 (2.0)", "-5.0"),
        (1363.0, "1,363 ± 20", "1,363"),
        (0.5, ".50", ".50"),
        (7.25, "24.0 ± 13.1", "7.25"),  # worked out: it stands nowhere
        (24.5, "24·5", "24·5"),
    ],
)
def test_a_number_is_shown_as_it_stands_in_the_paper(value, printed, shown):
    assert show_number(value, printed) == shown
