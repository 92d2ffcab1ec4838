"""A program that listens on JACK: each message on a line, after the moment that it came.

The moment is time.perf_counter, which on Linux all programs share.  There is no callback:
one in Python is too slow for a burst of messages, and JACK overwrites what it has not read.
"""

import sys
import time


def listen(name: str) -> None:
    """Listen on a port of this name until the program is ended."""
    import rtmidi

    client = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name, queue_size_limit=100_000)
    client.ignore_types(sysex=False, timing=False, active_sense=False)
    client.open_virtual_port("in")
    print("ready", flush=True)
    moment = 0.0
    while True:
        while received := client.get_message():
            message, since_the_last = received
            moment = moment + since_the_last if moment else time.perf_counter()
            print(moment, bytes(message).hex(), flush=True)
        time.sleep(0.0005)


if __name__ == "__main__":
    listen(sys.argv[1])
