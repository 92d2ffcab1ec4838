"""What the player sends its messages to: a MIDI port, the sound card, a list in a test."""

from collections.abc import Sequence
from typing import Protocol


class Port(Protocol):
    """A place that MIDI messages go to, each as its bytes.

    `due` is the moment, on the player's clock, for which the message was meant.  A MIDI
    port sends at once; one that makes the sound itself places it there exactly.
    """

    @property
    def name(self) -> str:
        """What a person calls it."""

    @property
    def gone(self) -> bool:
        """True while what it is connected to has vanished; quick to ask."""

    def send(self, message: bytes, due: float) -> None:
        """Send one message.  Raises nothing: a port that is gone takes it in silence."""

    def breathe(self, due: float) -> None:
        """The bellows of a box take a new breath: no message, and nothing that changes a note;
        for what makes the sound itself."""

    def end(self, messages: Sequence[bytes], due: float) -> None:
        """Send what ends every note, more than once where it might be lost."""

    def close(self) -> None:
        """Let go of it; a second time does nothing."""
