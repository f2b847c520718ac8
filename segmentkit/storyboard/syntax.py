"""What a YAML parser complains about, in words for someone who writes a storyboard and not YAML."""

from __future__ import annotations

from dataclasses import dataclass

from yaml import YAMLError

from segmentkit.storyboard.faults import Fault, Source

_QUOTE_IT = "put the text in quotes, or write it below a `>`"
_LINE_UP = "give keys of one block one indentation"

# What the C and the Python parser say, and what a producer is told. The first row with a phrase in the parser's message
# holds; "here" points at the trouble, "opened" at the start of what the parser was in.
_PHRASES: tuple[tuple[str, str, str], ...] = (
    ("nesting depth", "here", "this is nested far too deep — look for brackets that are never closed"),
    ("quoted scalar found unexpected end", "opened", "the {opening} opened here is never closed — add the closing one"),
    (
        "escape",
        "opened",
        "a backslash in double quotes stands for something else — use single quotes, or write it twice",
    ),
    ("tab character", "here", "a tab stands where the indentation is counted — use spaces"),
    ("cannot start any token", "here", f"a text cannot start with {{character}} — {_QUOTE_IT}"),
    ("could not find expected ':'", "opened", "this line has no ':' after its key — add it, or " + _QUOTE_IT),
    (
        "sequence entries are not allowed",
        "here",
        "a list item cannot start here — put each `- ` on a line of its own, below the key",
    ),
    ("directive", "here", "a line that starts with % is not read — delete it"),
    ("incompatible", "here", "a line that starts with % is not read — delete it"),
    ("document start", "here", "the text ended above, with `...` — a storyboard is one document"),
    ("block scalar", "here", "nothing may follow `>` or `|` on its line — start the text on the next one, indented"),
    ("ing a tag", "opened", "a word that starts with ! is a YAML tag, which is not read — put it in quotes"),
    ("scanning an anchor", "opened", f"a text cannot start with {{opening}} — {_QUOTE_IT}"),
    ("scanning an alias", "opened", f"a text cannot start with {{opening}} — {_QUOTE_IT}"),
)


@dataclass(frozen=True, slots=True)
class _Trouble:
    """Where a parser stopped, `at`, and where the thing it was in starts, `opened`."""

    says: str
    at: int
    opened: int
    source: Source

    @property
    def character(self) -> str:
        return self.source.text[self.at : self.at + 1]

    @property
    def opening(self) -> str:
        return self.source.text[self.opened : self.opened + 1]

    @property
    def before(self) -> str:
        """The line up to where the parser stopped."""
        return self.source.text[self.source.line_start(self.at) : self.at]


def broken_syntax(error: YAMLError, source: Source, bracket: int | None) -> Fault:
    """The fault of a text that is not YAML.

    Args:
        error: as raised by PyYAML's C or Python parser; the two word their messages differently.
        source: the text.
        bracket: index of the innermost bracket or brace that is open, if one is.
    """
    context = str(getattr(error, "context", None) or "")
    problem = str(getattr(error, "problem", None) or error)
    at = _index(getattr(error, "problem_mark", None), source)
    opened = _index(getattr(error, "context_mark", None), source) if context else at
    if "flow node" in context and bracket is not None:
        opened = bracket
    start, message = _words(_Trouble(f"{context} {problem}", at, opened, source))
    return source.fault(start, start + 1, message)


def _index(mark: object, source: Source) -> int:
    index = getattr(mark, "index", None)
    skipped = 1 if source.text.startswith("\ufeff") else 0
    return min(index + skipped, len(source.text)) if isinstance(index, int) else 0


def _words(trouble: _Trouble) -> tuple[int, str]:
    """Where to point, and what to say."""
    says = trouble.says
    if "mapping values are not allowed" in says:
        return trouble.at, _second_colon(trouble)
    if trouble.character == "\t":
        return trouble.at, "a tab stands where the indentation is counted — use spaces"
    for phrase, where, message in _PHRASES:
        if phrase in says:
            spot = trouble.at if where == "here" else trouble.opened
            return spot, message.format(character=trouble.character, opening=trouble.opening)
    return _by_structure(trouble)


def _by_structure(trouble: _Trouble) -> tuple[int, str]:
    if "node content" in trouble.says and trouble.character == ",":
        return trouble.at, "a value is missing before this ','"
    if "parsing a flow" in trouble.says:
        return _unclosed(trouble)
    if "parsing a block" in trouble.says and "node content" not in trouble.says:
        return trouble.at, _out_of_line(trouble)
    if trouble.character and trouble.character in "]},":
        return (
            trouble.at,
            f"a {trouble.character} stands here without its opening bracket — delete it, or put the text in quotes",
        )
    return trouble.at, "this is not YAML here — look at the quotes, brackets and indentation just before"


def _second_colon(trouble: _Trouble) -> str:
    if ": " in trouble.before:
        return f"a second ': ' on one line — {_QUOTE_IT}"
    return f"this key does not line up with the one above, or the line above has no ':' — {_LINE_UP}"


def _unclosed(trouble: _Trouble) -> tuple[int, str]:
    source = trouble.source
    closing = "}" if trouble.opening == "{" else "]"
    same_line = source.line_of(trouble.at) == source.line_of(trouble.opened)
    if same_line and trouble.at < len(source.text.rstrip()):
        return trouble.at, f"a ',' or the closing {closing} is missing before this"
    return (
        trouble.opened,
        f"the {trouble.opening} opened here is not closed — add {closing}, or a ',' where one is missing",
    )


def _out_of_line(trouble: _Trouble) -> str:
    before = trouble.before.rstrip()
    if trouble.character == ":" and not before:
        return "a key is missing before the ':'"
    if before.endswith(("]", "}")):
        opening = "[" if before.endswith("]") else "{"
        return f"words follow the closing bracket; a text cannot start with {opening} — {_QUOTE_IT}"
    if before.endswith(("'", '"')):
        return "words follow the closing quotation mark — put the quotes around the whole text"
    line = trouble.source.place(trouble.opened).line
    return f"this does not line up with the block that starts in line {line} — {_LINE_UP}"
