"""Templates explained: for the command line, as data, and as the page kept in `templates/SEGMENTS.md`."""

from __future__ import annotations

from segmentkit.storyboard.blanks import MEANINGS, Blank, BlankKind, TemplateFile
from segmentkit.storyboard.reference import key_table
from segmentkit.storyboard.template import FOLDER, Template, load_template, template_names

PAGE = "SEGMENTS.md"

EXAMPLE = """\
template: 1
about: A greeting for one viewer.
blanks:
  viewer: {kind: person, help: Who is greeted.}
  swing: {kind: clip, person: viewer, positions: [finish], help: Their swing.}
  miss: {kind: choice, of: [slice, hook], help: The usual miss.}
  wish: {kind: words, most_words: 12, needed: no, help: A last word.}
storyboard:
  segmentkit: 1
  segment: {title: Hello, slot: 0:12}
  people: {<viewer.id>: <viewer>}
  clips: {swing: <swing>}
  beats:
    # The comment goes along into the storyboard.
    - beat: hello
      say:
        join:
          - Hello, <viewer.shown>.
          - {choose: miss, slice: We know that slice., hook: We know that hook.}
          - {when: wish is given, join: [<wish>]}
      show:
        - run: {clip: swing, speed: 1}
        - freeze: {clip: swing, at: finish, hold: 1s..20s}
"""


HOW = (
    "`<viewer>` stands for a blank, `<viewer.shown>` for a part of it. Alone it stands for all of it, a person, a "
    "clip, a point, and is left out with its key where the blank stays empty; within words it stands for text. What is "
    "filled in is data: it is never read as YAML, and never looked through for places again.",
    "`when: miss is slice` beside the keys of a mapping keeps it or drops it; so do `is not` and `is given`.",
    "`{choose: miss, slice: …, otherwise: …}` becomes one of its values; `given` stands for any value.",
    "`{join: [...]}` becomes the texts of its list in a row.",
    "A text, a club or a choice has the parts `said` and `start`: as it goes on within a sentence, and as it starts "
    "one. A date has `day`, `full` and `spoken`. A fault has `name`, `what`, `feel`, `view`, `say.1`, `say.2` …, "
    "`drill.name`, `drill.count`, `drill.equipment`, `drill.safety`, `drill.line`, and for the first and second "
    "moment at which it is drawn `first.at`, `first.1`, `first.2`, `second.at` …: the position and the strokes.",
    "Comments above keys and items go along into the storyboard.",
)


def default_text(blank: Blank) -> str:
    """What holds when a blank stays empty: a default, nothing, or that it must be filled in."""
    if blank.must:
        return "needed"
    return "may stay empty" if blank.default is None else " ".join(str(blank.default).split())


def limits_text(blank: Blank) -> str:
    """The limits of a blank, in words; empty where it has none."""
    parts = []
    if blank.of is not None:
        parts.append(f"{', '.join(blank.of)}{', or own words' if blank.own else ''}")
    if blank.most_words is not None:
        parts.append(f"at most {blank.most_words} words")
    if blank.most_letters is not None:
        parts.append(f"at most {blank.most_letters} characters")
    if blank.view:
        parts.append(" or ".join(view.value for view in blank.view))
    if blank.positions:
        parts.append(f"positions {', '.join(blank.positions)}")
    if blank.points:
        parts.append("points " + ", ".join(f"{at}.{name}" for at, names in blank.points.items() for name in names))
    if blank.in_ is not None:
        parts.append(f"of {blank.in_}")
    if blank.person is not None:
        parts.append(f"shows {blank.person}")
    return "; ".join(parts)


def explained(template: Template) -> str:
    """All blanks of a template, for a person."""
    parts = [f"{template.name} {template.length}\n{template.about}"]
    for name, blank in template.blanks.items():
        limits = limits_text(blank)
        lines = [f"{name} ({blank.kind.value}; {default_text(blank)})", f"    {blank.help}"]
        parts.append("\n".join([*lines, f"    {limits}"] if limits else lines))
    return "\n\n".join(parts)


def as_data(template: Template) -> dict[str, object]:
    """A template as plain data."""
    return {
        "about": template.about,
        "length": template.length,
        "blanks": {
            name: {
                "kind": blank.kind.value, "help": blank.help, "needed": blank.must, "default": blank.default,
                "example": blank.example, "of": blank.of, "own": blank.own, "most_words": blank.most_words,
                "most_letters": blank.most_letters, "person": blank.person, "in": blank.in_,
                "view": [view.value for view in blank.view], "positions": list(blank.positions),
                "points": {at: list(names) for at, names in blank.points.items()},
            }
            for name, blank in template.blanks.items()
        },
    }  # fmt: skip


def segments_page() -> str:
    """The page as Markdown: how a template is written, and every shipped one with its blanks."""
    parts = [
        "# Segment templates",
        "A template is a storyboard with named blanks. `segmentkit new TEMPLATE FOLDER` fills one and starts a "
        "project; what comes out is an ordinary storyboard. This page is made from the models and the files in "
        f"`{FOLDER}/`; `segmentkit schema --write` makes it anew.",
        "## The shipped ones",
        "| Template | Length | What for |\n|---|---|---|\n"
        + "\n".join(f"| [{t.name}](#{t.name}) | {t.length} | {_cell(t.about)} |" for t in _shipped()),
        "## How a template is written",
        f"```yaml\n{EXAMPLE}```",
        "In the storyboard of a template:",
        "\n".join(f"- {line}" for line in HOW),
        "### The file", key_table(TemplateFile),
        "### A blank", key_table(Blank),
        "### Kinds of blanks", "\n".join(f"- **{kind.value}** — {MEANINGS[kind]}" for kind in BlankKind),
    ]  # fmt: skip
    for template in _shipped():
        rows = ["| Blank | Takes | When left out | Limits | Help |", "|---|---|---|---|---|"]
        for name, blank in template.blanks.items():
            cells = (f"`{name}`", blank.kind.value, default_text(blank), limits_text(blank), blank.help)
            rows.append("| " + " | ".join(_cell(cell) for cell in cells) + " |")
        parts += [f"## {template.name}", f"{template.about} Length {template.length}.", "\n".join(rows)]
    return "\n\n".join(parts) + "\n"


def _shipped() -> list[Template]:
    return [load_template(name) for name in template_names()]


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
