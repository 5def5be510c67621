"""The files say what happened, and the labels what the files say."""

import polars as pl
from scipy import stats

from wornby.demo import Records
from wornby.demo.export import NEW_FILE, OLD_FILE
from wornby.demo.items import REASON

JOB = ["registration", "date"]


def heads(records: Records) -> pl.DataFrame:
    """file, row, job of every line, with its text, kind and part number."""
    old = records.files[OLD_FILE].select(
        job="Invoice", kind="Type", text="Description", part_number="Part no"
    )
    new = records.files[NEW_FILE].select(
        job="job_no", kind="line_type", text="description", part_number="part_number"
    )
    return pl.concat(
        frame.with_row_index("row", offset=2).with_columns(
            file=pl.lit(name), row=pl.col("row").cast(pl.Int64)
        )
        for name, frame in ((OLD_FILE, old), (NEW_FILE, new))
    )


def told(records: Records) -> pl.DataFrame:
    """The labels with their line and visit."""
    labels = records.truth["labels.csv"].join(heads(records), on=["file", "row"])
    return labels.join(records.truth["visits.csv"], on="job")


def renewals(records: Records) -> pl.DataFrame:
    """Fitments that ended at the workshop, by visit."""
    ended = records.truth["fitments.csv"].filter(
        ~pl.col("how").is_in(["in service", "failure elsewhere"])
    )
    return ended.rename({"ended_on": "date"})


def test_every_renewal_told_was_made(clean: Records) -> None:
    said = told(clean).filter(pl.col("action") == "renewed")
    assert said.height > 1_000
    unmade = said.join(renewals(clean), on=[*JOB, "component"], how="anti")
    assert unmade.is_empty()


def test_a_side_is_told_only_if_that_side_was_renewed(clean: Records) -> None:
    said = told(clean).filter(pl.col("action") == "renewed").drop_nulls("position")
    assert said.height > 100
    assert said.join(renewals(clean), on=[*JOB, "component", "position"], how="anti").is_empty()


def test_every_renewal_made_is_told_in_labour_and_in_parts(clean: Records) -> None:
    said = told(clean).filter(pl.col("action") == "renewed")
    for kinds in (["Lab", "labour"], ["Prt", "part"]):
        lines = said.filter(pl.col("kind").is_in(kinds))
        assert renewals(clean).join(lines, on=[*JOB, "component"], how="anti").is_empty()


def test_a_reason_told_is_the_true_one(clean: Records) -> None:
    said = told(clean).filter(pl.col("action") == "renewed", pl.col("reason") != "unknown")
    made = renewals(clean).group_by([*JOB, "component"]).agg(pl.col("how").unique())
    joined = said.join(made, on=[*JOB, "component"])
    assert joined.select(pl.col("reason").is_in(pl.col("how")).all()).item()


def test_one_precaution_in_ten_goes_unexplained_and_no_failure_does(clean: Records) -> None:
    said = told(clean).filter(pl.col("kind").is_in(["Prt", "part"]), pl.col("action") == "renewed")
    made = renewals(clean).unique([*JOB, "component"], keep="none")
    silent = said.join(made, on=[*JOB, "component"]).filter(pl.col("reason") == "unknown")
    assert set(silent["how"]) == {"preventive renewal"}
    precautions = made.filter(pl.col("how") == "preventive renewal")
    assert 0.02 < silent.height / precautions.height < 0.15


def test_a_finding_is_what_the_part_was_renewed_for_or_left_with(clean: Records) -> None:
    found = told(clean).filter(pl.col("action") == "failed")
    failed = renewals(clean).filter(pl.col("how") == "failure")
    assert found.height > 100
    assert found.join(failed, on=[*JOB, "component"], how="anti").is_empty()
    worn = told(clean).filter(pl.col("action") == "degraded")
    renewed = renewals(clean).filter(pl.col("how") == "degraded finding")
    advised = looks(clean).filter(pl.col("condition") == "Advisory")
    for known in (renewed, advised):
        worn = worn.join(known, on=[*JOB, "component"], how="anti")
    assert worn.is_empty()


def test_the_grade_told_is_the_grade_fitted(clean: Records) -> None:
    said = told(clean).filter(pl.col("grade").is_not_null(), pl.col("grade") != "unknown")
    fitted = clean.truth["fitments.csv"].filter(~pl.col("original"))
    fitted = fitted.select("registration", "component", "grade", date="fitted_on").unique()
    assert said.join(fitted, on=[*JOB, "component", "grade"], how="anti").is_empty()


def test_the_grade_is_told_by_the_beginning_of_the_part_number(clean: Records) -> None:
    said = told(clean).drop_nulls("part_number")
    letters = {"genuine": "MRW", "original-equipment": "OEQ", "aftermarket": "PAT"}
    assert said.height > 500
    assert (said["grade"].replace_strict(letters) == said["part_number"].str.head(3)).all()


def test_one_part_number_in_seven_is_missing(clean: Records) -> None:
    parts = told(clean).filter(pl.col("kind").is_in(["Prt", "part"]))
    low, high = stats.binom.interval(1 - 1e-4, parts.height, 0.15)
    assert low <= parts["part_number"].null_count() <= high


def test_nothing_is_called_sound_in_the_job_that_renews_it(clean: Records) -> None:
    said = told(clean)
    sound, renewed = (said.filter(pl.col("action") == a) for a in ("sound", "renewed"))
    assert sound.height > 100
    assert sound.join(renewed, on=["job", "component"], how="semi").is_empty()


def test_lines_of_other_parts_name_no_component(clean: Records) -> None:
    decoys = [
        "fridge thermostat",
        "washer pump",
        "engine mount",
        "brake flexi",
        "master cyl",
        "rear arb",
    ]
    lines = heads(clean).filter(pl.col("text").str.to_lowercase().str.contains("|".join(decoys)))
    labelled = lines.join(clean.truth["labels.csv"], on=["file", "row"], how="semi")
    assert lines.height > 20
    assert labelled.is_empty()


def test_some_lines_name_three_components(dirty: Records) -> None:
    named = dirty.truth["labels.csv"].group_by("file", "row").agg(pl.col("component").n_unique())
    assert named.filter(pl.col("component") >= 3).height > 50


def test_labels_keep_to_their_words(dirty: Records) -> None:
    labels = dirty.truth["labels.csv"]
    assert set(labels["action"]) == {"renewed", "sound", "degraded", "failed", "none"}
    assert set(labels["reason"].drop_nulls()) == {*REASON.values(), "unknown"}
    said = labels.filter(pl.col("action") == "renewed")
    assert said["reason"].null_count() == said["grade"].null_count() == 0
    assert labels.filter(pl.col("action") != "renewed")["reason"].drop_nulls().is_empty()


PLACE = ["registration", "component", "position"]


def looks(records: Records) -> pl.DataFrame:
    """The inspections, in the words of the truth."""
    sides = {"N/S": "left", "O/S": "right"}
    return records.files["inspections.xlsx"].select(
        registration="Reg",
        date="Date",
        component="Item",
        position=pl.col("Side").replace_strict(sides, default=None),
        condition="Condition",
        origin="Original part?",
    )


def looks_at_originals(records: Records) -> pl.DataFrame:
    """Those that had the original part before them."""
    fitted = records.truth["fitments.csv"].filter("original")
    there = looks(records).join(fitted, on=PLACE, nulls_equal=True)
    return there.filter(pl.col("ended_on").is_null() | (pl.col("ended_on") >= pl.col("date")))


def test_an_inspection_never_calls_a_renewed_part_original(clean: Records) -> None:
    said = looks(clean).filter(pl.col("origin") == "Yes")
    assert said.height > 3_000
    assert looks_at_originals(clean).filter(pl.col("origin") == "Yes").height == said.height


def test_nine_vans_in_ten_are_looked_over_when_they_first_come(clean: Records) -> None:
    first = clean.truth["visits.csv"].group_by("registration").agg(pl.col("date").min())
    intake = looks(clean).join(first, on=["registration", "date"], how="semi")
    low, high = stats.binom.interval(1 - 1e-4, 300, 0.9)
    assert low <= intake["registration"].n_unique() <= high
    assert (intake.group_by("registration").len()["len"] == 16).all()


def test_a_part_found_failed_is_renewed_that_day(clean: Records) -> None:
    failed = looks(clean).filter(pl.col("condition") == "Fail")
    assert failed.height > 20
    assert failed.join(
        renewals(clean), on=[*PLACE, "date"], how="anti", nulls_equal=True
    ).is_empty()


def test_originals_are_known_as_such_nineteen_times_in_twenty(clean: Records) -> None:
    looks = looks_at_originals(clean).drop_nulls("origin")
    low, high = stats.binom.interval(1 - 1e-4, looks.height, 0.95)
    assert low <= looks.filter(pl.col("origin") == "Yes").height <= high


def test_the_survey_has_its_respondents_and_three_answers(clean: Records) -> None:
    survey = clean.files["survey.csv"]
    assert survey.height == 130
    for name in ("water pump", "coolant transfer pipe"):
        assert set(survey[name]) == {"original", "renewed", "don't know"}
        when = survey.drop_nulls(f"{name}, when")
        assert set(when[name]) == {"renewed"}
        assert when[f"{name}, when"].str.contains(r"^(about )?20\d\d$").all()


def test_vans_on_the_road_only_become_fewer(clean: Records) -> None:
    vans = clean.files["population.csv"].sort("model_year", "version", "calendar_year")
    fall = vans["vans"].diff().filter(vans["calendar_year"].diff() == 1)
    assert fall.len() > 300
    assert (fall <= 0).all()
