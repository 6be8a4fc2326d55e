"""What is kept: the only room with SQL."""
