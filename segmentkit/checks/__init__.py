"""Judges a storyboard and its plan: one function a check, findings with place, numbers and remedy."""
