"""What the first page would have to wait for, loaded while the visitor still looks at the start page.

Half of the first weighing of a claim was the import of the numerical libraries (0.9 of 1.8 s, measured); templates are
compiled at first use.
"""

from importlib import import_module
from threading import Thread

from evidence.web.rendering import environment

HEAVY = (
    "scipy.special",
    "rapidfuzz.process",
    "evidence.workflows.gather.intake",
    "evidence.workflows.weigh.evaluating",
    "evidence.workflows.rank.ranking",
    "evidence.workflows.pages.claim_pages",
)


def load_heavy() -> None:
    """Import the libraries of weighing and ranking, and compile every template."""
    for name in HEAVY:
        import_module(name)
    for name in environment().list_templates():
        environment().get_template(name)


def warm_up() -> Thread:
    """Do it beside the serving; stopping the program does not wait for it."""
    thread = Thread(target=load_heavy, daemon=True, name="warming up")
    thread.start()
    return thread
