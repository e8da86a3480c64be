"""Which check next, and in what order to mend. Works on arrays only; knows nothing of panels."""

from diagnose.plan.information import Telling, expected_information, group_entropy, rank
from diagnose.plan.lookahead import Outlook, look_ahead
from diagnose.plan.places import Places
from diagnose.plan.repair import RepairPlan, repair_order, repair_plan_with_setup, sequence_cost, worth_trying
from diagnose.plan.strategy import Step, compile_strategy, optimal_strategy, path_of

__all__ = [
    "Outlook",
    "Places",
    "RepairPlan",
    "Step",
    "Telling",
    "compile_strategy",
    "expected_information",
    "group_entropy",
    "look_ahead",
    "optimal_strategy",
    "path_of",
    "rank",
    "repair_order",
    "repair_plan_with_setup",
    "sequence_cost",
    "worth_trying",
]
