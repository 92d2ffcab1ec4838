"""Runs the command line: `python -m backing`, and the `backing` program."""

import gc
import signal


def start() -> None:
    """Run the command line; Ctrl-C ends it quietly, even while it still loads."""
    heeded = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if heeded:  # the system's way: no traceback through half of what loads
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    gc.disable()  # while it loads nothing is garbage
    from backing.cli import main
    from backing.cli.garbage import collect_seldom

    collect_seldom()
    if heeded:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        main.run()
    finally:
        if heeded:  # what is left is the interpreter's own tidying up
            signal.signal(signal.SIGINT, signal.SIG_IGN)


if __name__ == "__main__":
    start()
