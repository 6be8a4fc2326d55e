"""`refs look-up` through the real command: off by default; invented references."""

from collections.abc import Callable
from typing import Any

Run = Callable[..., Any]


def test_nothing_is_sent_unless_it_is_asked_for(steelyard: Run) -> None:
    steelyard("init")
    done = steelyard("refs", "look-up", "doi:10.5555/INV.1", "PMID: 123456")
    assert done.status == 0
    assert "would be asked for at https://doi.org/10.5555/inv.1" in done.text
    assert "PMID cannot be asked for" in done.text
    assert "Nothing was sent. Add --online" in done.text
    assert steelyard("refs", "list").text.startswith("No reference yet")


def test_online_needs_a_contact_address_which_is_remembered(steelyard: Run) -> None:
    steelyard("init")
    done = steelyard("refs", "look-up", "10.5555/inv.1", "--online")
    assert done.status == 2
    assert "--contact you@example.org" in done.text
    assert steelyard("refs", "look-up", "--contact", "nobody").status == 2
    assert "ada@example.org" in steelyard("refs", "look-up", "--contact", "ada@example.org").text
    assert steelyard("refs", "look-up").status == 2
