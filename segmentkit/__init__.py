"""segmentkit: a storyboard in, a finished teaching segment out.

Where to look: `pipeline` reads as the whole job; `storyboard` turns text into a checked model, `plan` decides when
everything happens in whole frames, `checks` judges the plan, `render` draws and mixes it, `media` is the door to every
file, `deliver` writes what is handed over, `cli` talks to a person.
"""

__version__ = "0.2.1"
