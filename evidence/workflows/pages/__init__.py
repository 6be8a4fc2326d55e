"""What lists and pages need of each thing, read at once."""
