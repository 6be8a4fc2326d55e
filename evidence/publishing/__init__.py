"""What goes out: figures and documents, made from dataclasses alone."""
