"""`backing ports`: the MIDI ports of this computer."""

from backing.cli.talk import say


def ports() -> None:
    """List the MIDI ports: what backing play can play to, and what it can listen to.

    Example:  backing play reel.abc --port synth

    plays to the output whose name holds "synth"; large and small letters are alike.
    """
    from backing.live import ports as live
    from backing.live.port_names import no_ports

    outputs: tuple[str, ...] = ()
    inputs: tuple[str, ...] = ()
    for system in live.system_names():
        outputs += (found := live.output_names(system))
        for line in listed(f"outputs ({system}), to play to", found):
            print(line)
        inputs += (found := live.input_names(system))
        for line in listed(f"inputs ({system}), to listen to", found):
            print(line)
    if not outputs:
        say(f"hint: {no_ports('MidiOut')}")
    if not inputs:
        say(f"hint: {no_ports('MidiIn')}")


def listed(heading: str, names: tuple[str, ...]) -> list[str]:
    """The names under their heading."""
    return [f"MIDI {heading}:", *(f"  {name}" for name in names or ("none",))]
