"""Which studies bear on a question, by which rule, and what each brings."""
