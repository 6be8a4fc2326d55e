"""The numbers: pure computation on arrays and small frozen dataclasses. No database, no I/O."""
