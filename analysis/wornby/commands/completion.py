"""`wornby completion`: what a shell runs to complete wornby's words."""

import argparse
import json

SHELLS = ("bash", "zsh", "fish")


def completion_options(completion: argparse.ArgumentParser) -> None:
    """What `completion` must be told."""
    completion.add_argument("shell", choices=SHELLS, help="which shell the script is for")


def run_completion(asked: argparse.Namespace) -> None:
    """Print the script that the shell's start-up file runs."""
    from argcomplete.shell_integration import shellcode

    script = shellcode(["wornby"], shell=asked.shell)
    if asked.json:
        rows = [{"shell": asked.shell, "script": script}]
        script = json.dumps([{"title": "Completion", "rows": rows, "notes": []}])
    print(script)


def complete(parser: argparse.ArgumentParser) -> None:
    """Answer a shell that asks for completions, and leave; does nothing for anybody else."""
    import argcomplete

    argcomplete.autocomplete(parser)
