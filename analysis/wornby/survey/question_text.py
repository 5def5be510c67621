"""The questions as text, to print or to copy into a form, and the layout that reads the answers."""

from collections.abc import Sequence

from wornby.records.catalogue import Component
from wornby.records.layout_writing import toml_text
from wornby.survey.questions import COMPONENT_QUESTIONS, MOST_COMPONENTS, Question

GUIDE = (
    "Please answer even if nothing ever went wrong: parts that last say as much as parts that "
    "do not, and without them the answer would look worse than it is.",
    "One vehicle, one row. If you have two, answer twice.",
    "No name, registration or address is asked for; please write none into the answers.",
    "What you do not know, leave empty or pick don't know. A guess is worse than no answer; "
    "about 2019 is a good one.",
)


def questions_text(
    vehicle: Sequence[Question], components: Sequence[Component], *, club: str
) -> str:
    """The questions as Markdown: the guide, each question with its choices, how to set it up."""
    lines = [
        f"# Questions to members: {_plain(club)}",
        "",
        *_listed(GUIDE),
        "",
        "## The vehicle",
        "",
    ]
    for question in vehicle:
        lines += _asked(question)
    lines += ["## Its parts", "", "Ask all six of each part, in this order.", ""]
    for component in components:
        lines += [f"### {_plain(component.name)}", ""]
        if component.positions:
            places = ", ".join(_plain(place) for place in component.positions)
            lines += [
                f"There is more than one ({places}): answer for the first that was renewed.",
                "",
            ]
        for question in COMPONENT_QUESTIONS:
            lines += _asked(question.of(component.name))
    return "\n".join([*lines, *_set_up(len(components))])


def _asked(question: Question) -> list[str]:
    choices = [f"   - {_plain(choice)}" for choice in question.choices]
    return [f"- **{_plain(question.words)}**  ", f"  {question.how}", *choices, ""]


def _set_up(n_components: int) -> list[str]:
    many = [
        f"- These are {n_components} parts. Of more than {MOST_COMPONENTS}, many members give up "
        "half-way; `wornby ask` takes `--component`, once for each part to ask of."
    ]
    return [
        "## For the secretary",
        "",
        "- Hand round `questions.xlsx`, or make a form of these questions, word by word: the "
        "words are the columns by which the answers are read.",
        "- In a form, let no question be compulsory but the model year and the version.",
        "- Put copies that come back beside `layout.toml` under names that begin with "
        "`questions`, or mend `path` there to name the form's export. Several files are read "
        "together.",
        "- Write into `population.csv` how many vehicles there are of each model year and version, "
        "on the road by a register's count or else in the club by its list of members, and for "
        "which year they were counted. Without it answers cannot speak for those who kept silent.",
        "- Ask everybody, not only those who wrote about trouble, and note how many you asked.",
        *(many if n_components > MOST_COMPONENTS else []),
        "",
    ]


def questions_layout(vehicle: Sequence[Question], *, unit: str, day_order: str) -> str:
    """The text of a layout.toml that reads the filled sheets."""
    asked = "".join(f"{q.column} = {toml_text(q.words)}\n" for q in vehicle)
    settings = (
        f'path = "questions*.xlsx"\ndates = {toml_text(day_order)}\n'
        f"distance_unit = {toml_text(unit)}\n"
    )
    each = "".join(f"{q.column} = {toml_text(q.words)}\n" for q in COMPONENT_QUESTIONS)
    return (
        "# Reads the answers to questions.xlsx, or a form's export with the same questions.\n"
        f'\n[[file]]\ntable = "survey"\n{settings}[file.columns]\nrespondent = "row"\n'
        f"{asked}"
        f'\n[[file]]\ntable = "component_answers"\n{settings}[file.columns]\n'
        f'respondent = "row"\n[file.each_component]\n{each}'
    )


def _listed(lines: Sequence[str]) -> list[str]:
    return [f"- {line}" for line in lines]


def _plain(text: str) -> str:
    """A catalogue's words as plain text wherever Markdown is read."""
    signs = "\\`*_{}[]<>#|"
    return "".join(f"\\{sign}" if sign in signs else sign for sign in " ".join(text.split()))
