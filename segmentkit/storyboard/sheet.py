"""What a viewer takes home: the words of their sheet. Pictures, drill and caution come from the segment itself."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from segmentkit.storyboard.fields import Name, Node, Sentence, number_within


class Sheet(Node):
    """The take-home sheet of one viewer: their own pictures, what they show, one feel, one drill."""

    person: Name = Field(description="Whose sheet it is; nobody else is named on it.")
    what: Sentence = Field(description="What the pictures show, in a sentence or two.")
    why: Sentence = Field(description="Why it matters to the ball.")
    feel: Sentence = Field(description="The one feel to look for.")
    pictures: tuple[Name, ...] = Field(
        default=(),
        max_length=3,
        description="Beats whose frozen pictures are shown; else two of the viewer and one of the demonstrator.",
    )
    drill: Sentence | None = Field(default=None, description="How the drill goes; its card gives name, count, safety.")
    film: Sentence | None = Field(default=None, description="How to film the follow-up; else the house's own words.")
    again: Annotated[float, *number_within("days", 7, 400, "100 days")] = Field(
        default=100.0, description="Days until the follow-up is filmed."
    )
