"""`steelyard --help` loads only what it shows."""

import subprocess
import sys

HEAVY = (
    "numpy",
    "scipy",
    "sqlalchemy",
    "sqlmodel",
    "alembic",
    "rapidfuzz",
    "bibtexparser",
    "yaml",
    "jinja2",
    "openpyxl",
    "jsonschema",
    "rich",
)


def test_help_loads_no_heavy_library() -> None:
    code = (
        "import sys\n"
        "from evidence.cli.main import app\n"
        "from typer.testing import CliRunner\n"
        "before = set(sys.modules)\n"
        "result = CliRunner().invoke(app, ['--help'])\n"
        "assert result.exit_code == 0, result.output\n"
        f"print([m for m in {HEAVY!r} if m in sys.modules])\n"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
