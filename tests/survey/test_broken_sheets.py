"""Whatever happened to an answer sheet, each row is accounted for, or one line says why not."""

from pathlib import Path

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal
from survey.broken_sheets import BREAKAGES, N_ANSWERS, Breakage, clean_rows, club

from wornby.cli import main
from wornby.errors import RecordError
from wornby.survey.answers import Survey, read_survey


@pytest.fixture(scope="module")
def clean(tmp_path_factory: pytest.TempPathFactory) -> Survey:
    """The sheet as nothing has broken it."""
    return read_survey(club(tmp_path_factory.mktemp("clean"), BREAKAGES[0], clean_rows()))


def test_there_are_more_than_fifty_ways() -> None:
    assert len({b.name for b in BREAKAGES}) == len(BREAKAGES) > 50


@pytest.mark.parametrize(
    "breakage", [b for b in BREAKAGES if b.refused is None], ids=lambda b: b.name
)
def test_a_broken_sheet_is_read_with_every_row_accounted_for(
    tmp_path: Path, breakage: Breakage, clean: Survey
) -> None:
    survey = read_survey(club(tmp_path, breakage, clean_rows()))
    answers, odometers = survey.ledgers[:2]
    assert answers.n_read == N_ANSWERS + breakage.more
    assert answers.n_accepted == answers.n_read - breakage.lost
    assert survey.problems.filter(pl.col("column") == "odometer_mi").height == (
        odometers.n_read - odometers.n_accepted
    )
    assert odometers.n_read - odometers.n_accepted == breakage.no_odometer
    assert survey.components is not None
    assert survey.components.ledger.n_read == 2 * answers.n_read
    if breakage.same:
        assert_frame_equal(survey.answers, clean.answers)
        assert_frame_equal(survey.dates, clean.dates)
        assert clean.components is not None
        assert_frame_equal(survey.components.renewals, clean.components.renewals)


@pytest.mark.parametrize(
    "breakage", [b for b in BREAKAGES if b.refused is not None], ids=lambda b: b.name
)
def test_a_sheet_that_cannot_be_read_is_refused_in_one_line(
    tmp_path: Path, breakage: Breakage, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = club(tmp_path, breakage, clean_rows())
    with pytest.raises(RecordError, match=breakage.refused):
        read_survey(folder)
    assert main(["survey", str(folder)]) == 1
    said = capsys.readouterr().err
    assert said.startswith("wornby: ")
    assert said.count("\n") == 1
    assert "answers" in said or "survey" in said
    assert len(said) < 600


def named(name: str) -> Breakage:
    """One of the breakages."""
    return next(b for b in BREAKAGES if b.name == name)


@pytest.mark.parametrize(
    "name",
    ["days as a spreadsheet's numbers", "days shown as dates", "days in six ways of writing"],
)
def test_the_first_of_july_is_the_same_day_however_it_is_written(
    tmp_path: Path, name: str, clean: Survey
) -> None:
    dates = read_survey(club(tmp_path, named(name), clean_rows())).dates
    assert (dates["bought_low"] == dates["bought_high"]).all()
    assert (dates["bought_low"] - clean.dates["bought_low"]).is_between(181, 182).all()


def test_kilometres_are_miles_once_read(tmp_path: Path, clean: Survey) -> None:
    told = read_survey(club(tmp_path, named("kilometres by the layout"), clean_rows()))
    assert told.answers["odometer_mi"].to_list() == pytest.approx(
        clean.answers["odometer_mi"].to_list(), abs=1
    )


def test_a_time_stamp_is_the_day_of_the_answer(tmp_path: Path) -> None:
    """2024-12-10 is day 20,067 since 1970."""
    dates = read_survey(club(tmp_path, named("time stamps of a form service"), clean_rows())).dates
    assert dates["answered_low"].to_list() == [20_067.0 + n for n in range(N_ANSWERS)]


def test_who_does_not_want_to_be_shown_is_counted_and_never_shown(tmp_path: Path) -> None:
    rows = clean_rows()
    rows[2][3], rows[0][3] = "lots, says Ann of Saltmarsh", "lots, says Bob"
    rows[2][7] = "when Ann drove"
    survey = read_survey(club(tmp_path, BREAKAGES[0], rows))
    assert survey.answers["share"].value_counts().sort("share").rows() == [("no", 4), ("yes", 8)]
    share = next(ledger for ledger in survey.ledgers if ledger.what == "happy to share")
    assert share.set_aside == {"asked not to be shown alone": 4}
    assert survey.components is not None
    shown = survey.problems.write_csv() + survey.components.unread.write_csv()
    assert "Bob" in shown
    assert "Ann" not in shown
    assert survey.answers.height == N_ANSWERS


HARM = st.lists(
    st.tuples(
        st.sampled_from(["other byte", "cut", "twice", "signs"]),
        st.integers(0, 3_000),
        st.binary(min_size=1, max_size=3)
        | st.sampled_from([b'"', b",", b";", b"\t", b"\n", b"\r"]),
    ),
    min_size=1,
    max_size=5,
)
SAVED = ("clean", "semicolons", "UTF-16, little end first", "all cells quoted", "Parquet")


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The clean sheet's bytes in several forms."""
    made = {}
    for name in SAVED:
        folder = club(tmp_path_factory.mktemp("saved"), named(name), clean_rows())
        made[name] = next(folder.glob("answers*")).read_bytes()
    return made


def harmed(raw: bytes, harm: list[tuple[str, int, bytes]]) -> bytes:
    """A file with some of its bytes changed, cut, doubled or added."""
    for what, place, signs in harm:
        at = place % (len(raw) + 1)
        after = {"other byte": at + 1, "cut": at + 30, "twice": at - 50, "signs": at}[what]
        raw = raw[:at] + (b"" if what in ("cut", "twice") else signs) + raw[max(after, 0) :]
    return raw


def read_or_told(folder: Path) -> Survey | str:
    """The survey, or what is said where its file is refused."""
    try:
        return read_survey(folder)
    except RecordError as error:
        return str(error)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(name=st.sampled_from(SAVED), harm=HARM)
def test_whatever_happens_to_its_bytes_a_sheet_is_accounted_for_or_refused_in_one_line(
    tmp_path: Path, saved: dict[str, bytes], name: str, harm: list[tuple[str, int, bytes]]
) -> None:
    (tmp_path / "layout.toml").write_text(BREAKAGES[0].layout)
    (tmp_path / "answers").write_bytes(harmed(saved[name], harm))
    found = read_or_told(tmp_path)
    if isinstance(found, str):
        assert "\n" not in found
        assert found.startswith(("answers", "survey"))
        return
    answers = found.ledgers[0]
    others = [*answers.set_aside.values(), *answers.rejected.values()]
    assert answers.n_read == answers.n_accepted + sum(others)
    assert found.answers.height == answers.n_accepted > 0
