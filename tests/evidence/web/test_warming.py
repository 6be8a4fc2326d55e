"""What is heavy is loaded before the first page needs it, and not by the page's own start."""

import subprocess
import sys

CODE = """
import sys
from evidence.web.warming import warm_up
assert "scipy.special" not in sys.modules
warm_up().join()
from evidence.web.rendering import environment
assert "scipy.special" in sys.modules
assert len(environment().cache) == len(environment().list_templates())
"""


def test_the_libraries_and_the_templates_are_loaded_beside_the_serving():
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
