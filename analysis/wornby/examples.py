"""What to type: the examples that `wornby --help` and each command's own help show."""

WIDEST = 42
EXAMPLES = {
    "start": (
        ("start vans", "a folder to fill: catalogue, layout, blank tables"),
        ("start exports", "in a folder that holds exports: a layout for them"),
    ),
    "read": (
        ("read data_demo", "what was understood, what was not, what to mend"),
        ("read data_demo --json", "the same for programs"),
    ),
    "life": (
        ("life data_demo", "by what age each component gives out"),
        ("life data_demo --by grade", "genuine against aftermarket parts"),
        (
            'life data_demo --by rule --component "water pump"',
            "what hangs on who is taken to have been watched",
        ),
        ("life data_demo --by cost", "what each part grade costs a year of service"),
    ),
    "renew": (
        ("renew data_demo", "at what age to renew each part by itself"),
        ("renew data_demo --by policy", "alone by age, when open anyway, or by the calendar"),
        (
            'renew data_demo --group "timing cover off" --age 14 --failed thermostat',
            "what else to renew while that job is open",
        ),
        (
            'renew data_demo --group "timing cover off" --age 14 --renewed "timing belt=2"',
            "the same where a part was renewed two years ago",
        ),
        (
            'renew data_demo --group "timing cover off" --age 9 --degraded "water pump" --exact',
            "the same with what was found, checked by the exact programme",
        ),
        ("renew data_demo --by card", "one card of break-even ages to pin over the ramp"),
    ),
    "price": (
        ("price data_demo", "which jobs to offer at a fixed price"),
        ("price data_demo --by version", "the price menu by version, with tax and without"),
        ("price data_demo --by found", "what each job may turn up, and what that costs"),
        ("price data_demo --by record", "what one more record, or ten, would be worth"),
        (
            'price data_demo --job "thermostat by itself"',
            "one job at a ladder of prices, and what it is made of",
        ),
    ),
    "expect": (
        ("expect data_demo --months 3", "failures and jobs to expect (3, 6 or 12 months)"),
        ("expect data_demo --by stock", "how many of each part to keep on the shelf"),
    ),
    "vehicle": (
        (
            'vehicle data_demo --age 14 --odometer 105000 --renewed "water pump=3"',
            "one vehicle: its risks, its costs, what to do first",
        ),
    ),
    "inspect": (("inspect data_demo", "how often to look at what, and what looks catch"),),
    "ask": (
        ("ask data_demo --to questions", "a club's questions as a sheet and as text"),
        (
            'ask data_demo --to questions --component "water pump" --component thermostat',
            "the same of two parts only",
        ),
    ),
    "survey": (
        ("survey data_demo", "who answered the club's survey, and their weights"),
        ("survey data_demo --by component", "how long parts last, as owners tell"),
        ("survey data_demo --by share --age 14", "what share was renewed by an age or distance"),
        (
            "survey data_demo --by nonresponse --members 600 --share 0.25",
            "how that moves if those without trouble answer less",
        ),
        ("survey data_demo --by evidence", "the workshop's records and the answers side by side"),
    ),
    "explain": (('explain "B10 life"', "what a number means, and where it comes from"),),
    "report": (("report owner data_demo --to reports", "a page to read and print"),),
    "completion": (
        ('eval "$(wornby completion bash)"', "in ~/.bashrc: the Tab key knows the words"),
    ),
}
"""For each command, what to type after `wornby` and what it answers."""


def examples_of(*commands: str) -> str:
    """The examples of these commands as help shows them, one under the other."""
    shown = ["examples:"]
    for typed, meaning in (pair for name in commands for pair in EXAMPLES[name]):
        line = f"  wornby {typed}" if "wornby" not in typed else f"  {typed}"
        if len(line) <= WIDEST:
            shown.append(f"{line:<{WIDEST}} {meaning}")
        else:
            shown += [line, f"{'':{WIDEST}} {meaning}"]
    return "\n".join(shown)
