"""One file per version of the schema."""
