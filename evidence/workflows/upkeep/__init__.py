"""What is true over time: what moved, what is due, what went out, what to read next; undo, backup, exchange."""
