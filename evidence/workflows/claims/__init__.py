"""Claims stated, changed, linked to sources and rated by people."""
