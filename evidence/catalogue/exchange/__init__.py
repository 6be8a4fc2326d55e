"""A whole catalogue as a folder of readable text files, and back: nothing is lost either way.

```
manifest.yaml            format, version of the schema, what each file holds and its SHA-256
settings.yaml  vocabulary.yaml  unread.yaml
references/2004.yaml     by year; none-known.yaml for those without
studies/KEY.yaml         a study with its people, conditions, outcomes, pasted tables, results, correlations
claims/KEY.yaml          a claim with exclusions, overrides, appraisals, uses
history/changes.jsonl    every change set and its rows, before and after
history/rows.jsonl       which row number of the history is which row of the files
```
Rows name each other by key, or by their place in a list. The same catalogue always gives the same bytes.
"""

from evidence.catalogue.exchange.reading import Intake, import_catalogue
from evidence.catalogue.exchange.writing import export_catalogue

__all__ = ["Intake", "export_catalogue", "import_catalogue"]
