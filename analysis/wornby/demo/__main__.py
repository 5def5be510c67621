"""Write the demo folder: `python -m wornby.demo FOLDER --seed N --vehicles N --dirt on`."""

import argparse
from dataclasses import replace
from pathlib import Path

import numpy as np

from wornby.demo import WorldParameters, demo_records, write_records


def main(arguments: list[str] | None = None) -> None:
    """Read the command line, make the world, write it."""
    parser = argparse.ArgumentParser(prog="python -m wornby.demo", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seed", type=int, default=2027)
    parser.add_argument("--vehicles", type=int, default=WorldParameters().n_vehicles)
    parser.add_argument("--dirt", choices=("on", "off"), default="on")
    chosen = parser.parse_args(arguments)

    parameters = replace(WorldParameters(), n_vehicles=chosen.vehicles)
    parameters = parameters if chosen.dirt == "on" else parameters.without_dirt()
    write_records(demo_records(parameters, np.random.default_rng(chosen.seed)), chosen.folder)


if __name__ == "__main__":
    main()
