"""Sound on its way to a file: stereo blocks, as every renderer yields them."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

#: Samples of sound, of one voice or of two sides.
Wave = npt.NDArray[np.float32]


class Block(NamedTuple):
    """Some frames of sound: two arrays of float32 of shape (frames, 2), left and right.

    `wanted` is the mix as it was asked for, muted tracks left out; `whole` the mix with
    nothing muted, the same object where nothing is.  The loudness of the whole sets the
    gain of both, so that a file without the melody is as loud as the one with it.
    """

    wanted: Wave
    whole: Wave
