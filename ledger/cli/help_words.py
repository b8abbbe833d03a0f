"""What the help writes behind an option: one word for one thing, whichever command it belongs to."""

from __future__ import annotations

from typing import Any

_WORDS = {
    "--amount": "AMOUNT",
    "--country": "COUNTRY",
    "--credit": "AMOUNT",
    "--currency": "CODE",
    "--date": "DATE",
    "--kind": "KIND",
    "--line-cost": "AMOUNT",
    "--order-cost": "AMOUNT",
    "--origin": "COUNTRY",
    "--party": "NAME",
    "--price": "AMOUNT",
    "--quantity": "QUANTITY",
    "--rate": "RATE",
    "--sku": "SKU",
    "--style": "STYLE",
    "--unit": "UNIT",
}
_NUMBERS = ("int", "float")


def name_values(command: Any) -> Any:
    """Return a command whose help says in a word what each option takes, where the option itself does not.

    Args:
        command: a command as the command-line library made it; the commands under it are named as well.
    """
    for below in getattr(command, "commands", {}).values():
        name_values(below)
    for parameter in command.params:
        if parameter.param_type_name == "option" and parameter.metavar is None and not parameter.is_flag:
            is_number = parameter.type.name.startswith(_NUMBERS)
            parameter.metavar = _WORDS.get(parameter.opts[0], "N" if is_number else "TEXT")
    return command
