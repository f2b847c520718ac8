"""The command line: the only room that talks to a person."""
