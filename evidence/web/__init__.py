"""The web page: the same workflows as the command line, for people who never open a terminal."""
