"""Past jobs of one kind, and what each cost the workshop."""

import polars as pl

from wornby.decisions.costs_of_jobs import PAST_JOBS
from wornby.decisions.price_lists import VISIT, at_todays_costs
from wornby.histories.counts import DAYS_PER_YEAR
from wornby.histories.fitments import Histories
from wornby.records.catalogue import CandidateJob, Catalogue
from wornby.records.reading import Records

FOR_CAUSE = ("failure", "degraded finding")


def past_jobs(
    records: Records, made: Histories, job: CandidateJob, *, labour_cost_per_hour: float
) -> pl.DataFrame:
    """Jobs that renewed what this one renews, with the columns of `costs_of_jobs.PAST_JOBS`.

    Besides those, the date, what was found, and how much of the found work, the comebacks and
    the consumables is restated by a price list (`restated_net`) or stands as paid then
    (`as_paid_net`). Labour is counted at today's cost of an hour.

    A neighbour renewed on lines of its own does not count to the job, unless it had failed or
    was degraded and lies behind the same strip-down or is revealed by it: then it is found
    work. Visits are left out whose line tells of a neighbour, too, since the two cannot be
    parted, and those that book the strip-down (the longest line on any component) to a
    neighbour: there the job was done in passing. Ordinary service is not counted, and
    consumables only where the whole visit was for this job; their mean there stands in
    elsewhere.
    """
    visits = _visits_renewing(records.sightings, job, records.catalogue)
    billed = records.lines.join(visits, on=VISIT, how="semi")
    today = at_todays_costs(billed, records.sightings, records.catalogue)
    lines = _marked(today.join(visits, on=VISIT, how="inner"), job)
    whole = lines.join(_visits_for_the_job(lines), on=VISIT, how="semi")
    costs = _costs(whole, labour_cost_per_hour)
    comebacks = _comebacks(records, made, job, labour_cost_per_hour)
    told = (
        costs.filter(pl.col("labour_hours") > 0)
        .join(records.vehicles.select("vehicle", "version"), on="vehicle", how="left")
        .join(comebacks, on=["vehicle", "date"], how="left")
        .sort("date", "job")
    )
    usual = pl.col("other_cost_net").mean()
    return told.select(
        "date",
        *(pl.col(name) for name in PAST_JOBS.columns if name != "other_cost_net"),
        pl.col("other_cost_net").fill_null(usual),
        "found",
        restated_net=pl.col("restated_net") + pl.col("back_restated_net").fill_null(0.0),
        as_paid_net=pl.col("as_paid_net") + pl.col("back_as_paid_net").fill_null(0.0),
    )


def jobs_of_late(records: Records, past: pl.DataFrame, *, years: int) -> tuple[int, float]:
    """How many of these past jobs fell in the last years, and how many years the records cover."""
    close = pl.lit(records.catalogue.records_until)
    since = close.dt.offset_by(f"-{years}y")
    span = records.visits.select((close - pl.col("date").min()).dt.total_days()).item()
    covered = min(float(years), (span or 0) / DAYS_PER_YEAR)
    return past.filter(pl.col("date") > since).height, max(covered, 1 / 12)


def _visits_renewing(
    sightings: pl.DataFrame, job: CandidateJob, catalogue: Catalogue
) -> pl.DataFrame:
    """Visits that renewed every position of every component of the job, with what was found."""
    renewed = sightings.filter((pl.col("seen") == "renewed") & pl.col("job").is_not_null())
    wanted = sum(max(len(catalogue.component(name).positions), 1) for name in job.renews)
    ours = pl.col("component").is_in(list(job.renews))
    behind = pl.col("component").is_in(in_sight(job, catalogue))
    found = behind & ~ours & pl.col("reason").is_in(FOR_CAUSE)
    return (
        renewed.group_by(VISIT)
        .agg(
            places=pl.struct("component", "position").filter(ours).n_unique(),
            found=pl.col("component").filter(found).unique(),
        )
        .filter(pl.col("places") == wanted)
        .select(*VISIT, "found")
    )


def in_sight(job: CandidateJob, catalogue: Catalogue) -> list[str]:
    """What the job's strip-downs let one see: what lies behind them, and what they reveal."""
    groups = {catalogue.component(name).access_group for name in job.renews} - {None}
    behind = [c.name for c in catalogue.components.values() if c.access_group in groups]
    revealed = [n for g in groups if g for n in catalogue.access_groups[g].reveals]
    return sorted({*behind, *revealed})


def _marked(lines: pl.DataFrame, job: CandidateJob) -> pl.DataFrame:
    """Say of each line whether it is the job's own, another component's, or found work."""
    named = pl.col("components").fill_null([])
    ours = named.list.set_intersection(list(job.renews)).list.len() > 0
    others = named.list.set_difference(list(job.renews)).list.len() > 0
    found = named.list.set_intersection("found").list.len() > 0
    return lines.with_columns(
        ours=ours, others=others, is_found=found & ~ours, follows=pl.col("follow_on").is_not_null()
    )


def _visits_for_the_job(lines: pl.DataFrame) -> pl.DataFrame:
    """Visits whose strip-down is booked to the job and whose lines can be told apart."""
    hours = pl.col("labour_hours").fill_null(0.0)
    told = lines.group_by(VISIT).agg(
        mixed=(pl.col("ours") & pl.col("others")).any(),
        longest=hours.filter("ours").max(),
        longest_other=hours.filter("others").max().fill_null(0.0),
    )
    return told.filter(~pl.col("mixed") & (pl.col("longest") >= pl.col("longest_other")))


def _costs(lines: pl.DataFrame, labour_cost_per_hour: float) -> pl.DataFrame:
    """Each visit's hours and costs, by what the lines are for."""
    hours, cost = pl.col("labour_hours").fill_null(0.0), pl.col("cost_net").fill_null(0.0)
    is_labour = pl.col("kind") == "labour"
    spent = pl.when(is_labour).then(hours * labour_cost_per_hour).otherwise(cost)
    service = is_labour & ~pl.col("ours") & ~pl.col("is_found") & ~pl.col("follows")
    extra = pl.col("kind").is_in(["consumable", "sublet"]) & ~pl.col("follows") & ~pl.col("others")
    found = spent.filter(pl.col("is_found")).sum()
    bought = ~is_labour & (pl.col("is_found") | (extra & ~service.any()))
    return lines.group_by(VISIT).agg(
        labour_hours=hours.filter(is_labour & pl.col("ours")).sum(),
        parts_cost_net=cost.filter((pl.col("kind") == "part") & pl.col("ours")).sum(),
        other_cost_net=pl.when(~service.any()).then(cost.filter(extra).sum()),
        found_cost_net=pl.when(found > 0).then(found),
        found=pl.col("found").first(),
        restated_net=cost.filter(bought & pl.col("restated")).sum(),
        as_paid_net=cost.filter(bought & ~pl.col("restated")).sum(),
    )


def _comebacks(
    records: Records, made: Histories, job: CandidateJob, labour_cost_per_hour: float
) -> pl.DataFrame:
    """What doing it again cost, by the day the part that failed within warranty was fitted."""
    lasted = (pl.col("ended_on") - pl.col("fitted_on")).dt.total_days()
    back = made.fitments.filter(
        (pl.col("origin") == "renewed")
        & pl.col("component").is_in(list(job.renews))
        & (pl.col("ending") == "failure")
        & (lasted <= job.warranty_months / 12 * DAYS_PER_YEAR)
    ).select("vehicle", date="fitted_on", again="ended_on")
    is_labour = pl.col("kind") == "labour"
    cost = pl.col("cost_net")
    spent = pl.when(is_labour).then(pl.col("labour_hours") * labour_cost_per_hour).otherwise(cost)
    named = pl.col("components").fill_null([]).list.set_intersection(list(job.renews))
    bills = records.lines.filter(named.list.len() > 0).join(
        back.select("vehicle", date="again"), on=["vehicle", "date"], how="semi"
    )
    today = at_todays_costs(bills, records.sightings, records.catalogue)
    costs = today.group_by("vehicle", again="date").agg(
        comeback_cost_net=spent.sum(),
        back_restated_net=cost.filter(~is_labour & pl.col("restated")).sum(),
        back_as_paid_net=cost.filter(~is_labour & ~pl.col("restated")).sum(),
    )
    return (
        back.join(costs, on=["vehicle", "again"])
        .group_by("vehicle", "date")
        .agg(pl.col("comeback_cost_net", "back_restated_net", "back_as_paid_net").sum())
    )
