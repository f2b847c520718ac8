"""Words that want looking at, as data: what is matched, why it matters, and what may be said instead. English only.

The entries are common practice of the teaching trade unless a source is named. A pattern is a regular expression over
running text, matched without regard to case, between word boundaries.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from segmentkit.findings import Severity


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrase:
    """One wording.

    Attributes:
        pattern: what is matched.
        why: the reason, as a clause that can follow a dash.
        rather: what to write instead.
        severity: when it differs from the check's own.
        unless_hedged: passed over in a sentence that says it is an inference ("likely", "looks", "tends to").
    """

    pattern: re.Pattern[str]
    why: str
    rather: str
    severity: Severity | None = None
    unless_hedged: bool = False


def words_pattern(pattern: str) -> re.Pattern[str]:
    """A pattern between word boundaries, without regard to case; texts of a storyboard hold single spaces."""
    return re.compile(rf"(?<!\w)(?:{pattern})(?!\w)", re.IGNORECASE)


def _phrase(
    pattern: str, why: str, rather: str, severity: Severity | None = None, *, unless_hedged: bool = False
) -> Phrase:
    return Phrase(
        pattern=words_pattern(pattern), why=why, rather=rather, severity=severity, unless_hedged=unless_hedged
    )


_NUMBER = (
    r"(?:\d+(?:[.,]\d+)?|(?:(?:twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety)[- ])?"
    r"(?:one|two|three|four|five|six|seven|eight|nine)|ten|eleven|twelve|thirteen|fourteen|fifteen|sixteen|seventeen"
    r"|eighteen|nineteen|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety|a hundred)"
)

FORBIDDEN: tuple[Phrase, ...] = (
    _phrase(r"cures?|cured|heals?", "no drill cures a swing or a body", 'write "may help"'),
    _phrase(r"guarantees?|guaranteed", "nobody can promise a result from one clip", 'write "give it a fair try"'),
    _phrase(
        r"(?:never|won't|will not|can't|cannot) (?:ever )?(?:hurts?|harms?|injures?)",
        "nobody can know that of somebody else's body",
        'write "stop if anything hurts"',
    ),
    _phrase(
        r"prevents? (?:\w+ )?(?:injur(?:y|ies)|pain)|injury[- ]proof|injury[- ]free",
        "reviews find the effect on injury inconclusive (Ehlert and Wilson, J Strength Cond Res 33:3444, 2019)",
        'write "can be kinder to the back"',
    ),
    _phrase(
        r"(?:completely |perfectly |totally )?safe for (?:everyone|everybody|anyone|all)|risk[- ]free",
        "no movement is safe for everyone",
        'write "if in doubt, ask your doctor first"',
    ),
    _phrase(r"no pain,? no gain|push through the pain", "pain is a reason to stop", 'write "stop if anything hurts"'),
    _phrase(
        rf"{_NUMBER}(?: more| extra)? (?:yards?|met(?:re|er)s?)(?: (?:further|farther|longer|more))?"
        r"(?= (?:further|farther|longer|more|extra|off the tee))[^.]*|"
        rf"(?:add|gain|gives? you|get) (?:another |an extra )?{_NUMBER}(?: more| extra)? (?:yards?|met(?:re|er)s?)|"
        rf"{_NUMBER}(?: more| extra)? (?:yards?|met(?:re|er)s?) (?:further|farther|longer)",
        "distance cannot be promised",
        'write "a cleaner strike"',
    ),
    _phrase(
        r"diagnos(?:e|es|ed|is|ing)|prescri(?:be|bes|bed|ption)",
        "only a clinician diagnoses or prescribes",
        'write "what the picture shows"',
    ),
    _phrase(
        r"(?:will|is going to|'ll) (?:hurt|damage|injure|ruin|wreck) (?:your|her|his|their|the) (?:lower )?"
        r"(?:back|knees?|elbows?|wrists?|shoulders?|hips?|spine)",
        "a picture does not show what a body will suffer",
        'write "can put extra load on" and add a caution',
    ),
    _phrase(
        r"weak (?:glutes?|core|hips|legs|back)|(?:glutes?|core|hips|legs|back) (?:is|are) weak",
        "a picture shows a movement, not strength",
        "say what the movement looks like",
    ),
    _phrase(
        r"overweight|too heavy|out of shape|too old|belly",
        "nothing is said about a person's body or age",
        "name the movement",
    ),
    _phrase(
        r"perfect|perfectly", "there is no one right swing", 'write "sound" or "just what we want"', Severity.WARNING
    ),
    _phrase(
        r"chicken[- ]wing(?:s|ed|ing)?",
        "a nickname that mocks belongs to no viewer",
        'write "bent lead arm"',
        Severity.WARNING,
    ),
    _phrase(
        r"ladies'? tees?|senior swing|girl'?s swing",
        "name the distance or the movement, not the person",
        'write "forward tees"',
        Severity.WARNING,
    ),
    _phrase(
        r"swing score|score (?:for|of) (?:the|your|her|his|their) swing",
        "a swing has no score",
        "say what is better and what comes next",
        Severity.WARNING,
    ),
)

UNMEASURABLE: tuple[Phrase, ...] = (
    _phrase(
        rf"(?:{_NUMBER} ?)?(?:degrees?|°)(?! of (?:freedom|difficulty))|{_NUMBER}°",
        "one camera shows angles only in the plane of its picture, and a turned camera changes them",
        'say it in words, such as "a little steeper than the line"',
    ),
    _phrase(
        rf"{_NUMBER} ?(?:%|per ?cent) of (?:the |your |her |his |their )?(?:weight|pressure|body)|"
        rf"(?:weight|pressure)[^.]{{0,30}}{_NUMBER} ?(?:%|per ?cent)",
        "a picture shows no weight",
        'say where the body is, such as "over the lead foot"',
    ),
    _phrase(
        rf"{_NUMBER} ?(?:%|per ?cent) (?:better|improved|improvement|more|faster|closer|of (?:the )?way)|"
        rf"(?:improv(?:es?|ed|ing|ement)|better|progress(?:ed)?|up|down)(?: \w+)? (?:by|of) {_NUMBER} ?(?:%|per ?cent)|"
        r"(?:twice|three times|four times|half) as (?:good|bad|consistent|steady|straight|solid)",
        "two clips are no measurement",
        "say what changed and what did not",
    ),
    _phrase(
        r"the trend|a (?:clear|good|definite|steady|real) trend|"
        r"(?:getting|gets?|growing) (?:better|steadier) (?:every|each) (?:day|week|month|time)",
        "two clips are no trend",
        "say what is different between the two days",
    ),
    _phrase(
        rf"{_NUMBER} ?(?:mph|km/h|kph|miles an hour|miles per hour|kilomet(?:re|er)s an hour|met(?:re|er)s a second)",
        "frames this far apart do not give a speed",
        "leave the speed out",
    ),
    _phrase(
        r"club ?head speed of|ball speed of|launch angle|attack angle|angle of attack|spin rate|x-?factor|"
        r"hip turn of|shoulder turn of|shaft lean of",
        "one camera does not measure it",
        "say what the picture shows",
    ),
    _phrase(
        r"face angle|club ?face (?:is|was|'s) (?:open|closed|shut|square)|the face (?:is|was|'s) "
        r"(?:open|closed|shut|square)",
        "the face cannot be read in a full-swing picture",
        'say it as an inference: "the face is likely open"',
        Severity.WARNING,
        unless_hedged=True,
    ),
    _phrase(
        r"club path|swing path|path is (?:in|out|left|right|across)",
        "a path is not seen from one camera, only guessed from where the club is",
        'say it as an inference: "the path is likely across"',
        Severity.WARNING,
        unless_hedged=True,
    ),
)
"""The measuring side: a camera off square can be tens of degrees off (P. Cheetham, teaching note, 2010)."""

HEDGES = words_pattern(
    r"likely|probably|looks?|looked|seems?|may|might|could|tends?|often|if|suggests?|perhaps|in this picture"
)

SIDES = words_pattern(
    r"(left|right)(?:[- ]hand side)? "
    r"(hands?|arms?|hips?|knees?|foot|feet|heels?|shoulders?|elbows?|wrists?|legs?|thighs?|toes?|ankles?)"
)

HEALTH = words_pattern(
    r"lower back|bad backs?|back pain|sore|soreness|pain(?:s|ful)?|hurts?|injur(?:y|ies|ed|e)|strain(?:s|ed|ing)?|"
    r"joints?|tendons?|arthritis|surgery|doctors?|physios?|physiotherapists?|load on (?:the|your|her|his|their)|"
    r"pregnan(?:t|cy)|slipped disc"
)
CAUTION_STOP = words_pattern(
    r"stop (?:at once |straight away )?(?:if|when|as soon as) [^.!?]{0,40}(?:hurts?|sore|pain|painful|uncomfortable)|"
    r"if (?:it|anything|something|your [\w ]{1,20}|yours|the joint) (?:hurts?|is sore|gets sore|feels sore)[^.!?]{0,60}"
    r"(?:stop|leave|doctor|physio\w*)"
)
CAUTION_DOCTOR = words_pattern(
    r"(?:see|ask|talk to|speak to|check with|consult|advice from)[^.!?]{0,30}(?:doctor|physio(?:therapist)?)"
)
CAUTION_ROUND = words_pattern(
    r"(?:check|make sure)[^.!?]{0,30}(?:nobody|no one|around you|behind you)|look "
    r"(?:behind|around)[^.!?]{0,30}(?:you|first)|"
    r"warm up first|well clear of"
)
DRILL = words_pattern(
    r"drills?|exercise|repetitions|slow ones|(?:once|twice|three times) a day|practise this|practice this"
)
NO_SAFETY = re.compile(r"^\W*(?:none|no|n/?a|nil|nothing|tbd|tbc|todo|x+)?\W*$", re.IGNORECASE)

PRIZE = words_pattern(
    r"prizes?|giveaway|give-away|sponsor(?:s|ed|ship)?|paid partnership|vouchers?|discounts?|promo(?:tion)? codes?|"
    r"courtesy of|kindly (?:provided|supplied)|provided by|(?:you|we) (?:could|can|will) win|win (?:a|one|your own)"
)
PRAISE = words_pattern(
    r"good|well|nice|nicely|lovely|great|to like|I like|strong|solid|balanced?|committed|plenty|tidy|sound|exactly|"
    r"excellent|super|beautiful|smooth|impressive|right where|just what"
)
MORE_FAULTS = words_pattern(
    r"(?:second|third|another|other) (?:fault|mistake|problem|thing (?:is wrong|to fix))|"
    r"(?:two|three|four|several) (?:faults|mistakes|problems|things (?:are|to fix|wrong))"
)
MORE_FEELS = words_pattern(
    r"(?:second|third|another|other) feel(?:ing)?|(?:two|three|several) feels|(?:two|three) feelings"
)
HANDICAP = words_pattern("handicap(?:per)?")
IDENTIFYING = words_pattern(
    r"golf club|country club|golf academy|school|college|plays (?:at|for|out of)|member (?:at|of)|team at"
)
"""What would tell a stranger where to find a child."""

USUAL_ORDER = (
    "address", "takeaway", "lead_arm_parallel_back", "top", "lead_arm_parallel_down", "shaft_parallel_down", "impact",
    "shaft_parallel_through", "lead_arm_parallel_through", "finish",
)  # fmt: skip
"""Positions of a swing in the order in which they happen (GolfDB, McNally et al., 2019, orders its eight so)."""

_STOP = (
    "a an and are as at be been but by can could did do does for from get gets go goes going had has have he her "
    "here his how i i'm if in is it it's its just me my not of off on one or our she should so that the "
    "their them then there these they this to too up us was we well were what when where which while who why will "
    "with would you your"
)
STOPWORDS = frozenset(_STOP.split())
"""Words that carry no content of a question."""


def matches(phrases: Iterable[Phrase], text: str) -> Iterator[tuple[Phrase, str]]:
    """Each phrase that a text contains, once, with the words that matched; hedged sentences are passed over."""
    for phrase in phrases:
        for found in phrase.pattern.finditer(text):
            if phrase.unless_hedged and HEDGES.search(_sentence_around(text, found.start())):
                continue
            yield phrase, " ".join(found[0].split())
            break


def _sentence_around(text: str, at: int) -> str:
    start = max(text.rfind(mark, 0, at) for mark in ".!?") + 1
    ends = [end for mark in ".!?" if (end := text.find(mark, at)) >= 0]
    return text[start : min(ends, default=len(text))]
