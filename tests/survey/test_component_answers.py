"""Every answer on a component has its fate; what was not understood names no one."""

from pathlib import Path

import polars as pl
import pytest
from drawn import drawn
from hypothesis import given, settings
from hypothesis import strategies as st
from survey.told import HEAD, VANS, WORKSHOP, told_lives, told_survey

from wornby.errors import EstimateError, RecordError
from wornby.ledger import ledger_from
from wornby.survey.answers import read_survey
from wornby.survey.lives import survey_lives
from wornby.survey.survey_rules import CLUB, survey_variants
from wornby.survey.unread_cells import not_understood

MEMBERS = "who | year\nm1 | 2010\nm2 | 2010\nm3 | old"


def test_each_kind_of_bad_answer_has_its_reason(tmp_path: Path) -> None:
    parts = """
    who | part          | state        | when
    m1  | pump          | renewed once | 2015
    m1  | pump          | renewed once | 2015
        | pump          | original     |
    m3  | pump          | original     |
    m9  | pump          | original     |
    m2  | pump          |              |
    m2  | flux          | original     |
    m2  | pump          | green        |
    m2  | stat          | not fitted   |
    m2  | belt          | don't know   |
    m1  | stat          | renewed      | when it broke
    m1  | belt          | original     | 2015
    """
    ledger = told_survey(tmp_path, members=MEMBERS, parts=parts).ledgers[-1]
    assert (ledger.n_read, ledger.n_accepted) == (12, 2)
    assert ledger.rejected == {
        "component not known": 1,
        "no respondent": 1,
        "state not understood": 1,
    }
    assert ledger.set_aside == {
        "answered twice": 1,
        "don't know": 1,
        "not answered": 1,
        "not fitted to the vehicle": 1,
        "original and renewed": 1,
        "respondent's own answer not used": 2,
    }
    assert sum(ledger.mended.values()) == 1


def test_a_member_who_answered_twice_counts_once(tmp_path: Path) -> None:
    members = """
    who | year | water pump   | water pump, when
    m1  | 2010 | renewed once | 2015
    m1  | 2010 | original     |
    """
    lives = told_lives(tmp_path, members=members)
    assert lives.told.row(0, named=True)["answers"] == 1
    assert lives.lives["upper"].is_finite().all()


def test_what_was_not_understood_names_no_one(tmp_path: Path) -> None:
    rows = [f"m{n} | 2010 | renewed | {text}" for n, text in enumerate(
        ["when Ann Smith drove it, 07700 900123"] + ["in the lay-by"] * 5
    )]  # fmt: skip
    members = "\n".join(["who | year | water pump | water pump, when", *rows])
    survey = told_survey(tmp_path, members=members)
    assert survey.components is not None
    texts = survey.components.unread
    assert texts.row(0) == ("when", "in the lay by", 5)
    told = texts.write_csv() + survey.problems.write_csv() + repr(survey)
    for secret in ("ann", "Ann", "Smith", "smith", "900123", "drove"):
        assert secret not in told


def test_a_multi_select_column_may_be_read_beside_the_columns_of_each_component(
    tmp_path: Path,
) -> None:
    members = "who | year | which\nm1 | 2010 | pump, stat\nm2 | 2010 |"
    frame = drawn(members).with_columns(body=pl.lit("short"))
    frame.write_csv(tmp_path / "survey.csv")
    drawn(VANS).write_csv(tmp_path / "population.csv")
    layout = HEAD.format(extra="", path="survey.csv")
    layout += 'component = "which"\n[file.constants]\nstate = "renewed"\n'
    (tmp_path / "layout.toml").write_text(layout)
    (tmp_path / "workshop.toml").write_text(WORKSHOP)
    lives = survey_lives(read_survey(tmp_path), rule=CLUB)
    assert lives.told.select("component", "renewed").rows() == [
        ("thermostat", 1),
        ("water pump", 1),
    ]


def test_a_wide_form_without_the_columns_is_refused_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match=r"no component has the columns '\*' and '\*, when'"):
        told_survey(tmp_path, members="who | year | pump\nm1 | 2010 | original")


def test_a_star_alone_would_take_every_column(tmp_path: Path) -> None:
    told_survey(tmp_path, members="who | year | pump | pump, when\nm1 | 2010 | original |")
    path = tmp_path / "layout.toml"
    path.write_text(path.read_text().replace('when = "*, when"\n', ""))
    with pytest.raises(RecordError, match="would take every column"):
        read_survey(tmp_path)


def test_without_the_day_of_the_answers_there_are_no_lives(tmp_path: Path) -> None:
    told_survey(tmp_path, members="who | year | pump | pump, when\nm1 | 2010 | original |")
    path = tmp_path / "layout.toml"
    path.write_text(path.read_text().replace('answered = "2020-12-31"', ""))
    with pytest.raises(EstimateError, match="no day of the answers"):
        survey_lives(read_survey(tmp_path), rule=CLUB)


CELLS = st.one_of(
    st.sampled_from(
        ["original", "renewed", "renewed once", "twice", "don't know", "not fitted", "", "green",
         "2019", "about 2010", "2012 and 2018", "2022", "2004", "before I had it", "80-90k", "1k",
         "at 250,000 miles", "before 2015", "after 2018", "3 years ago", "at 8 years", "?",
         "2015 at 60k", "about 85,000 km", "1 July 2015", "2010-12-31", "renewed 2011", "new"]
    ),
    st.text(st.characters(blacklist_categories=("Cs", "Cc")), max_size=8),
)  # fmt: skip
ROWS = st.lists(
    st.fixed_dictionaries(
        {
            "who": st.sampled_from(["m1", "m2", "m3", "m4", ""]),
            "year": st.sampled_from(["2010", "2020", "2021", "2030", "old", ""]),
            "body": st.just("short"),
            "miles": st.sampled_from(["0", "1", "90000", "lots", ""]),
            "registered": CELLS,
            "bought": CELLS,
            **{
                f"{name}{end}": CELLS
                for name in ("water pump", "timing belt")
                for end in ("", ", when")
            },
        }
    ),
    min_size=1,
    max_size=6,
)
RULES = {"club": CLUB, **survey_variants(CLUB)}


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder whose answers are written anew by each case."""
    folder = tmp_path_factory.mktemp("club")
    members = "who | year | miles | registered | bought | water pump | water pump, when"
    told_survey(folder, members=f"{members}\nm1 | 2010 | 1 | 2010 | 2010 | original |")
    return folder


@settings(max_examples=120)
@given(ROWS, st.sampled_from(sorted(RULES)))
def test_whatever_the_cells_hold_every_answer_is_accounted_for_and_no_bound_is_reversed(
    club: Path, rows: list[dict[str, str]], rule: str
) -> None:
    good = dict.fromkeys(rows[0], "") | {"who": "m0", "year": "2010", "body": "short"}
    pl.DataFrame([good, *rows]).write_csv(club / "survey.csv")
    survey = read_survey(club)
    assert survey.components is not None
    assert survey.components.ledger.n_read == 2 * (1 + len(rows))
    lives = survey_lives(survey, rule=RULES[rule])
    assert lives.ledger.n_accepted == lives.lives.height == lives.told["lives"].sum()
    for frame in (
        lives.lives,
        *(c.table for c in (*lives.counts.values(), *lives.renewed.values())),
    ):
        assert (frame["entry"] >= 0).all()
        assert (frame["lower"] >= frame["entry"]).all()
        assert (frame["upper"] >= frame["lower"]).all()
        assert frame["upper"].is_nan().sum() == 0


def test_the_ledger_is_made_of_the_rows_themselves() -> None:
    fates = pl.DataFrame({"fate": ["accepted", "set aside"], "reason": ["", "don't know"]})
    assert ledger_from("component answers", fates).n_read == 2
    said = pl.DataFrame({"respondent": ["1"], "column": ["when"], "text": ["Ann 19"]})
    assert not_understood(said)["text"].to_list() == ["… 00"]
