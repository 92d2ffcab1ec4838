"""How a command shows its options: in groups, as a player thinks of them."""

from typing import Any

import typer.core

#: Where an option stands that names no group.
_OTHERS = "Options"


class GroupedCommand(typer.core.TyperCommand):
    """A command whose help lists its options group by group, in the order of their first."""

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the arguments, then each group of options under its heading."""
        groups: dict[str, list[tuple[str, str]]] = {}
        for parameter in self.get_params(ctx):
            record = parameter.get_help_record(ctx)
            if record is None:
                continue
            argument = parameter.param_type_name == "argument"
            group = getattr(parameter, "rich_help_panel", None) or _OTHERS
            groups.setdefault("Arguments" if argument else group, []).append(record)
        if _OTHERS in groups:
            groups[_OTHERS] = groups.pop(_OTHERS)
        for heading, rows in groups.items():
            with formatter.section(heading):
                formatter.write_dl(rows)
