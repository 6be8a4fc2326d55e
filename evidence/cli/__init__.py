"""The command line: thin; it calls workflows and shows what they return."""
