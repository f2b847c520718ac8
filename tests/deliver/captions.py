"""Captions for tests: values with defaults, and strategies for hypothesis."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from segmentkit.plan.caption_model import Caption, CaptionPlace
from segmentkit.timebase import Rate, Span

USUAL = CaptionPlace(top=False, edge=95, centre=50, size=68, usual=True)
RATES = tuple(
    Rate(Fraction(text)) for text in ("25", "50", "30000/1001", "60000/1001", "24000/1001", "24", "25/2", "120")
)

# What a person may write, and what has tripped readers: markup, arrows, references, joiners, marks that turn direction.
_LETTERS = "aZ09 &<>;\"'/-–.,!?…éßʼ漢字ひーאבر\u200d\u200f½😀{}[]()|\\#%"
_TRICKY = st.sampled_from(["&", "<b>", "a > b", "-->", "&amp;", "<v Maren>", "</v>", "]]>", "NOTE", "WEBVTT", "1"])
LINE = st.one_of(_TRICKY, st.text(_LETTERS, min_size=1, max_size=24)).map(str.strip).filter(bool)
PLACE = st.one_of(
    st.just(USUAL),
    st.builds(
        CaptionPlace,
        top=st.booleans(),
        edge=st.integers(20, 95),
        centre=st.integers(35, 65),
        size=st.integers(1, 68),
        usual=st.just(False),
    ),
)
SPEAKER = st.one_of(st.just(""), st.sampled_from(["Maren", "Ines & Jonna", "A <b>", "海"]))


@st.composite
def captions(draw: st.DrawFn) -> tuple[Caption, ...]:
    """Captions in order of time, none overlapping."""
    made, frame = [], 0
    for _ in range(draw(st.integers(0, 6))):
        start = frame + draw(st.integers(0, 400))
        frame = start + draw(st.integers(1, 200))
        made.append(
            Caption(
                span=Span(start, frame),
                lines=tuple(draw(st.lists(LINE, min_size=1, max_size=3))),
                speaker=draw(SPEAKER),
                place=draw(PLACE),
            )
        )
    return tuple(made)


def caption(start: int, end: int, *lines: str, speaker: str = "", place: CaptionPlace = USUAL) -> Caption:
    return Caption(span=Span(start, end), lines=lines, speaker=speaker, place=place)
