"""What goes out, written and registered."""
