"""The command line. Verbs are loaded when they are called, so that `--help` answers at once."""

from __future__ import annotations

import importlib
import os
import sys
import traceback

import click

from segmentkit import __version__
from segmentkit.cli import stopping
from segmentkit.errors import Interrupted, SegmentkitError, StoryboardUnreadable

VERBS = {
    "new": "Start a project from a template, with the clips you have.",
    "check": "Judge a storyboard: does everything fit its slot? No render.",
    "fit": "Show who gives and takes time; try another slot; write it back.",
    "render": "Make the finished segment.",
    "deliver": "Make everything that is delivered, with captions, papers and a card.",
    "profiles": "List what can be delivered: broadcast, web, short, masters ...",
    "qc": "Measure and judge a finished file: flashes, levels, sound, headers.",
    "plan": "Show when everything happens, one line an event.",
    "chart": "Draw the whole segment on one sheet: clock, pictures, strokes, words.",
    "script": "Write the two-column script; words out as text, and back in.",
    "prompter": "Write the words large, for whoever speaks them.",
    "captions": "Write captions, chapters, transcript, as-broadcast script.",
    "papers": "Write take-home and contact sheets, rights, cues, thumbnails, timeline.",
    "review": "Mark versions, see what changed, keep notes, lock; copies to look at.",
    "intake": "Judge what viewers sent: use, limited, reshoot, not used.",
    "batch": "Make a season of viewers: consent, check, render, deliver; resumes.",
    "sheet": "Write the page that tells viewers how to film.",
    "letters": "Write letters to viewers, filled from the verdicts.",
    "season": "A season in figures, on a page that names nobody.",
    "models": "Which demonstrator to put beside a viewer, with reasons.",
    "follow": "Then and now: who is due, are two clips comparable, start the follow-up.",
    "erase": "Find and remove everything of a person.",
    "withdraw": "Everything of a viewer across a season: list, remove, receipt.",
    "keep": "What must go by when; remove what is due.",
    "preview": "Look at a beat or any part, small and soon; --watch re-renders on save.",
    "still": "Save the picture of any moment as a PNG; --watch stays ready.",
    "cards": "Draw every card and label on one sheet, with hold and reading time.",
    "checks": "List all checks and why they matter.",
    "faults": "List and explain the fault presets.",
    "keys": "Explain every key of a storyboard.",
    "schema": "Print or write the JSON Schema of the storyboard.",
}
EXIT_CODES = """\b
Exit codes:
  0    done, nothing forbids a render
  1    findings forbid a render
  2    the command was called wrongly
  3    the storyboard cannot be read
  4    a clip, take or still cannot be used
  5    the finished file could not be written or did not verify
  130  stopped by a person"""


class _Verbs(click.Group):
    """Finds a verb's module by its name."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  click's signature
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in VERBS:
            return None
        command: click.Command = importlib.import_module(f"segmentkit.cli.{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        with formatter.section("Verbs"):
            formatter.write_dl(list(VERBS.items()))


@click.group(cls=_Verbs, epilog=EXIT_CODES, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="segmentkit")
@click.option("--debug", is_flag=True, help="Show where in the code an error arose.")
@click.option(
    "--store", metavar="FOLDER", help="One working folder for many projects; or set SEGMENTKIT_STORE. Else .segmentkit."
)
@click.option(
    "--store-limit", metavar="SIZE", help="How much encoded pictures may take up there: 20 GB, unless said otherwise."
)
@click.pass_context
def main(ctx: click.Context, debug: bool, store: str | None, store_limit: str | None) -> None:
    """From a storyboard to a finished teaching segment of exact length."""
    ctx.obj = {"debug": debug}
    # Read where the folder is opened, also in processes that are started on the way.
    for name, value in (("SEGMENTKIT_STORE", store), ("SEGMENTKIT_STORE_LIMIT", store_limit)):
        if value is not None:
            os.environ[name] = value


def run(args: list[str] | None = None) -> None:
    """Runs a verb and turns errors into texts and exit codes; the only place that catches them."""
    stopping.listen()
    debug = "--debug" in (sys.argv[1:] if args is None else args)
    try:
        code = main.main(args, standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (KeyboardInterrupt, click.Abort):
        click.echo("stopped — nothing was left under a final name", err=True)
        sys.exit(Interrupted.exit_code)
    except SegmentkitError as error:
        if debug:
            traceback.print_exc()
        else:
            click.echo(str(error) if isinstance(error, StoryboardUnreadable) else f"segmentkit: {error}", err=True)
        sys.exit(error.exit_code)
    sys.exit(code if isinstance(code, int) else 0)
