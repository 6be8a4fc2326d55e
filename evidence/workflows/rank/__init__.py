"""A region's exercises ranked."""
