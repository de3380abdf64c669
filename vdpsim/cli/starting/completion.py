"""``vdpsim completion``: what makes a shell complete vdpsim's words."""

from __future__ import annotations

import argparse
from importlib import import_module

from ..say import say

SHELLS = ("bash", "zsh", "fish")

ABOUT = """\
Prints a script that makes a shell complete commands, options, choices, files, the names of shipped chips and scenes, keys of
both kinds of file and pages of the guide."""
EXAMPLES = """\
examples:
  vdpsim completion bash | head
  eval "$(vdpsim completion bash)"          in ~/.bashrc
  eval "$(vdpsim completion zsh)"           in ~/.zshrc, after compinit
  vdpsim completion fish | source           in ~/.config/fish/config.fish

or once, into a file that the shell reads when it first needs it: vdpsim completion fish >
~/.config/fish/completions/vdpsim.fish; for bash ~/.local/share/bash-completion/completions/vdpsim
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("shell", choices=SHELLS, help="the shell")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    from vdpsim.shipped.files import chips, scenes  # noqa: PLC0415 - --help needs none of it

    from ..main import command_table  # noqa: PLC0415 - which is what has called this

    made = import_module(f"..completing.{options.shell}", __package__)
    say(made.script(command_table(), {"chip": [*chips()], "scene": [*scenes()]}), end="")
    return 0
