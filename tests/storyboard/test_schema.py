import json
import re
from collections.abc import Callable
from functools import cache

import jsonschema
import pytest
import yaml

from segmentkit.errors import StoryboardUnreadable
from segmentkit.resources import templates_folder
from segmentkit.storyboard.load import loads
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.reference import EXAMPLE, SECTIONS, VALUES, key_reference
from segmentkit.storyboard.schema import json_schema, schema_text
from tests.makers import LESSON, lesson, long_lesson
from tests.storyboard.tables import table, unescaped


class EditorLoader(yaml.SafeLoader):
    """Reads YAML as editors do, by the core schema of YAML 1.2 (chapter 10.3), so that `yes` and `1:30` are texts."""


EditorLoader.yaml_implicit_resolvers = {}
for tag, pattern, first in (
    ("null", r"^(?:~|null|Null|NULL|)$", ["~", "n", "N", ""]),
    ("bool", r"^(?:true|True|TRUE|false|False|FALSE)$", list("tTfF")),
    ("int", r"^[-+]?[0-9]+$", list("-+0123456789")),
    ("float", r"^[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?$", list("-+.0123456789")),
):
    EditorLoader.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(pattern), first)


@cache
def schema_now() -> dict[str, object]:
    """The schema, made once; not to be changed."""
    return json_schema()


def complaints(text: str) -> list[str]:
    """What an editor with the schema would mark."""
    seen = yaml.load(text, Loader=EditorLoader)
    return [
        f"{error.json_path}: {error.message}"
        for error in jsonschema.Draft202012Validator(schema_now()).iter_errors(seen)
    ]


def test_the_schema_is_one():
    jsonschema.Draft202012Validator.check_schema(schema_now())
    assert schema_now()["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("text", [LESSON, EXAMPLE, long_lesson()], ids=["lesson", "example", "long"])
def test_an_editor_marks_nothing_that_the_loader_reads(text: str):
    assert loads(text)
    assert complaints(text) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("slot: 3:00", "slot: 00:03:00:12"), ("slot: 3:00", "slot: 180.5s"), ("slot: 3:00", "slot: 180000ms"),
        ("rate: 25", "rate: 30000/1001"), ("speed: 1/8", "speed: 0.25"), ("speed: 1/8", "speed: 2"),
        ("speed: 1/8", "speed: half"), ("hold: 6s..13s", "hold: 6s .. 8s .. 13s"), ("hold: 6s..13s", "hold: 1:30"),
        ("level: -3 dB", "level: -3"), ("handed: right", "handicap: 22"), ("mirrored: no", "mirrored: true"),
        ("title: Hips toward the ball", "title: 1984"), ("title: Hips toward the ball", "title: true"),
        ("count: 10 slow turns", "count: 10"), ("address.belt", "[-0.1, 1]"), ("lead: 0.4s", "pace: 150 wpm"),
        ("lead: 0.4s", "pace: 140"), ("rigid: yes", "gives: 2"),
    ],
)  # fmt: skip
def test_other_ways_of_writing_are_taken_by_both(old: str, new: str):
    text = lesson((old, new))
    assert loads(text)
    assert complaints(text) == []


# What a schema cannot tell: how two values fit together, whether a moment exists, and what a text means.
BEYOND_A_SCHEMA = re.compile(
    r"longer than a segment|slot of 0 s|drop-frame label|has frame 25|rounded rate|divides by zero|odd side"
    r"|pixels a side|two pauses|overlap needs|is not a name — write the id|no word after it|stands twice in the words"
    r"|stands alone|'5000' is outside|90 is outside|'0' is outside|does not rise|hold of 0 s|ground of a card|a side is"
    r"|frozen side|lower third needs|needs a speed|events are matched|speed follows from|leads the others|inset shows"
    r"|inset is either|still has no at"
)


@pytest.mark.parametrize(("change", "expected"), table("model_faults.txt"))
def test_an_editor_marks_most_of_what_the_loader_refuses(change: str, expected: list[str]):
    old, new = (change + " ").replace(" => ", "\0").split("\0")
    text = lesson((unescaped(old), unescaped(new.strip())))
    with pytest.raises(StoryboardUnreadable):
        loads(text)
    assert complaints(text) or BEYOND_A_SCHEMA.search(expected[0].split(" | ")[0])


def walk(schema: object, path: str = "") -> list[tuple[str, dict[str, object]]]:
    """Every mapping within a schema, with its path."""
    if isinstance(schema, list):
        return [found for index, part in enumerate(schema) for found in walk(part, f"{path}[{index}]")]
    if not isinstance(schema, dict):
        return []
    return [(path, schema), *(found for key, part in schema.items() for found in walk(part, f"{path}.{key}"))]


def described(part: dict[str, object]) -> dict[str, object]:
    """A key's schema, or what it refers to where that says the same."""
    return schema_now()["$defs"][part["$ref"].removeprefix("#/$defs/")] if "$ref" in part else part


def test_every_key_is_described():
    nameless = [
        f"{path}.{name}"
        for path, schema in walk(schema_now())
        for name, part in schema.get("properties", {}).items()
        if path.startswith(".$defs") and path.count(".") == 2 and "description" not in described(part)
    ]
    assert nameless == []


def test_defaults_stand_as_they_are_written():
    segment = schema_now()["$defs"]["Segment"]["properties"]
    assert (segment["rate"]["default"], segment["size"]["default"]) == ("25", "1920x1080")
    assert schema_now()["$defs"]["Clip"]["properties"]["mirrored"]["default"] == "no"


def test_every_example_of_the_schema_fits_its_own_limits():
    for path, schema in walk(schema_now()):
        if "$defs" in schema or path.endswith(("properties", "Properties")):
            continue
        for example in schema.get("examples", []):
            jsonschema.Draft202012Validator(schema).validate(example)


@pytest.mark.parametrize(("name", "made"), [("storyboard.schema.json", schema_text), ("STORYBOARD.md", key_reference)])
def test_the_copies_in_templates_are_current(name: str, made: Callable[[], str]):
    kept = templates_folder() / name
    assert kept.is_file(), f"templates/{name} is missing: run `segmentkit schema --write`"
    assert kept.read_text("utf-8") == made(), f"templates/{name} is not current: run `segmentkit schema --write`"


def test_the_schema_text_is_json():
    assert json.loads(schema_text()) == schema_now()


def test_every_key_is_in_the_reference():
    reference = key_reference()
    rows = {line.split("`")[1] for line in reference.splitlines() if line.startswith("| `")}
    keys = {name for _, schema in walk(schema_now()) for name in schema.get("properties", {}) if isinstance(name, str)}
    assert sorted(keys - rows) == []
    models = [model for _, _, models in SECTIONS for model in models]
    assert Storyboard in models
    assert len(models) == len(set(models))


def test_every_link_of_the_reference_leads_to_a_heading():
    reference = key_reference()
    anchors = {line.lstrip("# ").lower().replace(" ", "-") for line in reference.splitlines() if line.startswith("#")}
    links = set(re.findall(r"\]\(#([^)]+)\)", reference))
    assert len(links) > 15
    assert links - anchors == set()


def test_every_kind_of_value_is_explained():
    explained = {name for name, _ in VALUES}
    takes = {
        line.split(" | ")[1].removeprefix("list: ") for line in key_reference().splitlines() if line.startswith("| `")
    }
    takes = {words.removeprefix("by name: ").removeprefix("by name: ") for words in takes}
    plain = {"text", "1", "language tag"}
    unexplained = {w for w in takes - explained - plain if not re.match(r"`|\[.*\]\(|.*, -?[\d.]+ to ", w)}
    assert unexplained - {"broadcast", "web"} == set()


def test_the_reference_s_example_is_a_storyboard():
    assert f"```yaml\n{EXAMPLE}```" in key_reference()
    assert [beat.beat for beat in loads(EXAMPLE).board.beats] == ["address", "impact"]
