"""The demonstration's season: submissions with planted trouble, made by a program."""
