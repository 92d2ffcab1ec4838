"""Reading a data file key by key, so that all its faults are reported at once.

Styles and boxes are TOML files that players write themselves.
"""

from typing import Any

from backing.errors import did_you_mean

_MOST_SHOWN = 40


class DataReader:
    """Checks a file's data and keeps every fault with its key path."""

    def __init__(self) -> None:
        self.faults: list[str] = []

    def fault(self, path: str, message: str) -> None:
        """Keep a fault."""
        self.faults.append(f"{path}: {message}" if path else message)

    def known(self, data: dict[str, Any], path: str, keys: tuple[str, ...]) -> None:
        """A fault for every key that is none of these."""
        for key in data:
            if key not in keys:
                near = did_you_mean(key, keys) or f"known here are {', '.join(keys)}"
                self.fault(joined(path, key), f"unknown key; {near}")

    def text(self, data: dict[str, Any], key: str, path: str = "") -> str:
        """A text that must be there."""
        value = data.get(key)
        if not isinstance(value, str) or not value.strip():
            self.fault(joined(path, key), "missing" if value is None else "expected a text")
            return ""
        return " ".join(value.split())

    def flag(self, data: dict[str, Any], key: str, path: str = "") -> bool:
        """True or false; true where nothing is said."""
        value = data.get(key, True)
        if not isinstance(value, bool):
            self.fault(joined(path, key), "expected true or false")
            return True
        return value


def joined(path: str, key: str) -> str:
    """The path of a key."""
    return f"{path}.{key}" if path else key


def shown(value: object) -> str:
    """A value as it may be shown: nothing endless.

    >>> shown("D"), len(shown("x" * 1000))
    ("'D'", 40)
    """
    said = repr(value)
    return said if len(said) <= _MOST_SHOWN else f"{said[: _MOST_SHOWN - 3]}..."
