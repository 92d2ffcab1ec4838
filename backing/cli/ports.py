"""`backing ports`: the MIDI ports of this computer."""

from backing.cli.printing import say, show


def ports() -> None:
    """List the MIDI ports: what backing play can play to, and what it can listen to.

    Example:  backing play examples/the-lock-keepers-kettle.abc --port synth

    plays to the output whose name holds "synth"; large and small letters are alike.
    """
    from backing.live import ports as live
    from backing.live.port_names import no_ports

    outputs: tuple[str, ...] = ()
    inputs: tuple[str, ...] = ()
    for system in live.system_names():
        outputs += (found := live.output_names(system))
        for line in under(f"outputs ({system}), to play to", found):
            show(line)
        inputs += (found := live.input_names(system))
        for line in under(f"inputs ({system}), to listen to", found):
            show(line)
    if not outputs:
        say(f"hint: {no_ports('MidiOut')}")
    if not inputs:
        say(f"hint: {no_ports('MidiIn')}")


def under(heading: str, names: tuple[str, ...]) -> list[str]:
    """The names under their heading."""
    return [f"MIDI {heading}:", *(f"  {name}" for name in names or ("none",))]
