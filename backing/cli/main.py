"""The `backing` command and its parts."""

import os
import re
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from io import TextIOWrapper
from pathlib import Path
from typing import Any

import typer

from backing.cli.help import GroupedCommand
from backing.cli.printing import say
from backing.errors import BackingError, UsageError, did_you_mean, reason

#: Each is a function of its name in the module of its name; what it does, in a few words.
COMMANDS = {
    "make": "Make a practice file of a tune: MIDI or sound.",
    "play": "Play along now, steered by keys and pedals.",
    "page": "Make a page that shows a tune and plays it, on a phone too.",
    "plan": "Plan your practice: the hard bars first.",
    "look": "Show what a tune is: key, tempo, parts, chords.",
    "tunes": "List the tunes of a book.",
    "sheet": "Print a tune, or a book: notes, chords, buttons.",
    "chords": "Find chords for a tune that has none.",
    "fit": "Show whether a tune sits on a box, and its buttons.",
    "move": "Move a tune to another box or key.",
    "boxes": "List the boxes, or draw one.",
    "styles": "List the accompaniment styles, or draw one.",
    "ports": "List the MIDI ports of this computer.",
}
#: What there is to do with a tune, in the order in which a player needs it.
_FOR_A_TUNE = ("look", "make", "play", "page", "fit", "chords", "move")
#: A dash that a word processor makes of two hyphens, before an option's letters.
_LONG_DASH = r"[‒–—―−]+(?=[a-zA-Z])"
_CURLY = "[“”„‟«»‘’‚]"
#: What shells count for a program that Ctrl-C ended.
_STOPPED = 128 + 2
#: What the command line raises for words that it does not understand.
_Misunderstood: Any = typer.BadParameter.__mro__[1]


def app(asked: str) -> typer.Typer:
    """The command line with the command that is asked for, the others only by name.

    What one command needs need not wait for what the others do.
    """
    made = typer.Typer(
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    )
    made.callback()(about)
    for name, summary in COMMANDS.items():
        function = getattr(import_module(f"backing.cli.{name}"), name) if name == asked else about
        made.command(name, cls=GroupedCommand, short_help=summary)(function)
    return made


def about() -> None:
    """Backings to practise with: from a tune and an accompaniment style to melody, bass,
    chords and click, slowed down, looped, with the melody muted if you like.
    """


def run() -> None:
    """Run the command line; every fault of ours ends in a message, never in a traceback."""
    # numpy's matrices are small here: a second thread would only wait for the first.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
    sys.exit(_ended([_with_hyphens(word) for word in sys.argv[1:]]))


def _ended(words: list[str]) -> int:
    """Run a command, and say what went wrong; the exit code."""
    try:
        code = _run(words)
        if sys.stdout is not None:
            sys.stdout.flush()
    except BackingError as error:
        say(error.text())
        return error.exit_code
    except KeyboardInterrupt:
        say("stopped")
        return _STOPPED
    except BrokenPipeError:  # who was listening has gone: head, or a pager that was left
        _nothing_more()
        return 1
    except MemoryError:
        say("error: there is not enough memory for this\nhint: ask for less of the tune at once")
        return 1
    except OSError as error:  # a player's files are opened where faults have words
        if error.filename is None:
            _nothing_more()
            say(f"error: the output cannot be written: {reason(error)}")
        else:
            say(f"error: {error.filename} cannot be used: {reason(error)}")
        return 1
    return code


def _nothing_more() -> None:
    """Nothing more goes to stdout, not even at the interpreter's end."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(words: list[str]) -> int:
    """Run a command; its exit code."""
    words = words or ["--help"]
    asked = words[0]
    if asked not in COMMANDS and not asked.startswith("-"):
        raise _no_command(asked)
    try:
        code = int(app(asked)(args=words, prog_name="backing", standalone_mode=False) or 0)
    except typer.Abort:
        raise KeyboardInterrupt from None
    except _Misunderstood as error:
        raise _usage_error(error, words) from None
    if code == _STOPPED:  # what typer makes of Ctrl-C
        raise KeyboardInterrupt
    return code


def _no_command(asked: str) -> UsageError:
    """What to say where the first word is no command."""
    from backing.files.kinds import TUNE_SUFFIXES

    if asked.lower().endswith(TUNE_SUFFIXES) or Path(asked).exists():
        name = f'"{asked}"' if " " in asked else asked
        ways = "\n".join(f"  backing {way} {name}" for way in _FOR_A_TUNE)
        return UsageError(f"what is to be done with {asked}?", f"say a command before it:\n{ways}")
    near = did_you_mean(asked, list(COMMANDS))
    return UsageError(
        f"there is no command {asked!r}", near or f"the commands are {', '.join(COMMANDS)}"
    )


def _usage_error(error: Any, words: Sequence[str]) -> UsageError:
    """What the command line did not understand, in words that help."""
    command = words[0] if words and words[0] in COMMANDS else ""
    manual = f"backing {command} --help".replace("  ", " ") + " shows what can be asked for"
    if hasattr(error, "possibilities"):
        known = [name.lstrip("-") for name in error.possibilities or ()]
        near = did_you_mean(error.option_name.lstrip("-"), known)
        hint = near.replace("mean ", "mean --") or manual
        return UsageError(f"there is no option {error.option_name}", hint)
    extra = getattr(error, "message", "").partition("unexpected extra argument")[2]
    if extra:
        return _one_too_many(extra[extra.rfind("(") + 1 : extra.rfind(")")], words, manual)
    text = error.format_message().rstrip(".")
    return UsageError(text[:1].lower() + text[1:], manual)


def _one_too_many(extra: str, words: Sequence[str], manual: str) -> UsageError:
    """Words that belong to nothing: mostly a name with a space, without its quotes."""
    curly = next((word for word in words if re.search(_CURLY, word)), "")
    if curly:
        return UsageError(
            f"{curly!r} has a typographic quote", 'put what belongs together into plain quotes: "'
        )
    for start in range(1, len(words)):
        for stop in range(len(words), start + 1, -1):
            name = " ".join(words[start:stop])
            if Path(name).exists():
                return UsageError(
                    f"the file name {name} has a space in it", f'put it into quotes: "{name}"'
                )
    return UsageError(
        f"there is a word too many: {extra}",
        f"a name with a space in it needs quotes; {manual}",
    )


def _with_hyphens(word: str) -> str:
    """A word with the two hyphens before an option that a word processor made one dash of.

    >>> _with_hyphens("–percent"), _with_hyphens("—o"), _with_hyphens("5–6")
    ('--percent', '-o', '5–6')
    """
    match = re.match(_LONG_DASH, word)
    if not match or Path(word).exists():
        return word
    rest = word[match.end() :]
    return f"-{rest}" if len(rest) == 1 else f"--{rest}"
