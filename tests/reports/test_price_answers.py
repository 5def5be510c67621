"""What the answers on fixed prices say of the demo."""

from dataclasses import replace

import polars as pl
import pytest

from wornby.decisions.price_question import candidates_done
from wornby.reports.answer import Answer
from wornby.reports.price_answers import price_answer
from wornby.reports.price_figures import draw_price_ladder
from wornby.reports.price_ladder_answers import price_ladder_answer
from wornby.reports.price_makeup_answers import found_work_answer, price_makeup_answer
from wornby.reports.price_version_answers import price_version_answer, versions_apart
from wornby.reports.record_value_answers import (
    record_sentence,
    record_value_answer,
    record_value_findings,
)
from wornby.reports.sentences import Sentences
from wornby.reports.workshop import Workshop

CLUTCH, VALVE = "clutch slave cylinder, gearbox out", "heater valve, dash out"
PIPE = "brake pipe above the axle"


def with_rules(workshop: Workshop, **rules: float) -> Workshop:
    """The same workshop judging its prices otherwise."""
    catalogue = workshop.catalogue
    assert catalogue.price_rules is not None
    told = replace(catalogue, price_rules=replace(catalogue.price_rules, **rules))
    return replace(workshop, records=replace(workshop.records, catalogue=told))


def test_every_version_has_its_price_with_tax_and_without(demo: Workshop) -> None:
    answer = price_version_answer(demo)
    frame = answer.frame
    assert frame.height == 6 * 3 == answer.people.height
    assert ((frame["floor_price_net"] * 1.2 - frame["floor_price_gross"]).abs() < 1e-9).all()
    assert ((frame["present_price_net"] * 1.2 - frame["present_price_gross"]).abs() < 1e-9).all()
    by_job = frame.group_by("job").agg(pl.col("past_jobs_of_version").sum(), pl.first("past_jobs"))
    assert by_job["past_jobs_of_version"].to_list() == by_job["past_jobs"].to_list()
    assert "counts as 0.3 of one on this" in answer.notes[0]
    told_once = any(note.startswith("Why, in every row: ") for note in answer.notes)
    assert told_once == (frame["reason"].n_unique() == 1) == ("why" not in answer.people.columns)


def test_a_version_with_few_jobs_of_its_own_is_wide_not_empty(demo: Workshop) -> None:
    def widths(workshop: Workshop) -> pl.DataFrame:
        frame = price_version_answer(workshop).frame
        return frame.filter(job=VALVE).with_columns(
            width=pl.col("cost_upper_net") - pl.col("cost_lower_net")
        )

    alone, shared = widths(with_rules(demo, other_version_weight=0.0)), widths(demo)
    assert (alone["past_jobs_of_version"] < 10).all()
    assert alone["floor_price_net"].is_not_null().all()
    assert (alone["width"] > shared["width"]).sum() >= 2


def test_on_a_phone_the_verdict_the_floor_and_what_is_asked_come_first(demo: Workshop) -> None:
    people = price_answer(demo).people
    assert people.columns[:4] == ["job", "verdict", "floor", "asked now"]
    longest = people.select(pl.col("floor", "asked now").str.len_chars().max()).row(0)
    assert max(longest) <= len("£1,234")


def test_the_ladder_marks_the_floor_and_what_is_asked(demo: Workshop) -> None:
    frame = price_ladder_answer(demo, CLUTCH).frame
    floor = price_answer(demo).frame.filter(job=CLUTCH)["floor_price_net"].item()
    assert frame.filter(what="asked now")["price_net"].to_list() == [760.0]
    assert frame.filter(what="floor")["price_net"].to_list() == [floor]
    assert frame["price_net"].is_sorted()
    assert frame["job_loss_chance"].is_sorted(descending=True)
    assert frame["year_profit_net"].is_sorted()
    assert frame["price_gross"].to_list() == pytest.approx((frame["price_net"] * 1.2).to_list())


def test_the_ladder_says_what_it_means_if_past_jobs_fitted_other_parts(demo: Workshop) -> None:
    (told,) = [note for note in price_ladder_answer(demo, CLUTCH).notes if note.startswith("Check")]
    assert told.startswith("Check: parts for this job are £88 today, past jobs used £")
    assert told.endswith("on average. If they fitted less, the floor is too high.")


def test_a_loss_that_no_simulated_job_made_is_not_called_impossible(demo: Workshop) -> None:
    ladder = price_ladder_answer(demo, CLUTCH)
    assert (ladder.frame["year_loss_chance"] == 0).any()
    told = {*ladder.people["chance of a loss over the year"], *ladder.people["margin"]}
    assert "below 0.1\u00a0%" in told
    assert "0\u00a0%" not in told


def test_the_makeup_sums_to_the_mean_cost(demo: Workshop) -> None:
    answer = price_makeup_answer(demo, CLUTCH)
    total = answer.frame.filter(cost_of="all together")["mean_net"].item()
    parts = answer.frame.filter(pl.col("cost_of") != "all together")["mean_net"].sum()
    mean = price_answer(demo).frame.filter(job=CLUTCH)["cost_mean_net"].item()
    assert total == pytest.approx(parts)
    assert total == pytest.approx(mean, abs=2.0)
    shown = repr(answer)
    assert "6.0 by the book" in shown
    assert "bleed clutch, gearbox oil" in shown
    assert "with heater matrix seals" in repr(price_makeup_answer(demo, "heater matrix, dash out"))


def test_a_gearbox_down_turns_up_a_brake_pipe_at_its_own_chance_and_price(demo: Workshop) -> None:
    """Common practice, no source: it is found corroded there, and it is a safety part."""
    answer = found_work_answer(demo, CLUTCH)
    row = answer.frame.row(by_predicate=pl.col("component") == PIPE, named=True)
    done = candidates_done(demo.records, demo.histories)[CLUTCH]
    assert row["times_found"] == done["found"].list.contains(PIPE).sum() > 0
    assert row["chance"] == pytest.approx((row["times_found"] + 0.5) / (done.height + 1))
    # by hand: 1.2 h at 72, the part at 64, brakes bled for 0.6 h at 72 and 7 of fluid
    assert row["price_net"] == pytest.approx(1.2 * 72 + 64 + 0.6 * 72 + 7)
    assert row["safety"]
    assert any(note.startswith("Brakes") for note in answer.notes)
    assert any(f"{PIPE}: found degraded, it is renewed" in note for note in answer.notes)
    assert any(note.startswith("Brakes") for note in price_answer(demo).notes)


def test_what_was_never_found_has_an_upper_limit_only(demo: Workshop) -> None:
    answer = found_work_answer(demo)
    never = answer.frame.with_row_index().filter(times_found=0)
    assert (never["chance_lower"] == 0).all()
    # rule of three at 95 %: at most about 3 of n (Hanley & Lippman-Hand 1983); at 90 %, 2.3
    assert (never["chance_upper"] * never["past_jobs"] < 2.4).all()
    told = answer.people["chance"].gather(never["index"])
    assert told.str.starts_with("at most").all()


def test_exclusions_are_named_in_the_offer(demo: Workshop) -> None:
    """Found work that a stricter workshop will not carry is left out of its offers, by name."""
    catalogue = demo.catalogue
    assert catalogue.money is not None
    strict = replace(catalogue, money=replace(catalogue.money, job_loss_risk=0.01))
    careful = replace(demo, records=replace(demo.records, catalogue=strict))
    dear = with_rules(careful, most_loading_share=0.015)
    rows = price_answer(dear).frame.filter(verdict="offer with stated exclusions")
    assert rows.height
    assert rows["reason"].str.contains("leave out work found on").all()
    (job, *_) = rows["job"]
    notes = price_ladder_answer(dear, job).notes
    assert any(note.startswith("Leave out, and say so in the offer") for note in notes)


def test_past_costs_are_brought_to_today_by_the_lists_or_named(demo: Workshop) -> None:
    (sentence,) = [n for n in price_answer(demo).notes if "by the price list of its day" in n]
    done = candidates_done(demo.records, demo.histories).values()
    restated = sum(past["restated_net"].sum() for past in done)
    assert f"£{restated:,.0f} is brought" in sentence
    bare = replace(demo.records, catalogue=replace(demo.catalogue, price_lists=()))
    notes = price_answer(replace(demo, records=bare)).notes
    assert any("no [[price_list]]" in note and "stand as paid" in note for note in notes)


def test_jobs_called_off_make_a_price_dearer_and_are_told(demo: Workshop) -> None:
    none = with_rules(demo, cancelled_share=0.0)
    often = with_rules(demo, cancelled_share=0.5, cancellation_cost_net=40.0)
    before, after = (price_answer(w).frame["cost_mean_net"] for w in (none, often))
    assert (after - before).to_list() == pytest.approx([40.0] * 6, abs=3.0)
    assert any("not in the price" in note for note in price_answer(none).notes)
    assert any("50\u00a0% are taken to be called off" in note for note in price_answer(often).notes)


def test_more_records_are_told_in_money_and_in_words(demo: Workshop) -> None:
    answer = record_value_answer(demo, VALVE)
    frame = answer.frame
    assert frame["n_records"].to_list() == [1, 10]
    floor = price_answer(demo).frame.filter(job=VALVE)["floor_price_net"].item()
    assert frame["floor_now_net"].to_list() == [floor, floor]
    assert (frame["floor_lower_net"] <= floor).all()
    assert (frame["floor_upper_net"] >= floor).all()
    assert (frame["doubt_then_net"] <= frame["doubt_now_net"]).all()
    (unchanged,) = [note for note in answer.notes if note.startswith("Neither one more record")]
    assert unchanged.count(VALVE) == 1
    assert unchanged.endswith("asking today's price stays the better one.")
    nothing = {
        "n_records": 1,
        "keeps_price": True,
        "value_net_per_year": 0.0,
        "changes_chance": 0.0,
    }
    assert record_sentence(nothing, "GBP").startswith("One more record would not change")
    little = {**nothing, "changes_chance": 0.1}
    assert "less than £1 a year: asking" in record_sentence(little, "GBP")
    some = {**nothing, "n_records": 10, "value_net_per_year": 35.0, "changes_chance": 0.2}
    assert "about £35 a year: asking today's price" in record_sentence(some, "GBP")


def test_the_picture_says_in_words_what_it_shows(demo: Workshop) -> None:
    costs, profits = draw_price_ladder(demo, CLUTCH).drawings
    floor = price_answer(demo).frame.filter(job=CLUTCH)["floor_price_net"].item()
    assert f"the floor is £{floor:,.0f}, £760 is asked now" in costs.alt
    assert "profit of next year £" in profits.alt
    assert costs.svg.count("<path") > 20


def test_an_unknown_job_is_named_with_those_there_are(demo: Workshop) -> None:
    with pytest.raises(ValueError, match=r"no fixed-price job 'turbo'.*heater valve, dash out"):
        price_ladder_answer(demo, "turbo")


def test_the_owner_sees_only_versions_that_need_a_price_of_their_own(demo: Workshop) -> None:
    prices = price_answer(demo)
    alike = versions_apart(demo, prices)
    assert isinstance(alike, Sentences)
    assert "On no version does a job's floor lie more than 5" in repr(alike)
    job = prices.frame["job"][0]
    half = pl.col("floor_price_net") * pl.when(pl.col("job") == job).then(0.5).otherwise(1.0)
    apart = versions_apart(demo, replace(prices, frame=prices.frame.with_columns(half)))
    assert isinstance(apart, Answer)
    assert set(apart.frame["job"]) == set(apart.people["job"]) == {job}


def test_what_records_are_worth_is_told_in_a_sentence_where_nothing_would_change(
    demo: Workshop,
) -> None:
    told = record_value_findings(demo).sentences
    notes = record_value_answer(demo).notes
    assert all(sentence in notes for sentence in told)
