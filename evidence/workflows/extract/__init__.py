"""Studies into the catalogue: from files, forms, pasted tables and individual data."""
