"""How a command shows its options: in groups, as a player thinks of them."""

from typing import Any

import typer.core

from backing.cli.options import GROUPS

#: Where an option stands that names no group.
_ARGUMENTS, _OTHERS = "Arguments", "Options"


class GroupedCommand(typer.core.TyperCommand):
    """A command whose help lists its options group by group."""

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the arguments, then each group of options under its heading."""
        groups: dict[str, list[tuple[str, str]]] = {}
        for parameter in self.get_params(ctx):
            record = parameter.get_help_record(ctx)
            if record is None:
                continue
            argument = parameter.param_type_name == "argument"
            group = getattr(parameter, "rich_help_panel", None) or _OTHERS
            groups.setdefault(_ARGUMENTS if argument else group, []).append(record)
        for heading in (_ARGUMENTS, *GROUPS, _OTHERS):
            if rows := groups.get(heading):
                with formatter.section(heading):
                    formatter.write_dl(rows)
