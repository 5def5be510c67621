"""What answers say, on the demo and on workshops that lack something."""

import shutil
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from wornby.curves.profile import b_life
from wornby.errors import EstimateError
from wornby.reports.bar_figures import draw_expected, draw_prices
from wornby.reports.comparison_answers import grade_answer, grades_told_apart
from wornby.reports.expected_answers import expected_answer
from wornby.reports.left_out import where_stated
from wornby.reports.life_answers import life_answer
from wornby.reports.life_figures import draw_lives
from wornby.reports.owner_letter import owner_findings
from wornby.reports.price_answers import price_answer
from wornby.reports.ramp import Ramp, while_open_advice
from wornby.reports.ramp_card import ramp_card_answer
from wornby.reports.records_answers import problem_answer
from wornby.reports.renewal_answers import renewal_age_answer
from wornby.reports.rule_answers import rule_answer
from wornby.reports.sentences import Sentences
from wornby.reports.stock_answers import stock_answer
from wornby.reports.while_open_answers import bundle_answer, card_answer
from wornby.reports.workshop import Workshop, open_workshop
from wornby.reports.yearly_pace import Pace

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="module")
def demo() -> Workshop:
    """The demo, opened."""
    return open_workshop(DEMO, confidence=0.90, seed=1)


def changed(to: Path, old: str, new: str, name: str = "workshop.toml") -> Workshop:
    """The demo with one thing written differently."""
    folder = shutil.copytree(DEMO, to / "changed", ignore=shutil.ignore_patterns("truth"))
    text = (folder / name).read_text()
    assert old in text
    (folder / name).write_text(text.replace(old, new, 1))
    return open_workshop(folder, confidence=0.90, seed=1)


def test_the_table_for_people_and_the_typed_one_tell_the_same(demo: Workshop) -> None:
    answer = life_answer(demo)
    pump = answer.frame.row(by_predicate=pl.col("component") == "water pump", named=True)
    curve = demo.original["water pump"].weibull
    assert curve is not None
    assert pump["b10_value"] == b_life(curve, 0.10, confidence=0.90).value
    told = answer.people.row(by_predicate=pl.col("component") == "water pump", named=True)
    assert f"{pump['b10_value']:.1f} (" in told["B10 life (90% interval)"]


def test_a_stricter_risk_never_lowers_the_floor_price(demo: Workshop, tmp_path: Path) -> None:
    strict = changed(tmp_path, "job_loss_risk = 0.10", "job_loss_risk = 0.01")
    before, after = (price_answer(w).frame for w in (demo, strict))
    assert (after["floor_price_net"] >= before["floor_price_net"] - 1e-9).all()
    assert set(after["verdict"]) > {"offer"}


def test_cheap_copies_that_come_back_cost_a_fixed_price_more(tmp_path: Path) -> None:
    """Common practice, no source: cheap copies are often back within a year or two."""
    longer = changed(
        tmp_path,
        'renews = ["thermostat"]\ngrade = "aftermarket"\nwarranty_months = 12',
        'renews = ["thermostat"]\ngrade = "aftermarket"\nwarranty_months = 36',
    )
    frame = price_answer(longer).frame
    by_copy = frame.row(by_predicate=pl.col("job") == "thermostat by itself", named=True)
    shutil.rmtree(tmp_path / "changed")
    genuine = changed(
        tmp_path,
        'renews = ["thermostat"]\ngrade = "aftermarket"\nwarranty_months = 12',
        'renews = ["thermostat"]\ngrade = "genuine"\nwarranty_months = 36',
    )
    frame = price_answer(genuine).frame
    by_maker = frame.row(by_predicate=pl.col("job") == "thermostat by itself", named=True)
    copy_cost, maker_cost = (
        genuine.catalogue.component("thermostat").part_cost_net[grade]
        for grade in ("aftermarket", "genuine")
    )
    beyond_the_part = by_copy["cost_mean_net"] - copy_cost
    assert beyond_the_part > by_maker["cost_mean_net"] - maker_cost + 10.0


def test_expected_failures_stand_beside_those_of_past_years(demo: Workshop) -> None:
    answer = expected_answer(demo)
    total = answer.frame.row(by_predicate=pl.col("component") == "all together", named=True)
    past = answer.people.filter(component="all together")["each of the last 3 years"].item()
    yearly = [int(n) for n in past.split(", ")]
    assert len(yearly) == 3
    assert 0.6 * min(yearly) < total["expected_failures"] < 1.5 * max(yearly)


def test_aftermarket_parts_are_found_to_fail_sooner(demo: Workshop) -> None:
    """The demo's truth: aftermarket parts live 0.4 of the others' scale, shape 1.2."""
    told = grade_answer(demo).frame.filter(pl.col("p_value_held") < 0.05)
    sooner = told.filter(pl.col("failures_per_100_years") > pl.col("others_per_100_years"))
    assert sooner.height >= 5
    assert set(sooner["grade"]) == {"aftermarket"}


def test_an_owner_reads_how_sure_a_grade_is_and_an_analyst_its_p_value(demo: Workshop) -> None:
    words, numbers = grade_answer(demo), grade_answer(demo, p_values=True)
    verdicts = words.people["against the others"].to_list()
    assert words.frame.equals(numbers.frame)
    assert "fails sooner (beyond doubt)" in verdicts
    assert not any("p " in verdict for verdict in verdicts)
    assert not any("log-rank" in note or "Holm" in note for note in words.notes)
    assert "each against all the others" in numbers.title
    assert "below 0.001" in numbers.people["p"].to_list()
    assert not {"p", "p, held to account"} & set(words.people.columns)
    assert any("log-rank" in note for note in numbers.notes)
    for row in words.frame.drop_nulls("p_value").to_dicts():
        assert row["p_value"] <= row["p_value_held"]
        assert (row["how_sure"] == "not enough to tell") == (row["p_value_held"] >= 0.05)


def test_the_letter_shows_the_grades_that_differ_and_counts_the_others(demo: Workshop) -> None:
    every = grade_answer(demo)
    told = grades_told_apart(every)
    rest = every.frame.height - told.frame.height
    assert 0 < told.frame.height == told.people.height
    assert rest > 0
    assert told.notes[0].startswith(f"Of {rest} other grades there is not enough to tell")
    shown = told.people["against the others"].to_list()
    assert all(text.startswith(("fails sooner", "lasts longer")) for text in shown)
    nothing = replace(every, frame=every.frame.with_columns(p_value_held=pl.lit(1.0)))
    assert grades_told_apart(nothing) is nothing


def test_where_none_failed_early_the_limit_is_called_one_sided(demo: Workshop) -> None:
    answer = grade_answer(demo, p_values=True)
    told = zip(
        answer.frame["early_share_value"], answer.people["failed within 24 months"], strict=True
    )
    assert {text.startswith("at most ") == (share == 0) for share, text in told} == {True}
    assert any("“at most” is one-sided" in note for note in answer.notes)


@pytest.mark.parametrize(
    ("n", "told"),
    [(0, "0 of 6 parts are"), (1, "1 of 6 parts is"), (6, "6 of 6 parts are")],
)
def test_one_part_and_several_are_told_apart(demo: Workshop, n: int, told: str) -> None:
    card = ramp_card_answer(demo, age_years=14.0, horizon_years=3.0)
    rows = card.frame.filter(~pl.col("safety") & pl.col("pays_while_open")).head(6)
    some = rows.with_row_index().with_columns(pays_while_open=pl.col("index") < n)
    stock = stock_answer(demo)
    total = pl.col("component") == "all together"
    kept = stock.frame.filter(total | (pl.col("least_cost") == 1)).with_columns(
        least_cost=pl.when(total).then(n).otherwise(pl.lit(int(n > 0)))
    )
    said = repr(
        owner_findings(
            demo,
            prices=price_answer(demo),
            expected=expected_answer(demo, months=3),
            ages=renewal_age_answer(demo),
            lives=life_answer(demo),
            grades=grade_answer(demo),
            card=replace(card, frame=some),
            stock=replace(stock, frame=kept),
        )
    )
    parts = {0: "No part is worth keeping", 1: "Keep 1 part on", 6: "Keep 6 parts on"}
    assert parts[n] in said
    assert (f"{told} worth renewing while" in said) == (n > 0)
    assert ("No part is known to be worth renewing while its access is open" in said) == (n == 0)


def test_a_belt_done_two_years_ago_is_left_alone(demo: Workshop) -> None:
    fresh = Ramp(
        14.0,
        Pace(7_500.0, "miles"),
        3.0,
        {"timing belt": 2.0, "belt tensioner": 2.0, "water pump": 2.0},
    )
    told = while_open_advice(demo, "timing cover off", fresh, failed="thermostat")
    assert told.advice.best == ()
    worn = Ramp(14.0, Pace(7_500.0, "miles"), 3.0, {})
    told = while_open_advice(demo, "timing cover off", worn, failed="thermostat")
    assert "timing belt" in told.advice.best


def test_a_degraded_safety_part_is_in_every_choice_shown(demo: Workshop) -> None:
    told = while_open_advice(
        demo,
        "front subframe down",
        Ramp(8.0, Pace(7_500.0, "miles"), 3.0, {}),
        failed=None,
        degraded=frozenset({"brake pipe above the axle"}),
    )
    shown = bundle_answer(demo, told).people["renew now"]
    assert shown.str.contains("brake pipe above the axle").all()
    assert any("Brakes" in note for note in card_answer(demo, told).notes)


def test_a_safety_part_is_never_run_to_failure(demo: Workshop) -> None:
    people = renewal_age_answer(demo).people
    pipe = people.row(by_predicate=pl.col("component") == "brake pipe above the axle")
    assert "by inspection" in pipe[1]


@pytest.mark.parametrize(
    ("age", "miles", "horizon", "said"),
    [
        (140.0, 7_500.0, 3.0, "age 140: wanted above 0, at most 100"),
        (14.0, -5.0, 3.0, "miles a year -5"),
        (14.0, 7_500.0, 0.0, "horizon in years 0"),
    ],
)
def test_what_no_vehicle_can_be_is_refused(
    age: float, miles: float, horizon: float, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        Ramp(age, Pace(miles, "miles"), horizon, {})


def test_a_component_never_seen_is_said_and_the_rest_answered(tmp_path: Path) -> None:
    wheel = (
        '[[component]]\nname = "spare wheel"\nwords = ["spare wheel"]\n'
        'access_group = "timing cover off"\nown_hours = 0.2\nfailure_consequence_net = 10.0\n'
        "part_price_net = {genuine = 90.0}\npart_cost_net = {genuine = 60.0}\n\n"
        '[[component]]\nname = "timing belt"'
    )
    workshop = changed(tmp_path, '[[component]]\nname = "timing belt"', wheel)
    told = while_open_advice(
        workshop,
        "timing cover off",
        Ramp(14.0, Pace(7_500.0, "miles"), 3.0, {}),
        failed="thermostat",
    )
    assert told.left_out == () or "spare wheel" in told.left_out[0]
    answer = renewal_age_answer(workshop)
    assert "timing belt" in answer.people["component"].to_list()


def test_without_inspections_the_way_out_is_named(tmp_path: Path) -> None:
    folder = shutil.copytree(DEMO, tmp_path / "bare", ignore=shutil.ignore_patterns("truth"))
    files = (folder / "layout.toml").read_text().split("[[file]]")
    kept = [text for text in files if 'table = "inspections"' not in text]
    (folder / "layout.toml").write_text("[[file]]".join(kept))
    workshop = open_workshop(folder, confidence=0.90, seed=1)
    with pytest.raises(EstimateError, match="first visit, taken as original"):
        life_answer(workshop)
    with pytest.raises(EstimateError, match="first visit, taken as original"):
        expected_answer(workshop)
    assert rule_answer(workshop).frame.height > 0


def test_a_page_that_travels_names_rows_but_not_what_they_hold(demo: Workshop) -> None:
    at_the_door = repr(problem_answer(demo.records.problems, at_the_door=True))
    on_a_page = repr(problem_answer(demo.records.problems))
    registrations = demo.records.problems.filter(column="vehicle")["value"].drop_nulls().unique()
    assert any(name in at_the_door for name in registrations)
    assert not any(name in on_a_page for name in registrations)


def test_every_picture_says_in_words_what_it_shows(demo: Workshop) -> None:
    prices, expected = price_answer(demo), expected_answer(demo)
    assert "floor price" in draw_prices(prices, currency="GBP").alt
    assert "anti-roll bar bush" in draw_expected(expected).alt
    assert "half have failed by" in repr(draw_lives(demo.original, confidence=0.9))


def test_findings_quote_the_numbers_of_the_tables(demo: Workshop) -> None:
    prices, expected = price_answer(demo), expected_answer(demo)
    card = ramp_card_answer(demo, age_years=14.0, horizon_years=3.0)
    stock, ages = stock_answer(demo), renewal_age_answer(demo)
    said = repr(
        owner_findings(
            demo,
            prices=prices,
            expected=expected,
            ages=ages,
            lives=life_answer(demo),
            grades=grade_answer(demo),
            card=card,
            stock=stock,
        )
    )
    total = expected.frame.row(by_predicate=pl.col("component") == "all together", named=True)
    assert f"Expect {total['expected_failures']:.0f} ({total['lower']} to {total['upper']})" in said
    assert "None is asked below its floor." in said
    assert "13 parts are worth renewing while the access is open anyway, once old enough (the " in (
        said
    )
    assert said.count("(the safety part goes by inspection)") == 2
    belt = ages.people.filter(pl.col("component") == "timing belt")["renew at"].item()
    assert f"timing belt at {belt} (saves" in said
    shelf = stock.frame.row(by_predicate=pl.col("component") == "all together", named=True)
    assert f"Keep {shelf['least_cost']} parts on the shelf, worth " in said
    assert f"against £{shelf['none_cost_per_year_net']:,.0f} with none" in said
    most = stock.frame.filter(pl.col("component") != "all together").sort("least_cost")[-1]
    worse = stock.frame.filter("fails_sooner")["least_cost"].sum()
    assert f"{worse} of them, worth £" in said
    assert "are of grades that fail sooner than the others: keep another in their place" in said
    asked, days = most["asked_for_upper"].item(), most["lead_time_days"].item()
    assert f"{asked} asked for in an order's {days:g} days" in said
    first = card.frame.filter(~pl.col("safety")).sort("break_even_age_years", nulls_last=True)[0]
    failed = demo.original[first["component"].item()].counts.n_failures
    told = f"{first['component'].item()} from {first['says'].item()} ({first['access'].item()}; "
    assert f"{told}rests on {failed:.0f} failures)" in said


def test_a_report_goes_on_without_what_the_workshop_has_no_use_for(demo: Workshop) -> None:
    no_shelf = replace(demo.records, catalogue=replace(demo.catalogue, stock=None))
    assert "no [stock]" in repr(where_stated(stock_answer, replace(demo, records=no_shelf)))


def test_no_sentence_weighs_a_safety_part_by_money(demo: Workshop) -> None:
    ages = renewal_age_answer(demo)
    safety = ages.frame.filter("safety")["component"].to_list()
    told = owner_findings(
        demo,
        prices=price_answer(demo),
        expected=expected_answer(demo),
        ages=ages,
        lives=life_answer(demo),
        grades=grade_answer(demo),
        card=ramp_card_answer(demo, age_years=14.0, horizon_years=3.0),
        stock=Sentences(("Left out: no shelf.",)),
    ).sentences
    assert not any("shelf" in sentence for sentence in told)
    renewals = [sentence for sentence in told if "worth renewing" in sentence]
    assert safety
    assert len(renewals) == 2
    assert not any(name in sentence for name in safety for sentence in renewals)
