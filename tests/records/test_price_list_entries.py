"""What [[price_list]], [[companion_part]] and [fixed_price] get wrong is said in one line."""

from pathlib import Path

import pytest
from drawn import WORKSHOP

from wornby.errors import RecordError
from wornby.records.catalogue_file import read_catalogue

MONEY = """
[money]
labour_price_per_hour = 70.0
labour_cost_per_hour = 40.0
tax_rate = 0.20
target_margin = 0.25
job_loss_risk = 0.1
year_loss_risk = 0.05

[fixed_price]
book_hours_spread = 0.2
prior_weight_jobs = 3
most_hours_over_book = 2.5
found_work_size_net = 180.0
other_version_weight = 0.3
fewest_past_jobs = 5
fewest_jobs_next_year = 2
most_loading_share = 0.15
cancelled_share = 0.04
cancellation_cost_net = 25.0

[[companion_part]]
name = "pump seal"
part_price_net = 6.0
part_cost_net = 3.5

[[price_list]]
in_force_from = 2012-01-01
labour_cost_per_hour = 30.0
part_cost_net = {"water pump" = {genuine = 50.0}}

[[price_list]]
in_force_from = 2018-01-01
labour_cost_per_hour = 40.0
part_cost_net = {"water pump" = {genuine = 80.0}}

[[fixed_price_job]]
name = "water pump"
renews = ["water pump"]
grade = "genuine"
warranty_months = 12
present_price_net = 500.0
companion_parts = ["pump seal"]
"""
PUMP = 'name = "water pump"\n'
COSTS = 'part_cost_net = {genuine = 80.0}\ncompanion_parts = ["pump seal"]\n'
FULL = WORKSHOP.replace(PUMP, PUMP + COSTS, 1) + MONEY


def test_the_lists_are_read_in_their_order(tmp_path: Path) -> None:
    (tmp_path / "workshop.toml").write_text(FULL)
    catalogue = read_catalogue(tmp_path / "workshop.toml")
    assert [p.in_force_from.year for p in catalogue.price_lists] == [2012, 2018]
    assert catalogue.price_lists[0].part_cost_net["water pump"]["genuine"] == 50.0
    assert catalogue.component("water pump").companion_parts == ("pump seal",)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("in_force_from = 2018-01-01", "in_force_from = 2011-01-01", "2012-01-01; put in order"),
        ("in_force_from = 2018-01-01", "in_force_from = 2012-01-01", "2012-01-01; put in order"),
        ("in_force_from = 2018-01-01", "in_force_from = 2021-05-01", "after records_until 2020-12"),
        ("in_force_from = 2018-01-01", 'in_force_from = "2018"', "wanted a date without quotes"),
        ("in_force_from = 2018-01-01\n", "", "price_list number 2: no 'in_force_from'; add it"),
        ("{genuine = 50.0}}", "{genuine = -50.0}}", "wanted a number from 0 up"),
        ("{genuine = 50.0}}", "{genuine = 0}}", "water pump: genuine = 0: wanted above 0"),
        ("{genuine = 50.0}}", '{genuine = "50"}}', "wanted a number"),
        ("{genuine = 50.0}}", "{geniune = 50.0}}", "water pump: no part grade 'geniune'"),
        ('{"water pump" = {genuine = 50.0}}', '{"pump" = {genuine = 50.0}}', "no component 'pump'"),
        ("= 30.0\npart", "= 0\npart", "labour_cost_per_hour = 0: wanted above 0"),
        ("{genuine = 80.0}}", "{genuine = 70.0}}", "70 in the newest list, 80 with the component"),
        ("= 40.0\npart", "= 38.0\npart", "38 in the newest list, 40 under [money]"),
        ("= 30.0\npart", "= 30.0\ninflation = 0.03\npart", "unknown key 'inflation'"),
        ('companion_parts = ["pump seal"]\n', 'companion_parts = ["cap"]\n',
         "component 'water pump': no companion part 'cap'; there are pump seal"),
        ('500.0\ncompanion_parts = ["pump seal"]', '500.0\ncompanion_parts = ["cap"]',
         "fixed-price job 'water pump': no companion part 'cap'"),
        ("part_price_net = 6.0", "part_price_net = -6.0", "part_price_net = -6.0: wanted a number"),
        ("part_cost_net = 3.5\n", "", "(pump seal): no 'part_cost_net'; add it"),
        ("cancelled_share = 0.04", "cancelled_share = 4", "wanted a share from 0 to 1"),
        ("cancelled_share = 0.04", "cancelled_share = 1", "cancelled_share = 1: wanted below 1"),
        ("cancellation_cost_net = 25.0", "cancellation_cost_net = -1", "wanted a number from 0 up"),
        ("[[price_list]]\nin_force_from = 2012-01-01\nlabour_cost_per_hour = 30.0\n"
         'part_cost_net = {"water pump" = {genuine = 50.0}}\n\n'
         "[[price_list]]\nin_force_from = 2018", "[price_list]\nin_force_from = 2018",
         "wanted double brackets, as [[price_list]]"),
        ('grade = "genuine"', 'grade = "shiny"', "'water pump': no part grade 'shiny'"),
        ('renews = ["water pump"]', 'renews = ["pump"]', "'water pump': no component 'pump'"),
    ],
)  # fmt: skip
def test_a_wrong_entry_is_named(tmp_path: Path, old: str, new: str, expected: str) -> None:
    assert old in FULL
    (tmp_path / "workshop.toml").write_text(FULL.replace(old, new, 1))
    with pytest.raises(RecordError) as caught:
        read_catalogue(tmp_path / "workshop.toml")
    assert str(caught.value).startswith("workshop.toml")
    assert expected in str(caught.value)
