"""The pages, one module for each thing of the catalogue."""
